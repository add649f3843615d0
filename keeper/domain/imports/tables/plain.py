"""Tables of plain text: how their letters are written and what parts their columns."""

import csv
import io
from collections import Counter

from keeper.domain.book.refusing import Refused

_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_PARTED_BY = ",;\t|"
_ENOUGH = 64 * 1024
# What files begin with that are text and no table.
_OTHERS = ("<!doctype", "<html", "<?xml", "<table", "{", "%pdf", "{\\rtf", "%!ps")
_NO_TABLE = (
    "This file is no table. Save the sheet as a spreadsheet (xlsx, ods) or as a table of plain "
    "text (csv), and choose that file."
)


def read(data: bytes, *, most_rows: int) -> tuple[list[list[str]], list[str]]:
    """Return the cells of a table of plain text, and what was taken for granted.

    Raises:
        Refused: it is no text, or too long.
    """
    text, notes = _decoded(data)
    if text.lstrip()[:200].lower().startswith(_OTHERS):
        raise Refused(_NO_TABLE)
    rows: list[list[str]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=parted_by(text[:_ENOUGH]))
    try:
        for row in reader:
            if len(rows) > most_rows:
                raise Refused(too_long(f"more than {most_rows:,}", most_rows))
            rows.append(row)
    except csv.Error as error:
        raise Refused(_NO_TABLE) from error
    return rows, notes


def too_long(count: str, most_rows: int) -> str:
    """Return why a table of so many rows is not read."""
    return (
        f"This table has {count} rows, and {most_rows:,} are read at a time. "
        "Split it into several files; animals of one may be parents in the next."
    )


def parted_by(text: str) -> str:
    """Return what parts the columns: what stands most evenly in the first lines.

    >>> parted_by("code;weight\\n1;1,5\\n2;2,5\\n")
    ';'
    """
    lines = [line for line in text.splitlines() if line.strip()][:50]

    def evenness(sign: str) -> tuple[int, int]:
        counts = Counter(count for line in lines if (count := line.count(sign)))
        if not counts:
            return 0, 0
        usual, of_lines = counts.most_common(1)[0]
        return of_lines, usual

    return max(_PARTED_BY, key=evenness)


def _decoded(data: bytes) -> tuple[str, list[str]]:
    for mark, name in _MARKS:
        if data.startswith(mark):
            try:
                return data.decode(name), []
            except UnicodeError as error:
                raise Refused(_NO_TABLE) from error
    if b"\0" in data:
        raise Refused(_NO_TABLE)
    try:
        return data.decode("utf-8"), []
    except UnicodeError:
        text = data.decode("cp1252", errors="replace")
    strange = sum(not (one.isprintable() or one in "\r\n\t") or one == "\ufffd" for one in text)
    if strange * 50 > len(text):
        raise Refused(_NO_TABLE)
    note = (
        "The letters of this file are not in Unicode. They were taken as a Western European "
        "Windows writes them: look at names with accents before you go on."
    )
    return text, [note]
