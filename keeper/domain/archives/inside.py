"""What an archive holds, looked at before anything of it is taken.

Nothing that a file says is believed: its names, its sizes and its hashes are checked while it is
read piece by piece, so that neither a large nor a wicked file fills memory or leaves its folder.
"""

import json
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import IO, Any
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile

from django.conf import settings
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.operations import RunPython, RunSQL
from django.db.models import NOT_PROVIDED, Field

from keeper.domain.archives import manifest as manifests
from keeper.domain.archives import pictures
from keeper.domain.archives.making import program
from keeper.domain.archives.manifest import Manifest, Part, damaged
from keeper.domain.archives.tables import APP, Table, by_name, column_name
from keeper.domain.book.refusing import Refused
from keeper.serving import files

_PIECE = 1024 * 1024
# A book's tables pack to a twentieth or so. What unpacks to much more was made to fill a disk.
_MOST_PACKED = 200
# A row of a book has some thousands of letters at most, but for what is said in a sheet.
_LONGEST_ROW = 16 * 1024 * 1024
_UNREADABLE = (
    BadZipFile,
    zlib.error,
    EOFError,
    OSError,
    NotImplementedError,
    RuntimeError,
    ValueError,
)


@dataclass(frozen=True)
class Archive:
    """An archive that is whole: every file is there as it was made, and nothing else."""

    path: Path
    manifest: Manifest

    def rows(self, table: Table) -> Iterator[dict[str, Any]]:
        """Yield the rows of a table as they were written.

        Raises:
            Refused: they are not what was listed.
        """
        listed = next((one for one in self.manifest.tables if one.name == table.name), None)
        if listed is None:
            return
        expected, count = set(listed.columns), 0
        for row in self._lines(listed.json.path):
            if row.keys() != expected:
                raise damaged(f"a row of {table.name} has other columns")
            count += 1
            yield row
        if count != listed.rows:
            raise damaged(f"{table.name} has {count} rows and should have {listed.rows}")

    def _lines(self, path: str) -> Iterator[dict[str, Any]]:
        with _opened(self.path) as archive, archive.open(path) as file:
            if file.readline(_LONGEST_ROW) != b"[\n":
                raise damaged(f"{path} is no list")
            while (line := file.readline(_LONGEST_ROW)) not in (b"]\n", b""):
                if line == b"\n":
                    continue
                yield _row(line.rstrip(b",\n"), path)

    def place_pictures(self, placed: pictures.Placed) -> None:
        """Put the pictures where the rows say they are.

        Raises:
            Refused: another file is there already, or one cannot be written.
        """
        for part in self.manifest.pictures:
            name = part.path.removeprefix(pictures.FOLDER)
            with _opened(self.path) as archive, archive.open(part.path) as file:
                _place(placed, name, file, part.sha256)


def _place(placed: pictures.Placed, name: str, file: IO[bytes], sha256: str) -> None:
    try:
        there = placed.put(name, file, sha256)
    except OSError as error:
        raise Refused(
            f"The picture {name} cannot be written: {error.strerror}. Make room, or give this "
            "account the right to write, and open the archive again."
        ) from error
    if not there:
        raise Refused(
            f"Another file is at {name} already. Move the files of the media folder away and open "
            "the archive again."
        )


def look(path: Path) -> Archive:
    """Read an archive to its end, and return it if it is whole and this program can take it.

    Raises:
        Refused: what is wrong with it.
    """
    with _opened(path) as archive:
        found = _manifest(archive)
        _refuse_files(archive, found)
        _refuse_tables(found)
        for part in found.parts:
            _refuse_changed(archive, part)
    return Archive(path, found)


@contextmanager
def _opened(path: Path) -> Iterator[ZipFile]:
    try:
        with ZipFile(path) as archive:
            yield archive
    except Refused:
        raise
    except _UNREADABLE as error:
        raise damaged("it is no ZIP file, or a part of it cannot be unpacked") from error


def _manifest(archive: ZipFile) -> Manifest:
    try:
        info = archive.getinfo(manifests.NAME)
    except KeyError as error:
        raise Refused(
            "This is no archive of a book. Choose the file that Keptlines made."
        ) from error
    if info.file_size > manifests.LARGEST:
        raise damaged("its manifest is too large")
    with archive.open(info) as file:
        return manifests.read(file.read(manifests.LARGEST))


