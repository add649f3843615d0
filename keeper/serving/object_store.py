"""Files in a store of objects, by `django-storages`; chosen by `KEPTLINES_PICTURES=s3://…`.

They are handed out by the book alone, as from a folder: no address of the store reaches a browser.
Whatever the store's library raises is an `OSError` here, so that it is told as a disk's trouble is.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import PurePosixPath
from typing import Any

from botocore.exceptions import BotoCoreError, ClientError
from django.core.files.base import File
from django.utils.crypto import get_random_string
from storages.backends.s3 import S3Storage

from keeper.serving.files import Unreachable

_LETTERS = 12


@contextmanager
def _telling() -> Iterator[None]:
    try:
        yield
    except (BotoCoreError, ClientError) as error:
        raise Unreachable(f"the store of pictures: {error}") from error


def _told(act: Callable[..., Any]) -> Callable[..., Any]:
    def told(*args: Any, **options: Any) -> Any:
        with _telling():
            return act(*args, **options)

    return told


class ObjectStore(S3Storage):  # type: ignore[misc]  # its library has no types
    """One bucket, or what lies in it under a prefix."""

    delete = _told(S3Storage.delete)
    exists = _told(S3Storage.exists)
    listdir = _told(S3Storage.listdir)
    size = _told(S3Storage.size)

    def get_alternative_name(self, file_root: str, file_ext: str) -> str:
        """Return a name that nobody else takes at the same moment: a store would overwrite."""
        return f"{file_root}_{get_random_string(_LETTERS)}{file_ext}"

    def generate_filename(self, filename: str) -> str:
        """Return the name of what is sent in: always with letters of its own."""
        made = PurePosixPath(super().generate_filename(filename))
        own = self.get_alternative_name(made.stem, made.suffix)
        return made.with_name(own).as_posix()

    def _open(self, name: str, mode: str = "rb") -> "File[bytes]":
        with _telling():
            found: File[bytes] = super()._open(name, mode)
            # Fetched here, to the disk where it is large, and not at the first reading.
            _ = found.file
            return found

    def _save(self, name: str, content: "File[bytes]") -> str:
        with _telling():
            return str(super()._save(name, content))
