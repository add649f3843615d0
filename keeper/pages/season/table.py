"""A season's pairings as tables: those worked out, and those planned."""

from keeper.pages.frame.files import Table
from keeper.pages.season.page import SeasonPage, planned_rows

_BEST = ("Dam", "Sire", "Worth", "Kinship", "Why", "Beware", "Fixed")
_PLANNED = ("Season", "Dam", "Sire", "Why", "Clutch", "Laid on")


def season_table(page: SeasonPage | None) -> Table:
    """Return the best pairs where they were worked out, else what is planned."""
    return _planned() if page is None else _best(page)


def _best(page: SeasonPage) -> Table:
    return _BEST, (
        [
            *(row.one.dam.code, row.one.sire.code, row.worth, row.one.kinship),
            *("; ".join(row.one.reasons), "; ".join(row.one.warnings)),
            "fixed" if row.one.fixed else "",
        ]
        for row in page.rows
    )


def _planned() -> Table:
    return _PLANNED, (
        [
            *(row.pairing.season, row.pairing.dam.code, row.pairing.sire.code),
            row.pairing.reason,
            row.clutch.code if row.clutch else "",
            row.clutch.laid_on.isoformat() if row.clutch and row.clutch.laid_on else "",
        ]
        for row in planned_rows()
    )
