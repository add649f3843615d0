"""The lines of a look compared, as a table."""

from keeper.pages.frame.files import Table
from keeper.pages.lines.page import LinesPage

_HEADS = (
    *("Line", "With", "One gene or two", "Chance of one gene", "Ripe to decide"),
    *("By what was told", "With others’ reports", "With own crosses"),
)


def lines_table(page: LinesPage) -> Table:
    """Return every two lines once."""
    return _HEADS, (
        [
            row.line.title,
            cell.beside.title,
            *(cell.words, cell.figure, "ripe" if cell.ripe else ""),
            *([part.figure for part in cell.parts] or ["", "", ""]),
        ]
        for row in page.rows
        for cell in row.cells
        if cell is not None and row.line.pk < cell.beside.pk
    )
