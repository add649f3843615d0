"""A copied database put in place of the present one, in one transaction of the present one.

Its rows are poured into the tables that are there. So whoever reads meanwhile reads on in the book
as it was, whoever reads afterwards reads the other, and every constraint of every table looks at
every row. Tables of who is logged in stay as they are.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from django.db import connection

from keeper.domain.backups.databases import open_sqlite, tables_of
from keeper.domain.backups.troubles import Damaged

# Who is logged in, who tried in vain, what goes on: of now, whatever the copy says.
STAYING = frozenset(
    {"keeper_login", "keeper_job", "axes_accessattempt", "axes_accesslog", "axes_accessfailurelog"}
)


@contextmanager
def beside(copy: Path) -> Iterator[None]:
    """Put a copied file beside the book for the block, and look at what names what at the end only.

    To be entered outside a transaction.
    """
    with connection.cursor() as cursor:
        cursor.execute("ATTACH DATABASE %s AS restored", [str(copy)])
    try:
        with connection.constraint_checks_disabled():
            yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute("DETACH DATABASE restored")


def pour() -> None:
    """Replace all rows by those of the copy beside the book; in a transaction that has the lock.

    Raises:
        Damaged: the copy has other tables or columns than the book.
        IntegrityError: a constraint refuses a row.
    """
    with connection.cursor() as cursor:
        ours, theirs = _columns("main"), _columns("restored")
        differing = {table for table in ours | theirs if ours.get(table) != theirs.get(table)}
        if differing - STAYING:
            raise Damaged(f"its table {min(differing - STAYING)} is not made as the book's is")
        poured = [table for table in sorted(ours) if table not in STAYING]
        for table in poured:
            names = ", ".join(f'"{one}"' for one in sorted(ours[table]))
            cursor.execute(f'DELETE FROM main."{table}"')
            cursor.execute(
                f'INSERT INTO main."{table}" ({names}) SELECT {names} FROM restored."{table}"'
            )
        for table in poured:
            cursor.execute("DELETE FROM main.sqlite_sequence WHERE name = %s", [table])
            cursor.execute(
                "INSERT INTO main.sqlite_sequence (name, seq) "
                "SELECT name, seq FROM restored.sqlite_sequence WHERE name = %s",
                [table],
            )
        for table in poured:
            cursor.execute(
                f'SELECT (SELECT count(*) FROM main."{table}"), '
                f'(SELECT count(*) FROM restored."{table}")'
            )
            here, there = cursor.fetchone()
            if here != there:
                raise Damaged(f"not every row of its table {table} could be put back")
    connection.check_constraints()


def _columns(schema: str) -> dict[str, frozenset[str]]:
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT tables.name, columns.name FROM {schema}.sqlite_master AS tables, "
            f"pragma_table_info(tables.name, '{schema}') AS columns "
            "WHERE tables.type = 'table' AND tables.name NOT LIKE 'sqlite!_%%' ESCAPE '!'",
            [],
        )
        found: dict[str, set[str]] = {}
        for table, column in cursor.fetchall():
            found.setdefault(str(table), set()).add(str(column))
    return {table: frozenset(columns) for table, columns in found.items()}


def is_sound(path: Path) -> bool:
    """Whether a file of SQLite can be read at all, and is the book's."""
    try:
        with closing(open_sqlite(path)) as book:
            sound = book.execute("PRAGMA quick_check(1)").fetchone() == ("ok",)
            return sound and "django_migrations" in tables_of(book)
    except sqlite3.Error:
        return False
