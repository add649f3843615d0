"""Days as keepers write them: which order a column is in, and what a cell says."""

import re
from collections.abc import Iterable
from datetime import date, timedelta

ORDERS = {"dmy": "day, month, year", "mdy": "month, day, year", "ymd": "year, month, day"}
_NUMBERS = re.compile(r"(\d{1,4})[./\- ]+(\d{1,2})[./\- ]+(\d{1,4})")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_WORDED = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[ .\-/]*([a-z]{3,9})\.?,?[ \-/]*(\d{2,4})", re.I)
_MONTH_FIRST = re.compile(r"([a-z]{3,9})\.?[ \-]*(\d{1,2})(?:st|nd|rd|th)?,?[ \-]+(\d{2,4})", re.I)
_YEAR = re.compile(r"(19|20|21)\d\d")
# The day that a spreadsheet counts from: its first of January 1900 is 1, with a leap day too many.
_EPOCH = date(1899, 12, 30)
FIRST_YEAR, LAST_YEAR = 1900, 2200


def order_of(cells: Iterable[str]) -> str:
    """Return the order of a column's days, or nothing where every cell could be read two ways.

    >>> order_of(["03/04/2024", "25/04/2024"]), order_of(["03/04/2024"]), order_of(["2024-04-03"])
    ('dmy', '', 'ymd')
    """
    possible = {"dmy", "mdy"}
    seen = False
    for cell in cells:
        found = _NUMBERS.fullmatch(cell.strip())
        if found is None or len(found[1]) == 4:
            continue
        seen = True
        first, second = int(found[1]), int(found[2])
        if first > 12:
            possible.discard("mdy")
        if second > 12:
            possible.discard("dmy")
    if not seen:
        return "ymd"
    return possible.pop() if len(possible) == 1 else ""


def read(text: str, order: str, today: date) -> date | int:
    """Return the day that a cell says, or the year where it says no more.

    Raises:
        ValueError: it says none; the message is for the keeper.
    """
    plain = text.strip()
    if _YEAR.fullmatch(plain):
        return int(plain)
    if worded := _WORDED.fullmatch(plain):
        return _day(worded[3], _month(worded[2]), worded[1], today)
    if worded := _MONTH_FIRST.fullmatch(plain):
        return _day(worded[3], _month(worded[1]), worded[2], today)
    found = _NUMBERS.fullmatch(plain)
    if found is None:
        raise ValueError("This is no day. Write it like 2024-04-30.")
    one, two, three = found[1], found[2], found[3]
    if len(one) == 4:
        return _day(one, int(two), three, today)
    if order == "mdy":
        return _day(three, int(one), two, today)
    if order == "ymd" and len(three) <= 2:
        return _day(one, int(two), three, today)
    if order == "dmy":
        return _day(three, int(two), one, today)
    raise ValueError("Say first in which order the days of this table are written.")


def offered(text: str) -> str:
    """Return the day that a bare number counts in a spreadsheet, as it is written here; or ""."""
    if not re.fullmatch(r"\d{5}", text) or not 20_000 <= int(text) <= 80_000:
        return ""
    return (_EPOCH + timedelta(days=int(text))).isoformat()


def _month(word: str) -> int:
    key = word[:3].lower()
    if key not in _MONTHS:
        raise ValueError(f"“{word}” is no month. Write the day like 2024-04-30.")
    return _MONTHS.index(key) + 1


def _day(year: str, month: int, day: str, today: date) -> date:
    full = int(year)
    if len(year) <= 2:
        # Of two figures: this century up to the next year, else the last.
        full += today.year // 100 * 100
        full -= 100 * (full > today.year + 1)
    if not FIRST_YEAR <= full <= LAST_YEAR:
        raise ValueError(f"The year {full} is none of a keeper's. Correct the day.")
    try:
        return date(full, month, int(day))
    except ValueError as error:
        raise ValueError("There is no such day. Correct it, like 2024-04-30.") from error
