"""Every row of a database, to compare books by."""

from typing import Any

from django.db import connection

from keeper.domain.backups.pouring import STAYING

Rows = dict[str, list[tuple[Any, ...]]]


def all_rows(*, but: frozenset[str] = STAYING) -> Rows:
    """Return every row of every table, each table in one order; not of who is logged in."""
    with connection.cursor() as cursor:
        found = {}
        for table in sorted(set(connection.introspection.table_names(cursor)) - but):
            cursor.execute(f'SELECT * FROM "{table}"')
            found[table] = sorted(cursor.fetchall(), key=repr)
    return found


def without_the_restore(rows: Rows) -> Rows:
    """Leave out what a restore itself writes: the book's row, and its entry as the last one."""
    found = {table: list(listed) for table, listed in rows.items() if table != "keeper_book"}
    last = max(found["keeper_daybookentry"], key=lambda row: row[0])
    assert any(str(value).startswith("Restored the book as it was on") for value in last)
    found["keeper_daybookentry"].remove(last)
    return found
