"""The daybook as a table."""

from collections.abc import Iterator

from django.db.models import QuerySet
from django.utils import timezone

from keeper.domain.saying.spreadsheet import Cell
from keeper.models import DaybookEntry
from keeper.pages.frame.files import Table

_HEADS = ("When", "Who", "What", "Why", "Insisted on", "Of the day", "Animals moved", "Undone")
# Entries read at a time.
_AT_A_TIME = 500


def daybook_table(entries: QuerySet[DaybookEntry]) -> Table:
    """Return the entries as they are listed, each with how many animals it moved."""
    return _HEADS, _rows(entries)


def _rows(entries: QuerySet[DaybookEntry]) -> Iterator[list[Cell]]:
    for one in entries.iterator(chunk_size=_AT_A_TIME):
        yield [
            timezone.localtime(one.at).isoformat(sep=" ", timespec="minutes"),
            one.by.name if one.by else "the program",
            *(one.told, one.why, one.insisted_told, one.day.isoformat() if one.day else ""),
            getattr(one, "moved", None),
            "undone" if one.undone_by_id else "",
        ]
