"""Book → archive: one ZIP file, written as it is read, so that no book is too large for memory."""

import csv
import io
import json
import tomllib
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import cache
from hashlib import sha256
from typing import IO, Any
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

from django.conf import settings
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Field, ForeignKey

from keeper.domain.archives import describing, pictures
from keeper.domain.archives.manifest import NAME, Manifest, Part, TableParts
from keeper.domain.archives.tables import APP, Table, column_name, names_a_table, tables
from keeper.domain.archives.values import to_json
from keeper.domain.book.snapshots import snapshot
from keeper.domain.saying.spreadsheet import guarded
from keeper.models import DaybookEntry

# Rows read at a time, and bytes copied at a time.
_AT_A_TIME = 2000
_PIECE = 1024 * 1024


def make(file: IO[bytes], *, made_at: datetime) -> Manifest:
    """Write the whole book, as it is at one moment, into a file that is open for writing.

    `made_at` stands in the manifest; all else follows from the book alone.
    """
    with snapshot(), ZipFile(file, "w", allowZip64=True) as archive:
        names: _Names = _Names()
        readme = _add(archive, "README.txt", iter([describing.readme().encode()]))
        kept = tuple(_table(archive, table, names) for table in tables())
        taken, missing = _pictures(archive)
        manifest = Manifest(
            made_at=made_at.astimezone(UTC).isoformat(timespec="seconds"),
            program=program(),
            stands_at=stands_at(),
            last_entry=_last_entry(),
            readme=readme,
            tables=kept,
            pictures=taken,
            missing=missing,
            left_out=describing.left_out(),
        )
        _add(archive, NAME, iter([manifest.written()]))
    return manifest


def stands_at() -> str:
    """The last migration of the book's tables."""
    applied = MigrationRecorder(connection).applied_migrations()
    return max((name for app, name in applied if app == APP), default="")


@cache
def program() -> str:
    """The version of this program."""
    text = (settings.ROOT / "pyproject.toml").read_text(encoding="utf-8")
    return str(tomllib.loads(text)["project"]["version"])


def _last_entry() -> tuple[str, str] | None:
    last = DaybookEntry.objects.order_by("-pk").first()
    return None if last is None else (last.what, last.at.astimezone(UTC).isoformat())


def _table(archive: ZipFile, table: Table, names: "_Names") -> TableParts:
    counted = _Counted(table)
    exact = _add(archive, f"tables/{table.name}.json", counted.as_json())
    plain = _add(archive, f"tables/{table.name}.csv", _as_csv(table, names))
    columns = tuple(map(column_name, table.columns))
    return TableParts(table.name, counted.rows, columns, exact, plain)


def _values(table: Table) -> Iterator[tuple[Any, ...]]:
    """Yield the rows of a table by their keys, each value as JSON has it."""
    columns = [field.attname for field in table.columns]
    rows = table.model._base_manager.order_by("pk").values_list(*columns)
    for row in rows.iterator(chunk_size=_AT_A_TIME):
        yield tuple(map(to_json, table.columns, row))


class _Counted:
    """The rows of a table as JSON, and how many there were."""

    def __init__(self, table: Table) -> None:
        self.table, self.rows = table, 0

    def as_json(self) -> Iterator[bytes]:
        """Yield an array with one row a line."""
        names = [column_name(field) for field in self.table.columns]
        yield b"[\n"
        for row in _values(self.table):
            before = b",\n" if self.rows else b""
            self.rows += 1
            written = json.dumps(
                dict(zip(names, row, strict=True)), ensure_ascii=False, allow_nan=False
            )
            yield before + written.encode()
        yield b"\n]\n"


def _as_csv(table: Table, names: "_Names") -> Iterator[bytes]:
    """Yield a table for people: what a column refers to stands beside it in words."""
    heads: list[str] = []
    for field in table.columns:
        heads.append(column_name(field))
        if names.of(field) is not None:
            heads.append(field.name)
    yield b"\xef\xbb\xbf" + _line(heads)
    for row in _values(table):
        cells: list[Any] = []
        for field, value in zip(table.columns, row, strict=True):
            cells.append(json.dumps(value) if isinstance(value, dict | list) else value)
            if (named := names.of(field)) is not None:
                cells.append(named.get(value, ""))
        yield _line(cells)


def _line(cells: list[Any]) -> bytes:
    written = io.StringIO()
    csv.writer(written).writerow([guarded(cell) for cell in cells])
    return written.getvalue().encode()


class _Names:
    """What the rows of other tables are called: their codes, else names; read once each."""

    def __init__(self) -> None:
        self._read: dict[type[Any], dict[Any, str] | None] = {}

    def of(self, field: "Field[Any, Any]") -> dict[Any, str] | None:
        """Key → what its row is called, of the table a column refers to; None of one without."""
        if not isinstance(field, ForeignKey) or names_a_table(field):
            return None
        model = field.related_model
        if model not in self._read:
            own = {one.name for one in model._meta.concrete_fields}
            called = next((one for one in ("code", "name") if one in own), None)
            rows = model._base_manager.order_by().values_list("pk", called) if called else None
            self._read[model] = None if rows is None else {pk: str(one) for pk, one in rows}
        return self._read[model]


def _pictures(archive: ZipFile) -> tuple[tuple[Part, ...], tuple[str, ...]]:
    """Add every file that a row names; return them, and the names of those that are not there."""
    taken, missing = [], []
    for name in pictures.named():
        try:
            file = pictures.opened(name)
        except (FileNotFoundError, ValueError):
            missing.append(name)
            continue
        with file:
            taken.append(_add(archive, pictures.FOLDER + name, _pieces(file), packed=False))
    return tuple(taken), tuple(missing)


def _pieces(file: IO[bytes]) -> Iterator[bytes]:
    while piece := file.read(_PIECE):
        yield piece


def _add(archive: ZipFile, name: str, pieces: Iterator[bytes], *, packed: bool = True) -> Part:
    """Write one file of the archive piece by piece; return its size and hash."""
    info = ZipInfo(name)  # of no day: the same book gives the same bytes
    info.compress_type = ZIP_DEFLATED if packed else ZIP_STORED
    info.external_attr = 0o600 << 16
    size, digest = 0, sha256()
    with archive.open(info, "w", force_zip64=True) as into:
        for piece in pieces:
            into.write(piece)
            digest.update(piece)
            size += len(piece)
    return Part(name, size, digest.hexdigest())
