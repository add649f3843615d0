"""What the book does not do, said in words for whoever asked."""


class Refused(Exception):
    """Something that cannot be done as the book stands; the message says why and what to do."""


class Questioned(Refused):
    """Something that looks odd and was not insisted on; the message asks all of it."""


class NothingChanged(Refused):
    """An entry that would have written nothing."""

    def __init__(self) -> None:
        super().__init__("Nothing was changed, so nothing was written.")


def sentence(words: str) -> str:
    """Return words that begin as a sentence does, whatever they begin with."""
    return words[:1].upper() + words[1:]
