"""What can be wrong with a copy, or with making one; each says what to do."""

from keeper.domain.book.refusing import Refused


class Damaged(Refused):
    """The file is not as it was written."""

    def __init__(self, what: str) -> None:
        super().__init__(f"This copy is damaged: {what}. Choose another one.")


class NeedsPassphrase(Refused):
    """The copy is encrypted, and no passphrase was given."""

    def __init__(self) -> None:
        super().__init__("This copy is encrypted. Type the passphrase it was made with.")


class WrongPassphrase(Refused):
    """The passphrase is not the one it was made with, or the file's first bytes are damaged."""

    def __init__(self) -> None:
        super().__init__(
            "That passphrase does not open this copy. Check it; if it is right, the beginning of "
            "the file is damaged: choose another copy."
        )


class TooNew(Refused):
    """A later version of the program has made the copy."""

    def __init__(self, what: str) -> None:
        super().__init__(
            f"A newer version of the program has made this copy ({what}). Start that version and "
            "restore it there."
        )


class NotMade(Refused):
    """No copy could be made."""
