"""What to prove as a table."""

from collections.abc import Iterable

from keeper.domain.saying.spreadsheet import Cell
from keeper.domain.saying.wording import said
from keeper.pages.frame.files import Table
from keeper.pages.proving.page import ProvingRow

_HEADS = (
    *("Code", "Trait", "Line", "In words", "Best mate", "Settled this season"),
    *(
        "Hatchlings that settle it",
        "Kinship",
        "Beware",
        "Why",
        "On its sheet",
        "Or by a laboratory",
    ),
)


def proving_table(rows: Iterable[ProvingRow]) -> Table:
    """Return the tests as they are listed."""
    return _HEADS, map(_row, rows)


def _row(row: ProvingRow) -> list[Cell]:
    standing, best = row.standing, row.best
    with_best = (
        ("", "", "", "", "")
        if best is None
        else (best.mate.code, best.settled, best.needed, best.kinship, best.cautions)
    )
    return [
        *(standing.animal.code, standing.trait.name, standing.line.label if standing.line else ""),
        said(standing).words,
        *with_best,
        *(row.reasons, row.sheet, row.laboratories),
    ]
