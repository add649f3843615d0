"""A file's bytes as sheets of texts. Nothing is opened before its size is known to be bearable."""

import json
import subprocess
import sys
import tempfile
import zipfile
import zlib
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Any

from keeper.domain.book.refusing import Refused
from keeper.domain.imports.tables import plain
from keeper.domain.saying.counts import how_many
from keeper.models.plain_text import visible

LARGEST = 20 * 1024 * 1024
MOST_ROWS, MOST_COLUMNS = 20_000, 200
LONGEST = 2_000
# Of what a workbook unpacks to: in bytes, in files, and against what it was packed in.
_UNPACKED = 400 * 1024 * 1024
_PARTS = 5_000
_RATIO = 400
_SLOWEST = 90
_ZIP, _OLE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
_PASSWORD = "EncryptedPackage".encode("utf-16-le")

_LOCKED = "This workbook is protected by a password. Save it without one, and choose that file."
_DAMAGED = (
    "This workbook cannot be opened: it is damaged, or none. Open it in the program that made it, "
    "save it anew as xlsx, ods or csv, and choose that file."
)
_SWOLLEN = (
    "This workbook unpacks to more than can be read here. Copy the sheet with the animals into a "
    "new workbook, and choose that file."
)


@dataclass(frozen=True)
class Sheet:
    """One sheet of a file, as texts, and the names of all.

    Attributes:
        notes: what was taken for granted in reading it, in sentences.
    """

    names: list[str]
    name: str
    rows: list[list[str]]
    notes: list[str] = field(default_factory=list)


def read(data: bytes, sheet: str = "") -> Sheet:
    """Return a sheet of a file; no name: the first that has something in it.

    Raises:
        Refused: it cannot be read as a table, with what to do.
    """
    if len(data) > LARGEST:
        raise Refused(
            f"This file is larger than {LARGEST // 1024**2} MB. Copy the sheet with the animals "
            "into a file of its own, without pictures, and choose that."
        )
    if not data.strip():
        raise Refused("This file is empty. Choose the one with your animals in it.")
    if data.startswith(_ZIP):
        _refuse_swollen(data)
        found = _workbook(data, ".xlsx" if b"[Content_Types].xml" in data else ".ods", sheet)
    elif data.startswith(_OLE):
        if _PASSWORD in data:
            raise Refused(_LOCKED)
        found = _workbook(data, ".xls", sheet)
    else:
        rows, notes = plain.read(data, most_rows=MOST_ROWS)
        found = Sheet([], "", rows, notes)
    return _trimmed(found)


def _refuse_swollen(data: bytes) -> None:
    """Refuse an archive by what it says it holds, and by what it really unpacks to."""
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            parts = archive.infolist()
            if any(one.flag_bits & 1 for one in parts):
                raise Refused(_LOCKED)
            if len(parts) > _PARTS or sum(one.file_size for one in parts) > _UNPACKED:
                raise Refused(_SWOLLEN)
            if any(one.file_size > 1024**2 and one.file_size > _RATIO * one.compress_size
                   for one in parts):  # fmt: skip
                raise Refused(_SWOLLEN)
            left = _UNPACKED
            for one in parts:
                with archive.open(one) as part:
                    while piece := part.read(1024 * 1024):
                        left -= len(piece)
                        if left < 0:
                            raise Refused(_SWOLLEN)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, NotImplementedError,
            RuntimeError) as error:  # fmt: skip
        raise Refused(_DAMAGED) from error


def _workbook(data: bytes, ending: str, sheet: str) -> Sheet:
    """Open a workbook in a process of its own."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"table{ending}"
        path.write_bytes(data)
        opening = str(Path(__file__).with_name("opening.py"))
        most = str(MOST_ROWS), str(MOST_COLUMNS)
        try:
            done = subprocess.run(
                [sys.executable, "-P", opening, str(path), sheet, *most],
                capture_output=True,
                check=False,
                timeout=_SLOWEST,
            )
            answer: dict[str, Any] = json.loads(done.stdout) if done.returncode == 0 else {}
        except (subprocess.TimeoutExpired, ValueError):
            answer = {}
    if not answer:
        raise Refused(
            "This workbook cannot be opened: it is damaged, or a cell far outside the table makes "
            "it too large. Copy the table alone into a new workbook, and choose that file."
        )
    _refuse_wrong(answer)
    notes = []
    if merged := answer["merged"]:
        notes.append(
            f"{how_many(merged, 'group')} of merged cells: each of their cells is taken as holding "
            "what the group says."
        )
    return Sheet(answer["sheets"], answer["sheet"], answer["rows"], notes)


def _refuse_wrong(answer: dict[str, Any]) -> None:
    match answer.get("wrong"):
        case None:
            return
        case "password":
            raise Refused(_LOCKED)
        case "large":
            rows, columns = answer["size"]
            if rows > MOST_ROWS:
                raise Refused(plain.too_long(f"{rows:,}", MOST_ROWS))
            raise Refused(_too_wide(columns))
        case "swollen":
            raise Refused(_SWOLLEN)
        case "empty":
            raise Refused("This workbook has no sheet. Choose the one with your animals in it.")
        case _:
            raise Refused(_DAMAGED)


def _too_wide(columns: int) -> str:
    return (
        f"This table has {columns:,} columns, and {MOST_COLUMNS} are read. Copy those that are "
        "about animals into a file of their own, and choose that."
    )


def _trimmed(sheet: Sheet) -> Sheet:
    """Leave out empty rows at the end and empty columns at the right, and make rows as wide.

    Raises:
        Refused: nothing is left, or too much.
    """
    rows, cut = [], 0
    for row in sheet.rows:
        cells = []
        for cell in row:
            cut += len(cell) > LONGEST
            cells.append(" ".join(readable(cell[:LONGEST]).split()))
        rows.append(cells)
    while rows and not any(rows[-1]):
        rows.pop()
    width = max((place + 1 for row in rows for place, cell in enumerate(row) if cell), default=0)
    if not width:
        raise Refused("There is nothing in this sheet. Choose another, or another file.")
    if width > MOST_COLUMNS:
        raise Refused(_too_wide(width))
    if len(rows) > MOST_ROWS:
        raise Refused(plain.too_long(f"{len(rows):,}", MOST_ROWS))
    notes = list(sheet.notes)
    if cut:
        notes.append(
            f"{how_many(cut, 'cell')} longer than {LONGEST:,} letters: only so much was read."
        )
    wide = [(row + [""] * width)[:width] for row in rows]
    return Sheet(sheet.names, sheet.name, wide, notes)


def readable(text: str) -> str:
    """Return a text without controls, and without signs that turn the direction of writing."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        one for one in visible(text).replace("\0", "") if one in "\n\t " or one.isprintable()
    )
