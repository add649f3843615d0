"""The laboratories as a table."""

from keeper.domain.saying.spreadsheet import Cell
from keeper.pages.frame.files import Table
from keeper.pages.laboratories.page import Listed, listed

_HEADS = ("Name", "Misses", "Mistakes", "Says who", "Results")


def laboratories_table() -> Table:
    """Return the laboratories with their rates as they were typed."""
    return _HEADS, map(_row, listed())


def _row(one: Listed) -> list[Cell]:
    of = one.laboratory
    return [of.name, one.misses, one.mistakes, of.rates_source, one.counted]
