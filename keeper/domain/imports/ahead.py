"""A large entry, worked out on a copy of the book and then put into it in one short step.

    with worked_out(write, folder=…) as ahead:
        ahead.put_in()

While `write` writes in the copy, others read and write in the book as ever. What it wrote there is
then taken over row by row, in one transaction that has the writers' lock only for that; nobody sees
a part of it. It is exact only if nobody wrote an entry meanwhile; that is looked at after the lock,
and else nothing is taken over, and the caller may try again or write behind the lock as usual.

Of SQLite alone, whose lock shuts out all other writers; PostgreSQL has no file to copy.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from django.db import IntegrityError, connection, transaction

from keeper.domain.book.aside import can_be_copied, on_a_copy
from keeper.domain.book.daybook import moment
from keeper.domain.book.writing import wait_for_other_writers

# In the copy: which rows that were there before were changed or deleted, by their table.
_MOVED = "moved_ahead"
# Who is logged in, and what goes on, changes all the time and belongs to no entry.
_STAYING = frozenset({"keeper_login", "keeper_job", "django_session", "sqlite_sequence"})


class Overtaken(Exception):
    """Somebody wrote in the book while something was worked out; nothing of it was taken over."""


@dataclass(frozen=True)
class Ahead:
    """What was written in the copy that lies beside the book.

    Attributes:
        moment: the state of the book that was copied.
        last: the key of the last row of each table in it.
        columns: the columns of each table.
    """

    moment: str
    last: dict[str, int]
    columns: dict[str, list[str]]

    def put_in(self, still: Callable[[], bool] = lambda: True) -> None:
        """Take over what was written, in one transaction.

        `still` is asked after the lock whether what belongs to no entry is as it was.

        Raises:
            Overtaken: an entry was written since, or something else stands in the way.
        """
        try:
            with transaction.atomic():
                wait_for_other_writers()
                if moment() != self.moment or not still():
                    raise Overtaken
                self._take_over()
        except IntegrityError as error:
            raise Overtaken from error

    def _take_over(self) -> None:
        with connection.cursor() as cursor:
            moved = f"SELECT id FROM ahead.{_MOVED} WHERE name = %s"
            for table in self.last:
                cursor.execute(
                    f'DELETE FROM main."{table}" WHERE rowid IN ({moved}) '
                    f'AND rowid NOT IN (SELECT rowid FROM ahead."{table}")',
                    [table],
                )
            for table, columns in self.columns.items():
                named = ", ".join(f'"{one}"' for one in columns)
                cursor.execute(
                    f'UPDATE main."{table}" SET ({named}) = (SELECT {named} '
                    f'FROM ahead."{table}" AS new WHERE new.rowid = main."{table}".rowid) '
                    f"WHERE rowid IN ({moved})",
                    [table],
                )
            for table, last in self.last.items():
                named = ", ".join(f'"{one}"' for one in self.columns[table])
                cursor.execute(
                    f'INSERT INTO main."{table}" ({named}) SELECT {named} '
                    f'FROM ahead."{table}" WHERE rowid > %s ORDER BY rowid',
                    [last],
                )


def can_be_worked_out() -> bool:
    """Whether an entry can be written like this: by SQLite, outside a transaction."""
    return can_be_copied()


@contextmanager
def worked_out(write: Callable[[], object], *, folder: Path) -> Iterator[Ahead]:
    """Let `write` write in a copy, in a folder of the caller's; hold the copy beside the book.

    Raises whatever `write` raises; nothing was written then.
    """
    path = folder / "ahead.sqlite3"
    with on_a_copy(str(path)):
        ahead = Ahead(moment(), *_tables())
        _watch(ahead)
        write()
    with _beside(path):
        yield ahead


@contextmanager
def _beside(path: Path) -> Iterator[None]:
    with connection.cursor() as cursor:
        cursor.execute("ATTACH DATABASE %s AS ahead", [str(path)])
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute("DETACH DATABASE ahead")


def _tables() -> tuple[dict[str, int], dict[str, list[str]]]:
    last: dict[str, int] = {}
    columns: dict[str, list[str]] = {}
    with connection.cursor() as cursor:
        for table in sorted(set(connection.introspection.table_names(cursor)) - _STAYING):
            cursor.execute(f'SELECT max(rowid) FROM "{table}"')
            last[table] = int(cursor.fetchone()[0] or 0)
            cursor.execute(f'PRAGMA table_info("{table}")')
            columns[table] = [str(row[1]) for row in cursor.fetchall()]
        # A key that was given once is not given again, even if its row is gone.
        cursor.execute("SELECT name, seq FROM sqlite_sequence")
        for table, given in cursor.fetchall():
            if table in last:
                last[table] = max(last[table], int(given))
    return last, columns


def _watch(ahead: Ahead) -> None:
    """Note in the copy which rows of before are changed or deleted from now on."""
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE TABLE {_MOVED} (name TEXT, id INTEGER, PRIMARY KEY (name, id))")
        for table, last in ahead.last.items():
            for act in ("UPDATE", "DELETE"):
                cursor.execute(
                    f'CREATE TEMP TRIGGER "ahead_{act}_{table}" AFTER {act} ON main."{table}" '
                    f"WHEN OLD.rowid <= {last} BEGIN "
                    f"INSERT OR IGNORE INTO {_MOVED} VALUES ('{table}', OLD.rowid); END"
                )
