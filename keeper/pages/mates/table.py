"""Mates as a table."""

from collections.abc import Iterable

from keeper.domain.saying.spreadsheet import Cell
from keeper.pages.frame.files import Table
from keeper.pages.mates.rows import MateRow, Side

_HEADS = (
    *("Mate", "Name", "Sex", "What the two give", "What can be seen", "What it would prove"),
    *("Why", "Beware", "Kinship", "Old enough from"),
)


def mates_table(sides: Iterable[Side]) -> Table:
    """Return the mates as they are ranked, those too young yet at the end of each sex."""
    return _HEADS, (_row(row) for side in sides for row in (*side.rows, *side.young))


def _row(row: MateRow) -> list[Cell]:
    return [
        *(row.animal.code, row.animal.name, row.animal.get_sex_display()),
        *(" ".join(row.odds), row.looks, " ".join(row.proves), row.reason),
        " ".join(f"{one.head} {one.text}" for one in row.warned),
        row.kinship,
        row.ready.isoformat() if row.ready else "",
    ]
