"""A copy of the book as one file: a zip archive that any program opens.

It holds `book.sqlite3` or `book.pgdump`, the pictures and scans under `media/`, and
`manifest.json`, which says what the copy is and names every other part with its size and SHA-256.
The comment at the archive's end, 64 letters, is the SHA-256 of all bytes before it: so every byte
of the file is covered, also those that a program for zip archives passes over.
"""

import hashlib
import json
import zipfile
import zlib
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, Any

from keeper.domain.backups.troubles import Damaged, TooNew

FORMAT = 1
MANIFEST, MEDIA = "manifest.json", "media/"
DATABASES = {"sqlite": "book.sqlite3", "postgresql": "book.pgdump"}
# How a file is opened that goes into an archive, once it is its turn.
Opening = Callable[[], AbstractContextManager[IO[bytes]]]
_AT_ONCE = 1024 * 1024
_DIGEST = 64
# A day that every zip archive can say: when a copy was made stands in its manifest.
_NO_DAY = (1980, 1, 1, 0, 0, 0)
_UNREADABLE = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError)
_NOT_IN_IT = (
    "The keys that sign sessions, the certificates and the passphrase are not in this copy."
)
_IN_IT = (
    "Accounts are, with their passwords in scrambled form: whoever has it can try to guess them."
)


@dataclass(frozen=True)
class Part:
    """One file in the archive: its name there, its size in bytes, its SHA-256."""

    name: str
    size: int
    sha256: str


@dataclass(frozen=True)
class Manifest:
    """What a copy says of itself.

    Attributes:
        made_at: when the database was copied.
        why: "on schedule", "by hand", or before what.
        database: "sqlite" or "postgresql".
        migrations: those of the book that the database has had.
        epoch: of the book; empty if it is older than epochs.
        last_entry: the number of the last entry of the daybook, or None.
        last_entry_at: when that was written.
        rows: how many rows each table has.
        parts: all files but the manifest; the database first.
    """

    made_at: datetime
    why: str
    database: str
    migrations: tuple[str, ...]
    epoch: str
    last_entry: int | None
    last_entry_at: datetime | None
    rows: dict[str, int]
    parts: tuple[Part, ...]

    def count(self, table: str) -> int:
        """How many rows a table of the book has."""
        return self.rows.get(f"keeper_{table}", 0)

    @property
    def animals(self) -> int:
        """How many animals it holds, withdrawn ones among them."""
        return self.count("animal")

    @property
    def clutches(self) -> int:
        """How many clutches."""
        return self.count("clutch")

    @property
    def entries(self) -> int:
        """How many entries of the daybook."""
        return self.count("daybookentry")

    @property
    def sheets(self) -> int:
        """How many sale sheets."""
        return self.count("sheet")

    @property
    def pictures(self) -> int:
        """How many pictures and scans."""
        return sum(one.name.startswith(MEDIA) for one in self.parts)

    @property
    def size(self) -> int:
        """Bytes of all parts together."""
        return sum(one.size for one in self.parts)

    def as_json(self) -> str:
        """Return the text of `manifest.json`."""
        said = asdict(self) | {
            "format": FORMAT,
            "made_at": self.made_at.isoformat(),
            "last_entry_at": self.last_entry_at.isoformat() if self.last_entry_at else None,
            "in_it": _IN_IT,
            "not_in_it": _NOT_IN_IT,
        }
        return json.dumps(said, indent=1, sort_keys=True)


def read_manifest(text: bytes) -> Manifest:
    """Read `manifest.json`.

    Raises:
        Damaged: it says not what one says.
        TooNew: a later version has written it.
    """
    try:
        said: dict[str, Any] = json.loads(text)
        if int(said["format"]) > FORMAT:
            raise TooNew(f"format {int(said['format'])}")
        if said["database"] not in DATABASES:
            raise ValueError(said["database"])
        last_at = said["last_entry_at"]
        return Manifest(
            made_at=datetime.fromisoformat(said["made_at"]),
            why=str(said["why"]),
            database=str(said["database"]),
            migrations=tuple(str(one) for one in said["migrations"]),
            epoch=str(said["epoch"]),
            last_entry=None if said["last_entry"] is None else int(said["last_entry"]),
            last_entry_at=datetime.fromisoformat(last_at) if last_at else None,
            rows={str(table): int(count) for table, count in said["rows"].items()},
            parts=tuple(
                Part(str(one["name"]), int(one["size"]), str(one["sha256"]))
                for one in said["parts"]
            ),
        )
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise Damaged("its manifest cannot be read") from error


