"""The files that rows name, pictures above all: in a folder, or in a store of objects.

Whoever copies, restores, archives or erases asks here, so that it is the same wherever they lie.
Where it says a name it is that of a row: `photos/2026/F-014.jpg`.
"""

import hashlib
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any
from urllib.parse import urlsplit

from django.core.files import File
from django.core.files.storage import FileSystemStorage, default_storage

_AT_ONCE = 1024 * 1024
# Of a file that is read so much is held in memory, the rest on the disk.
_IN_MEMORY = 8 * 1024 * 1024
_SCHEME = "s3://"
_HOW = "Write a folder, or s3://BUCKET/PREFIX."


class Unreachable(OSError):
    """The store of objects does not answer, or does not let us in."""


def chosen(given: str, usual: Path) -> tuple[Path, dict[str, Any]]:
    """Read where files lie: return a folder, and the storage as Django's settings have it.

    Raises:
        ValueError: it cannot be there; what to write instead.
    """
    if "://" not in given:
        folder = Path(given) if given else usual
        return folder, {"BACKEND": "django.core.files.storage.FileSystemStorage"}
    try:
        parts = urlsplit(given)
        bucket, plain = parts.netloc, not (parts.query or parts.fragment)
    except ValueError:
        bucket, plain = "", False
    if not given.startswith(_SCHEME) or not plain:
        raise ValueError(f"is {given!r}, which is no place that is known here. {_HOW}")
    if not bucket or "@" in bucket or ":" in bucket:
        raise ValueError(
            f"names no bucket. {_HOW} Keys and the store's address are read from the variables "
            "that its library reads: AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY, AWS_ENDPOINT_URL_S3."
        )
    options: dict[str, Any] = {
        "bucket_name": bucket,
        "location": parts.path.strip("/"),
        "default_acl": None,
    }
    options |= {"file_overwrite": False, "max_memory_size": _IN_MEMORY}
    return usual, {"BACKEND": "keeper.serving.object_store.ObjectStore", "OPTIONS": options}


def folder() -> Path | None:
    """Return the folder that files lie in; None: they lie in none."""
    return (
        Path(default_storage.path("")) if isinstance(default_storage, FileSystemStorage) else None
    )


def names() -> Iterator[str]:
    """Yield the name of every file there is, whether a row names it or not, in order."""
    root = folder()
    if root is None:
        yield from sorted(_stored(""))
        return
    for path in sorted(root.rglob("*")):
        if path.is_file() and not path.is_symlink():
            yield path.relative_to(root).as_posix()


def _stored(under: str) -> Iterator[str]:
    folders, files = default_storage.listdir(under)
    before = f"{under}/" if under else ""
    yield from (before + one for one in files if one)
    for one in folders:
        yield from _stored(before + one)


def opened(name: str) -> "File[bytes]":
    """Open a file to be read piece by piece.

    Raises:
        FileNotFoundError: there is none of that name.
        OSError: it cannot be read.
    """
    return default_storage.open(name)


def is_there(name: str) -> bool:
    """Whether there is a file of that name."""
    return bool(default_storage.exists(name))


def put(name: str, source: IO[bytes]) -> None:
    """Keep a file under just this name.

    Raises:
        FileExistsError: there is one already.
        OSError: it cannot be written.
    """
    if is_there(name):
        raise FileExistsError(name)
    kept = default_storage.save(name, File(source, name=name))
    if kept != name:  # somebody was quicker
        default_storage.delete(kept)
        raise FileExistsError(name)


def move(name: str, to: str) -> None:
    """Give a file another name, at which nothing is kept; what was there goes. Raises `OSError`."""
    default_storage.delete(to)
    with opened(name) as file:
        put(to, file)
    default_storage.delete(name)


def delete(name: str) -> None:
    """Take a file away, if there is one."""
    default_storage.delete(name)


def digest(name: str) -> str:
    """Return the SHA-256 of a file; raises as `opened` does."""
    seen = hashlib.sha256()
    with opened(name) as file:
        while block := file.read(_AT_ONCE):
            seen.update(block)
    return seen.hexdigest()


def room(instead: Path) -> int | None:
    """Return how many bytes more there is room for; None: nobody can tell."""
    root = folder()
    if root is None:
        return None
    there = next((one for one in (root, *root.parents) if one.exists()), instead)
    return shutil.disk_usage(there).free