def _refuse_files(archive: ZipFile, found: Manifest) -> None:
    """Refuse names and sizes that are not those listed, or that no archive of ours has."""
    infos = archive.infolist()
    listed = {part.path: part for part in found.parts}
    names = [info.filename for info in infos]
    wanted = listed.keys() | {manifests.NAME}
    if len(listed) != len(found.parts) or len(set(names)) != len(names) or set(names) != wanted:
        odd = sorted(set(names) ^ wanted) or ["a file"]
        raise damaged(f"{odd[0][:80]!r} is missing, too many, or there twice")
    for info in infos:
        if info.flag_bits & 1 or info.compress_type not in (ZIP_STORED, ZIP_DEFLATED):
            raise damaged(f"{info.filename[:80]!r} is locked or packed otherwise")
        if info.filename in listed and info.file_size != listed[info.filename].bytes:
            raise damaged(f"{info.filename[:80]!r} has another size")
    for part in found.pictures:
        if not pictures.is_safe(part.path.removeprefix(pictures.FOLDER)):
            raise damaged(f"{part.path[:80]!r} would leave the folder of pictures")
    size, packed = sum(info.file_size for info in infos), sum(info.compress_size for info in infos)
    if size > _MOST_PACKED * packed + _PIECE:
        raise damaged("it would unpack to more than any book does")
    room = files.room(Path(settings.DATA))
    if room is not None and sum(part.bytes for part in found.pictures) > room:
        raise Refused("There is not room enough for its pictures. Make room on the disk first.")


def _refuse_changed(archive: ZipFile, part: Part) -> None:
    digest = sha256()
    with archive.open(part.path) as file:
        while piece := file.read(_PIECE):
            digest.update(piece)
    if digest.hexdigest() != part.sha256:
        raise damaged(f"{part.path[:80]!r} is not as it was made")


def _refuse_tables(found: Manifest) -> None:
    """Refuse what this program does not know, and what it cannot fill in."""
    later = _migrations_since(found)
    for one in found.tables:
        if one.name not in by_name():
            raise _other_version(found, f"it has a table {one.name[:40]!r} unknown here")
        columns = {column_name(field): field for field in by_name()[one.name].columns}
        if unknown := sorted(set(one.columns) - columns.keys()):
            raise _other_version(found, f"{one.name} has a column {unknown[0][:40]!r} unknown here")
        lacking = sorted(
            name for name in columns.keys() - set(one.columns) if not may_be_filled(columns[name])
        )
        if lacking or (not later and columns.keys() != set(one.columns)):
            raise _other_version(found, f"{one.name} is without some of its columns")
    names = [one.name for one in found.tables]
    if len(set(names)) != len(names) or (not later and set(names) != by_name().keys()):
        raise damaged("a table is missing, or there twice")


def may_be_filled(field: "Field[Any, Any]") -> bool:
    """Whether a column that an older archive lacks has a value of its own."""
    return field.has_default() or field.null or (field.empty_strings_allowed and field.blank)


def value_of_its_own(field: "Field[Any, Any]") -> Any:
    """That value."""
    return field.get_default() if field.default is not NOT_PROVIDED or not field.null else None


def _migrations_since(found: Manifest) -> list[str]:
    """The migrations of this program that an archive was made before.

    Raises:
        Refused: it is newer than the program, or one of them changed what stands in rows.
    """
    loader = MigrationLoader(connection)
    known = sorted(name for app, name in loader.disk_migrations if app == APP)
    if found.stands_at not in known:
        raise _other_version(found, f"its tables stand at {found.stands_at[:60]!r}, unknown here")
    later = known[known.index(found.stands_at) + 1 :]
    for name in later:
        migration = loader.disk_migrations[APP, name]
        runs = any(isinstance(step, RunPython | RunSQL) for step in migration.operations)
        # A migration whose program changes no row that an archive holds says so.
        if runs and getattr(migration, "changes_rows", True):
            raise _other_version(found, f"{name} changed what stands in such rows")
    return later


def _other_version(found: Manifest, why: str) -> Refused:
    return Refused(
        f"This archive is of another version of Keptlines, {found.program[:20]} at "
        f"{found.stands_at[:60]}; this one is {program()}: {why}. Open it with that version, bring "
        "that book up to date, and make a new archive of it."
    )


def _row(line: bytes, path: str) -> dict[str, Any]:
    try:
        row = json.loads(line, parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise damaged(f"a row in {path} cannot be read") from error
    if not isinstance(row, dict):
        raise damaged(f"a row in {path} is none")
    return row


def _no_number(said: str) -> Any:
    raise ValueError(said)
