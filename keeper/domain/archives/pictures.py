"""Files that rows name: which they are, what they may be called, and how they are placed."""

import shutil
from collections.abc import Iterator
from hashlib import file_digest
from pathlib import Path, PurePosixPath
from typing import IO, cast

from django.conf import settings

from keeper.domain.archives.tables import tables
from keeper.serving import files

FOLDER = "pictures/"
# What means something else in the names of one system or another.
_NEVER = frozenset('\\:<>"|?*')


def named() -> Iterator[str]:
    """Yield the name of every file that a row names, once each, in order."""
    found: set[str] = set()
    for table in tables():
        for column in table.of_files:
            rows = table.model._base_manager.exclude(**{column: ""}).exclude(**{column: None})
            found |= set(rows.order_by().values_list(column, flat=True).distinct())
    yield from sorted(found)


def is_safe(name: str) -> bool:
    """Whether a file of this name lies in the media folder, whatever the system.

    >>> [is_safe(one) for one in ("photos/2026/a.jpg", "../a", "/a", "a/../b", "c:a", "a\\\\b", "")]
    [True, False, False, False, False, False, False]
    """
    path = PurePosixPath(name)
    return (
        name.isprintable()
        and _NEVER.isdisjoint(name)
        and str(path) == name
        and not path.is_absolute()
        and not {"..", "."} & set(path.parts)
        and len(name) <= 200
    )


def opened(name: str) -> IO[bytes]:
    """Open the file that a row names, which lies among the media for certain.

    Raises:
        ValueError: it would lie elsewhere.
        FileNotFoundError: it is not there.
    """
    root = files.folder()
    if root is not None:
        return _place_of(name, root).open("rb")
    if not is_safe(name):
        raise ValueError(name)
    return cast(IO[bytes], files.opened(name))


def _place_of(name: str, root: Path) -> Path:
    """Return where in the media folder a file of this name is.

    Raises:
        ValueError: it would be elsewhere.
    """
    root = root.resolve()
    path = (root / name).resolve()
    if not is_safe(name) or not path.is_relative_to(root):
        raise ValueError(name)
    return path


class Placed:
    """Files put among the media, which are taken out again unless all of it is kept."""

    def __init__(self) -> None:
        self._files: list[Path] = []
        self._folders: list[Path] = []
        self._stored: list[str] = []

    def put(self, name: str, source: IO[bytes], sha256: str) -> bool:
        """Write a file; return whether it is there now, as it should be.

        One that is there already is left alone, and must be the same.
        """
        root = files.folder()
        if root is None:
            return self._store(name, source, sha256)
        path = _place_of(name, root)
        self._folder(path.parent)
        try:
            with path.open("xb") as file:
                self._files.append(path)
                path.chmod(settings.FILE_UPLOAD_PERMISSIONS or 0o600)
                shutil.copyfileobj(source, file)
        except FileExistsError:
            with path.open("rb") as file:
                return file_digest(file, "sha256").hexdigest() == sha256
        return True

    def take_out(self) -> None:
        """Remove what was put, and the folders that were made for it."""
        for name in self._stored:
            files.delete(name)
        for file in self._files:
            file.unlink(missing_ok=True)
        for folder in reversed(self._folders):
            if not any(folder.iterdir()):
                folder.rmdir()

    def _store(self, name: str, source: IO[bytes], sha256: str) -> bool:
        if not is_safe(name):
            raise ValueError(name)
        try:
            files.put(name, source)
        except FileExistsError:
            return files.digest(name) == sha256
        self._stored.append(name)
        return True

    def _folder(self, folder: Path) -> None:
        missing = [one for one in (folder, *folder.parents) if not one.exists()]
        for one in reversed(missing):
            one.mkdir(mode=0o700)
            self._folders.append(one)
