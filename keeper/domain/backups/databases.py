"""The database copied out while others write, and a copied one checked."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from django.db import connection

from keeper.domain.backups import dumps
from keeper.domain.backups.archive import DATABASES
from keeper.domain.backups.facts import NOT_COPIED, Ask, Facts, facts_of
from keeper.domain.backups.troubles import Damaged, NotMade
from keeper.serving.letters import teach_letters


def copy_out(folder: Path) -> tuple[Path, Facts]:
    """Write the database as it is at one moment into a folder; return where, and what it holds.

    Raises:
        NotMade: it cannot be copied.
        OSError: the folder cannot be written.
    """
    target = folder / DATABASES[connection.vendor]
    if connection.vendor == "postgresql":
        return target, dumps.dump(target)
    try:
        _copy_sqlite(Path(str(connection.settings_dict["NAME"])), target)
        return target, check_sqlite(target)
    except (sqlite3.Error, Damaged) as error:
        raise NotMade(
            f"The book's database cannot be copied ({error}). Look whether its disk is full or "
            "fails."
        ) from error


def check(path: Path, database: str) -> dict[str, int]:
    """Check a copied database, and return how many rows each table has.

    Raises:
        Damaged: something in it is not in order.
        NotMade: a program that is needed for that is missing.
    """
    return dumps.rows_in(path) if database == "postgresql" else check_sqlite(path).rows


def check_sqlite(path: Path) -> Facts:
    """Check a copied file of SQLite: all its pages, its indexes, what names what.

    Raises:
        Damaged: something in it is not in order.
    """
    try:
        with closing(open_sqlite(path)) as copy:
            ask = asker(copy)
            found = ask("PRAGMA integrity_check(1)")
            if found != [("ok",)]:
                raise Damaged(f"its database is not in order ({found[0][0]})")
            if ask("PRAGMA foreign_key_check"):
                raise Damaged("a row of its database names one that is not there")
            odd = ask("SELECT name FROM sqlite_master WHERE type NOT IN ('table', 'index')")
            if odd:
                raise Damaged(f"its database holds more than tables ({odd[0][0]})")
            return facts_of(ask, tables_of(copy))
    except (sqlite3.Error, ValueError) as error:
        raise Damaged(f"its database cannot be read ({error})") from error


def open_sqlite(path: Path) -> sqlite3.Connection:
    """Open a file of SQLite that is nobody else's, knowing letters as the book does."""
    found = sqlite3.connect(path, isolation_level=None)
    teach_letters(found)
    return found


def asker(database: sqlite3.Connection) -> Ask:
    """Return how a connection is asked."""
    return lambda query: list(database.execute(query))


def tables_of(database: sqlite3.Connection) -> list[str]:
    """Return the names of the tables, SQLite's own left out."""
    kept = database.execute(
        "SELECT name FROM sqlite_master "
        "WHERE type = 'table' AND name NOT LIKE 'sqlite!_%' ESCAPE '!'"
    )
    return [str(name) for (name,) in kept]


def _copy_sqlite(live: Path, target: Path) -> None:
    if not live.exists():
        raise NotMade(f"There is no database at {live}. Start the book once to make one.")
    with closing(sqlite3.connect(live, timeout=20)) as source, closing(open_sqlite(target)) as copy:
        # All pages in one step: a copy in several begins anew whenever somebody writes.
        source.backup(copy, pages=-1)
        copy.execute("PRAGMA journal_mode = DELETE")
        if NOT_COPIED in tables_of(copy):
            copy.execute("PRAGMA secure_delete = ON")
            copy.execute(f"DELETE FROM {NOT_COPIED}")
    with target.open("rb") as file:
        os.fsync(file.fileno())
