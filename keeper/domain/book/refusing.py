"""What the book does not do, said in words for whoever asked."""


class Refused(Exception):
    """Something that cannot be done as the book stands; the message says why and what to do."""


class NothingChanged(Refused):
    """An entry that would have written nothing."""

    def __init__(self) -> None:
        super().__init__("Nothing was changed, so nothing was written.")