def write(target: Path, manifest: Manifest, files: Iterable[tuple[str, Opening]]) -> Manifest:
    """Write an archive of files, each with its name in it; the manifest's parts are made here.

    Returns the manifest as written. Raises `OSError` if something cannot be read or written.
    """
    parts = []
    with zipfile.ZipFile(target, "w", allowZip64=True) as archive:
        for name, opening in files:
            # Pictures are as small as they get.
            archive.compression = (
                zipfile.ZIP_STORED if name.startswith(MEDIA) else zipfile.ZIP_DEFLATED
            )
            with opening() as source:
                parts.append(_add(archive, name, source))
        whole = Manifest(**{**vars(manifest), "parts": tuple(parts)})
        about = zipfile.ZipInfo(MANIFEST, _NO_DAY)
        about.external_attr = 0o600 << 16
        archive.writestr(about, whole.as_json(), zipfile.ZIP_DEFLATED)
        archive.comment = b"0" * _DIGEST
    with target.open("r+b") as file:
        digest = _digest(file, target.stat().st_size - _DIGEST)
        file.seek(-_DIGEST, 2)
        file.write(digest.encode("ascii"))
    return whole


def on_disk(path: Path) -> Opening:
    """Return how a file on the disk is opened."""
    return lambda: path.open("rb")


def _add(archive: zipfile.ZipFile, name: str, source: IO[bytes]) -> Part:
    about = zipfile.ZipInfo(name, _NO_DAY)
    about.external_attr = 0o600 << 16
    about.compress_type = archive.compression
    seen, size = hashlib.sha256(), 0
    with archive.open(about, "w", force_zip64=True) as target:
        while block := source.read(_AT_ONCE):
            seen.update(block)
            size += len(block)
            target.write(block)
    return Part(name, size, seen.hexdigest())


def check_whole(path: Path) -> None:
    """Check that every byte is as it was written.

    Raises:
        Damaged: one is not, or it is no copy of a book.
        OSError: it cannot be read.
    """
    length = path.stat().st_size - _DIGEST
    if length < _DIGEST:
        raise Damaged("it is too short")
    with path.open("rb") as file:
        found = _digest(file, length)
        said = file.read(_DIGEST)
    if found.encode("ascii") != said:
        raise Damaged("its bytes are not those that were written, or it is no copy of a book")


def _digest(file: IO[bytes], length: int) -> str:
    """SHA-256 of so many bytes from the beginning on; the file then stands behind them."""
    file.seek(0)
    seen = hashlib.sha256()
    while length > 0 and (block := file.read(min(length, _AT_ONCE))):
        seen.update(block)
        length -= len(block)
    return seen.hexdigest()


def manifest_of(path: Path) -> Manifest:
    """Return what an archive says of itself, after every byte of it was checked.

    Raises:
        Damaged: it is not as it was written.
        TooNew: a later version has written it.
        OSError: it cannot be read.
    """
    check_whole(path)
    try:
        with zipfile.ZipFile(path) as archive:
            manifest = read_manifest(archive.read(MANIFEST))
            names = sorted(archive.namelist())
    except (*_UNREADABLE, KeyError) as error:
        raise Damaged("it is no archive of a book") from error
    listed = [one.name for one in manifest.parts]
    if sorted([MANIFEST, *listed]) != names or not all(map(_is_ours, listed)):
        raise Damaged("it holds other files than its manifest names")
    if listed.count(DATABASES[manifest.database]) != 1:
        raise Damaged("it holds no database")
    return manifest


def unpack(path: Path, manifest: Manifest, folder: Path) -> Path:
    """Write all parts into a folder, each checked on the way; return the path of the database.

    Raises:
        Damaged: a part is not what the manifest says.
        OSError: something cannot be read or written.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            for part in manifest.parts:
                target = folder / part.name
                target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
                with archive.open(part.name) as source, target.open("wb") as file:
                    _unpack_one(part, source, file)
    except (*_UNREADABLE, KeyError) as error:
        raise Damaged("a part of it cannot be read") from error
    return folder / DATABASES[manifest.database]


def _unpack_one(part: Part, source: IO[bytes], target: IO[bytes]) -> None:
    seen, size = hashlib.sha256(), 0
    while block := source.read(_AT_ONCE):
        size += len(block)
        if size > part.size:
            break
        seen.update(block)
        target.write(block)
    if size != part.size or seen.hexdigest() != part.sha256:
        raise Damaged(f"{part.name} is not as it was written")


def _is_ours(name: str) -> bool:
    """Whether a name is one of ours, and leads nowhere but into the folder it is written to."""
    if name in DATABASES.values():
        return True
    steps = name.split("/")
    plain = all(step not in ("", ".", "..") and not set(step) & set("\\:\0") for step in steps)
    return name.startswith(MEDIA) and plain
