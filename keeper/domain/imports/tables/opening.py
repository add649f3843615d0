"""Open a workbook and print its sheets' names and one sheet's cells as JSON.

Run as a process of its own, with little memory and time: a workbook is somebody else's file, and
one that names a far-off cell, or unpacks without end, may take its reader down. Loads nothing of
ours. Arguments: the file, the sheet (empty: the first with something in it), the most rows and
columns.
"""

import datetime as dt
import json
import sys
from collections.abc import Iterator
from typing import Any

_MEMORY = 1024 * 1024 * 1024
_SECONDS = 60
# Of a cell one letter more than is kept, so that it is seen to be cut.
_LONGEST, _MOST_LETTERS = 2001, 40_000_000


def main(path: str, sheet: str, most_rows: int, most_columns: int) -> dict[str, Any]:
    """Return `sheets`, `sheet`, `rows` and `notes`; or `wrong`, the word for what is wrong."""
    from python_calamine import CalamineError, CalamineWorkbook, PasswordError

    try:
        book = CalamineWorkbook.from_path(path)
        names = book.sheet_names
        if not names:
            return {"wrong": "empty"}
        found = book.get_sheet_by_name(sheet if sheet in names else _first(book, names))
        rows, columns = _size(found)
        if rows > most_rows or columns > most_columns:
            return {"wrong": "large", "size": [rows, columns]}
        texts = [
            [_text(cell) for cell in row]
            for row in found.to_python(skip_empty_area=False, nrows=most_rows)
        ]
        if sum(len(text) for row in texts for text in row) > _MOST_LETTERS:
            return {"wrong": "swollen"}
        merged = _spread(texts, found.merged_cell_ranges or [])
    except PasswordError:
        return {"wrong": "password"}
    except CalamineError as error:
        return {"wrong": "password" if "password" in str(error).lower() else "damaged"}
    return {"sheets": names, "sheet": found.name, "rows": texts, "merged": merged}


def _first(book: Any, names: list[str]) -> str:
    """The first sheet that has more than one row, else the first."""
    return next((one for one in names[:20] if _size(book.get_sheet_by_name(one))[0] > 1), names[0])


def _size(sheet: Any) -> tuple[int, int]:
    """How many rows and columns a sheet has, those before its first cell included."""
    row, column = sheet.end or (-1, -1)
    return row + 1, column + 1


def _text(cell: Any) -> str:
    """A cell as text; a day in the order year, month, day, a whole number without a point."""
    match cell:
        case bool():
            return "yes" if cell else "no"
        case float() if cell.is_integer() and abs(cell) < 1e15:
            return str(int(cell))
        case dt.datetime():
            return cell.date().isoformat()
        case dt.date():
            return cell.isoformat()
        case _:
            return str(cell)[:_LONGEST]


def _spread(rows: list[list[str]], ranges: Any) -> int:
    """Let every cell of a merged range hold its text; return in how many ranges."""
    count = 0
    for (top, left), (bottom, right) in ranges:
        if top >= len(rows) or left >= len(rows[top]):
            continue
        count += 1
        for row in rows[top : bottom + 1]:
            for column in range(left, min(right + 1, len(row))):
                row[column] = rows[top][left]
    return count


def _limits() -> Iterator[None]:
    """Where the system can: so much memory and time, and no more."""
    try:
        import resource
    except ImportError:  # pragma: no cover  # Windows has none: only the checks before hold there
        return
    for what, most in ((resource.RLIMIT_AS, _MEMORY), (resource.RLIMIT_CPU, _SECONDS)):
        resource.setrlimit(what, (most, most))
        yield


if __name__ == "__main__":
    list(_limits())
    answer = main(sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4]))
    sys.stdout.write(json.dumps(answer))
