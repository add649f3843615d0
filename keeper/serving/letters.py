"""Letters without case in SQLite, for all letters as in PostgreSQL, and not for A to Z only.

SQLite takes É and é for different letters in `LIKE` and `lower`. A keeper would then find "Élan"
by "élan", or be refused the code É-1 beside é-1, in one database and not in the other. Here
`lower` and `LIKE` are given to SQLite anew, for every connection of the book.

Indexes on `lower(code)` are kept with this `lower`: a program that opens the file without it may
read what it likes, but must not write codes with such letters, nor rebuild the indexes.
"""

import re
import sqlite3
from functools import lru_cache
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper


def fold_all_letters(connection: BaseDatabaseWrapper, **_: Any) -> None:
    """Teach a new connection to compare all letters without case, if it is one to SQLite."""
    if connection.vendor != "sqlite":
        return
    teach_letters(connection.connection)


def teach_letters(database: sqlite3.Connection) -> None:
    """Teach a connection that Django does not open; its indexes on codes are read by it."""
    # Deterministic: only such functions may be used in an index.
    database.create_function("lower", 1, _lower, deterministic=True)
    database.create_function("like", 2, _like, deterministic=True)
    database.create_function("like", 3, _like, deterministic=True)


def _lower(text: object) -> str | None:
    return None if text is None else str(text).lower()


def _like(pattern: object, text: object, escape: object = None) -> bool | None:
    """Answer `text LIKE pattern ESCAPE escape`; nothing known gives nothing known."""
    if pattern is None or text is None:
        return None
    matcher = _matcher(str(pattern), None if escape is None else str(escape))
    return matcher.match(str(text).lower()) is not None


@lru_cache(maxsize=256)
def _matcher(pattern: str, escape: str | None) -> re.Pattern[str]:
    parts: list[str] = []
    letters = iter(pattern)
    for letter in letters:
        if letter == escape:
            parts.append(re.escape(next(letters, "").lower()))
        elif letter in "%_":
            parts.append(".*" if letter == "%" else ".")
        else:
            parts.append(re.escape(letter.lower()))
    return re.compile("".join(parts) + r"\Z", re.DOTALL)
