"""What is in an archive, listed in it: `manifest.json`, and what of it is believed on reading."""

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any, TypeVar

from keeper.domain.archives.tables import APP
from keeper.domain.book.refusing import Refused

FORMAT = "keptlines-archive"
VERSION = 1
NAME = "manifest.json"
# A list of half a million pictures is about this large.
LARGEST = 128 * 1024 * 1024

One = TypeVar("One")
_HASH = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Part:
    """One file of an archive: its name there, its size in bytes and its SHA-256."""

    path: str
    bytes: int
    sha256: str


@dataclass(frozen=True)
class TableParts:
    """A table: its rows, twice, and the columns in the JSON."""

    name: str
    rows: int
    columns: tuple[str, ...]
    json: Part
    csv: Part


@dataclass(frozen=True)
class LeftOut:
    """Something of the book that stays behind, and why."""

    what: str
    why: str


@dataclass(frozen=True)
class Manifest:
    """What an archive says of itself.

    Attributes:
        made_at: when, in UTC, ISO 8601.
        program: the version of the program that made it.
        stands_at: the last migration of the book's tables.
        last_entry: the words and the moment of the daybook's last entry, if there is one.
        missing: files that rows name and that were not there when it was made.
    """

    made_at: str
    program: str
    stands_at: str
    last_entry: tuple[str, str] | None
    readme: Part
    tables: tuple[TableParts, ...]
    pictures: tuple[Part, ...]
    missing: tuple[str, ...]
    left_out: tuple[LeftOut, ...]

    def rows(self, table: str) -> int:
        """How many rows a table has; 0 where it is not there."""
        return sum(one.rows for one in self.tables if one.name == table)

    @property
    def parts(self) -> tuple[Part, ...]:
        """Every file of the archive but the manifest."""
        of_tables = (part for one in self.tables for part in (one.csv, one.json))
        return (self.readme, *of_tables, *self.pictures)

    def written(self) -> bytes:
        """Return it as it stands in an archive."""
        whole = {"format": FORMAT, "version": VERSION, "of": APP, **asdict(self)}
        return json.dumps(whole, indent=1, ensure_ascii=False).encode()


def read(text: bytes) -> Manifest:
    """Return the manifest of an archive.

    Raises:
        Refused: it is none, or one of a later format.
    """
    try:
        said = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise damaged("its manifest cannot be read") from error
    if not isinstance(said, dict) or said.get("format") != FORMAT or said.get("of") != APP:
        raise Refused("This is no archive of a book. Choose the file that Keptlines made.")
    if type(said.get("version")) is not int or said["version"] > VERSION:
        raise Refused(
            f"This archive is of format {said.get('version')}, and this Keptlines reads formats "
            f"up to {VERSION}. Take the Keptlines that made it "
            f"({_short(said.get('program'))}), or a newer one."
        )
    try:
        return _manifest(said)
    except (KeyError, TypeError, ValueError) as error:
        raise damaged("its manifest is incomplete") from error


def damaged(what: str) -> Refused:
    """Return the refusal of an archive that is not as it was made."""
    return Refused(
        f"This archive is damaged: {what}. Nothing was taken from it. Take another copy of it, or "
        "make a new one where the book is."
    )


def _manifest(said: Mapping[str, Any]) -> Manifest:
    last = said["last_entry"]
    return Manifest(
        made_at=datetime.fromisoformat(_text(said["made_at"])).isoformat(),
        program=_text(said["program"]),
        stands_at=_text(said["stands_at"]),
        last_entry=None if last is None else _pair(last),
        readme=_part(said["readme"]),
        tables=_listed(said["tables"], _table),
        pictures=_listed(said["pictures"], _part),
        missing=_listed(said["missing"], _text),
        left_out=_listed(
            said["left_out"], lambda one: LeftOut(_text(one["what"]), _text(one["why"]))
        ),
    )


def _table(said: Mapping[str, Any]) -> TableParts:
    columns = _listed(said["columns"], _text)
    if len(set(columns)) != len(columns):
        raise ValueError
    return TableParts(
        name=_text(said["name"]),
        rows=_count(said["rows"]),
        columns=columns,
        json=_part(said["json"]),
        csv=_part(said["csv"]),
    )


def _part(said: Mapping[str, Any]) -> Part:
    found = Part(_text(said["path"]), _count(said["bytes"]), _text(said["sha256"]))
    if not _HASH.fullmatch(found.sha256):
        raise ValueError
    return found


def _listed(said: Any, read_one: Callable[[Any], One]) -> tuple[One, ...]:
    if not isinstance(said, list):
        raise TypeError
    return tuple(read_one(one) for one in said)


def _text(said: Any) -> str:
    if not isinstance(said, str):
        raise TypeError
    said.encode()
    return said


def _pair(said: Any) -> tuple[str, str]:
    what, at = _listed(said, _text)
    return what, datetime.fromisoformat(at).isoformat()


def _count(said: Any) -> int:
    if type(said) is not int or said < 0:
        raise ValueError
    return said


def _short(said: Any) -> str:
    return str(said)[:20] if isinstance(said, str) else "not named"
