"""The README.txt of an archive: all that somebody needs who has the file and nothing else."""

import textwrap
from collections.abc import Iterator
from typing import Any

from django.db.models import Field, ForeignKey

from keeper import NAME
from keeper.domain.archives import tables, words
from keeper.domain.archives.manifest import FORMAT, VERSION, LeftOut
from keeper.domain.archives.tables import Table, column_name, names_a_table
from keeper.domain.archives.values import kind_of

_HEAD = f"""\
A BOOK OF ANIMALS AND THEIR GENES, WHOLE

This archive was made by {NAME}, a program for breeders: it keeps who descends from whom, what was
seen and said of each animal, and works out from all of it what each may carry. Everything in the
book is here, and nothing of it needs {NAME} to be read: the archive is a plain ZIP file.

  manifest.json    what is in the archive: format "{FORMAT}", number {VERSION}; when it was
                   made; each file with its rows, its size in bytes and its SHA-256; files that
                   were missing when it was made; what was left out, and why
  tables/NAME.csv  each table for a spreadsheet (comma-separated, UTF-8, first row: the columns).
                   Beside a column that refers to another row stands that row's code or name. A text
                   that a spreadsheet would take for a formula has an ' before it here
  tables/NAME.json the same table exactly, as a JSON array with one row a line, an object of column
                   and value. {NAME} reads this one
  pictures/...     photos and scans that rows name, by the name that stands in the row

To put the book back: set up an empty one, and choose "Open an archive" on its first page, or run
`manage.py open_archive FILE`. It gives an equal book: the same rows under the same numbers.

How to read it by hand: begin with tables/animal.csv. An animal's parents are those of its clutch
(clutch_id leads to tables/clutch.csv, candidatesire.csv has the males), or dam_id and sire_id.
Records are withdrawn, not deleted: one with a value in withdrawn_at no longer counts. What every
animal was worked out to carry stands in standing.csv: it follows from all the rest.
"""


def readme() -> str:
    """Return the text of README.txt."""
    return "\n".join([_HEAD, *_left_out(), "TABLES", "", *_tables()])


def left_out() -> tuple[LeftOut, ...]:
    """What of a book's database is not in an archive."""
    whole = [LeftOut(f"table {name}", why) for name, why in tables.LEFT_OUT_TABLES.items()]
    columns = [
        LeftOut(f"column {column} of {model.partition('.')[2].lower()}", why)
        for (model, column), why in tables.LEFT_OUT_COLUMNS.items()
    ]
    return (
        *columns,
        *whole,
        LeftOut("the certificate and the key of the server", "secrets of one machine"),
        LeftOut("files in the media folder that no row names", "nothing in the book leads there"),
    )


def _left_out() -> Iterator[str]:
    yield "LEFT OUT"
    yield ""
    for one in left_out():
        yield from _wrapped(f"{one.what}: {one.why}", "  ")
    yield ""


def _tables() -> Iterator[str]:
    for table in sorted(tables.tables(), key=lambda one: (one.record is not None, one.name)):
        yield f"{table.name}"
        yield from _wrapped(words.of_table(table), "  ")
        for field in table.columns:
            yield from _wrapped(_column(table, field), "  - ")
        yield ""


def _column(table: Table, field: "Field[Any, Any]") -> str:
    what = [kind_of(field)]
    if isinstance(field, ForeignKey) and not names_a_table(field):
        what = [f"refers to {field.related_model._meta.model_name}"]
    if field.null:
        what.append("may be empty")
    if field.choices:
        what.append("one of: " + ", ".join(f"{one}" for one, _ in field.flatchoices))
    return f"{column_name(field)} ({'; '.join(what)}): {words.of_column(table, field)}"


def _wrapped(text: str, start: str) -> list[str]:
    return textwrap.wrap(text, 100, initial_indent=start, subsequent_indent=" " * (len(start) + 2))
