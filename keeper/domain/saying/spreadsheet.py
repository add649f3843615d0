"""Tables as files for a spreadsheet. What somebody typed stays text and never becomes a formula."""

import csv
import re
from collections.abc import Iterable, Iterator, Sequence
from io import BytesIO
from itertools import chain
from typing import Any

Cell = str | int | float | None

# A spreadsheet reads a cell that begins so as a formula, also in a file of plain text; some take
# the full-width letters, ＝＋－＠, for the plain ones.
_FORMULA = re.compile(r"^\s*[=+\-@\t\r\uff1d\uff0b\uff0d\uff20]")
# Characters that a workbook may not hold.
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")


class _Echo:
    """A file that gives each line back instead of keeping it."""

    def write(self, line: str) -> str:
        return line


def csv_lines(heads: Sequence[Cell], rows: Iterable[Sequence[Cell]]) -> Iterator[str]:
    """Yield the lines of a file of comma-separated values, with a mark that it is UTF-8."""
    writer = csv.writer(_Echo())
    yield "\ufeff"
    for row in chain([heads], rows):
        yield writer.writerow([guarded(cell) for cell in row])


def workbook(sheets: dict[str, tuple[Sequence[Cell], Iterable[Sequence[Cell]]]]) -> bytes:
    """Return a workbook with a sheet for each table: its heads and its rows."""
    # Imported late: no page needs it.
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    book = Workbook(write_only=True)
    for title, (heads, rows) in sheets.items():
        sheet = book.create_sheet(title)
        sheet.freeze_panes = "B2"
        bold = [WriteOnlyCell(sheet, value=head) for head in heads]
        for cell in bold:
            cell.data_type, cell.font = "s", Font(bold=True)
        sheet.append(bold)
        for row in rows:
            sheet.append([_as_text(sheet, value) for value in row])
    file = BytesIO()
    book.save(file)
    return file.getvalue()


def _as_text(sheet: Any, value: Cell) -> Any:
    """Return a value as a sheet takes it; text stays text."""
    if not isinstance(value, str):
        return value
    plain = _CONTROL.sub("", value)
    if not plain.startswith("="):
        return plain
    from openpyxl.cell import WriteOnlyCell

    cell = WriteOnlyCell(sheet, value=plain)
    cell.data_type = "s"
    return cell


def guarded(cell: Cell) -> Cell:
    """Return a cell as a file of plain text may hold it: a text, and no formula.

    >>> [guarded(one) for one in ("=1+1", " @sum", "\uff1d1", "F-01", -2)]
    ["'=1+1", "' @sum", "'\uff1d1", 'F-01', -2]
    """
    return f"'{cell}" if isinstance(cell, str) and _FORMULA.match(cell) else cell
