"""The archive that somebody sent and has not opened yet: one at a time, beside the book."""

import os
from collections.abc import Iterable
from hashlib import file_digest
from pathlib import Path

from django.conf import settings

from keeper.domain.book.refusing import Refused


def waiting() -> Path | None:
    """Return where it is, if there is one."""
    path = _place()
    return path if path.is_file() else None


def keep_waiting(pieces: Iterable[bytes]) -> Path:
    """Keep what was sent, in place of what was sent before, and return where.

    Raises:
        Refused: there is no room for it.
    """
    path = _place()
    forget()
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "wb") as file:
            for piece in pieces:
                file.write(piece)
    except OSError as error:
        forget()
        raise Refused(
            f"The archive cannot be kept here: {error.strerror}. Make room, and send it again."
        ) from error
    return path


def digest(path: Path) -> str:
    """Return the SHA-256 of what waits, by which it is known that nobody sent another meanwhile."""
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()


def forget() -> None:
    """Remove what waits."""
    _place().unlink(missing_ok=True)


def _place() -> Path:
    return Path(settings.DATA) / "archive-to-open.zip"
