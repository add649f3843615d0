"""Where a table's heads are, and what they say."""

from collections.abc import Sequence

from keeper.domain.imports.tables.meanings import looks_like_heads

# Heads are looked for in so many rows: above them stand titles and dates of printing.
_SEARCHED = 15


def find(rows: Sequence[Sequence[str]]) -> tuple[int, int]:
    """Return the first row of the heads, from 1, and how many rows they take; (0, 0): no heads.

    The row with most words that heads are made of; none: the first that is filled as widely as the
    rows below it and has no figures. A row above or below with such words too is part of it.
    """
    scores = [looks_like_heads(row) for row in rows[:_SEARCHED]]
    best = max(scores, default=0)
    if best:
        at = scores.index(best)
        below = rows[at + 1] if at + 1 < len(rows) else []
        if at + 1 < len(scores) and scores[at + 1] >= 2 and _mostly_words(below):
            return at + 1, 2
        if (
            at
            and _filled(rows[at - 1]) >= 2
            and _distinct(rows[at - 1]) > 1
            and (_filled(rows[at - 1]) < len(rows[at]))
        ):
            return at, 2
        return at + 1, 1
    first = next((n for n, row in enumerate(rows[:_SEARCHED]) if _filled(row) > 1), 0)
    if rows and _mostly_words(rows[first]) and _distinct(rows[first]) == _filled(rows[first]):
        return first + 1, 1
    return 0, 0


def read(rows: Sequence[Sequence[str]], first: int, count: int) -> list[str]:
    """Return the heads, one a column: those of two rows together; an empty one by its letter."""
    width = len(rows[0]) if rows else 0
    found: list[str] = []
    for column in range(width):
        parts: list[str] = []
        for row in rows[max(first - 1, 0) : max(first - 1, 0) + count] if first else ():
            if row[column] and row[column] not in parts:
                parts.append(row[column])
        found.append(" ".join(parts)[:120] or f"Column {letter(column)}")
    return found


def letter(column: int) -> str:
    """Return a column's name in a spreadsheet.

    >>> letter(0), letter(27)
    ('A', 'AB')
    """
    name = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name


def _filled(row: Sequence[str]) -> int:
    return sum(bool(cell) for cell in row)


def _distinct(row: Sequence[str]) -> int:
    return len({cell for cell in row if cell})


def _mostly_words(row: Sequence[str]) -> bool:
    return not any(any(one.isdigit() for one in cell) for cell in row)
