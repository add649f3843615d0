"""PostgreSQL's own programs, which copy a database out and put it back.

They come with its client: `pg_dump`, `pg_restore` and `psql`, of the server's version or newer.
"""

import os
import re
import shutil
import subprocess
from collections import Counter
from pathlib import Path

from django.db import connections
from django.db.backends.postgresql.client import DatabaseClient

from keeper.domain.backups.facts import NOT_COPIED, Facts, facts_of
from keeper.domain.backups.troubles import Damaged, NotMade

_COPY = re.compile(rb'COPY (?:"?\w+"?\.)?"?(\w+)"? ')


def dump(target: Path) -> Facts:
    """Write the database as one file in PostgreSQL's own format, as of one moment.

    Raises:
        NotMade: a program is missing or too old, or it failed.
    """
    connection = connections.create_connection("default")
    try:
        with connection.cursor() as cursor:
            cursor.execute("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
            cursor.execute("SELECT pg_export_snapshot()")
            (snapshot,) = cursor.fetchone()
            _run(
                "pg_dump",
                *("--format=custom", "--no-owner", "--no-privileges", f"--snapshot={snapshot}"),
                *(f"--exclude-table-data={NOT_COPIED}", f"--file={target}"),
            )

            def ask(query: str) -> list[tuple[object, ...]]:
                cursor.execute(query)
                return list(cursor.fetchall())

            return facts_of(ask, connection.introspection.table_names(cursor))
    finally:
        connection.close()


def rows_in(path: Path) -> dict[str, int]:
    """Read a dump to its end, and return how many rows each table has in it.

    Raises:
        Damaged: it cannot be read.
        NotMade: the program that reads it is missing or too old.
    """
    command, _ = _command("pg_restore", "--data-only", "--file=-", str(path), connected=False)
    found: Counter[str] = Counter()
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL
    ) as reading:
        table = ""
        for line in reading.stdout or ():
            if table:
                if line == b"\\.\n":
                    table = ""
                else:
                    found[table] += 1
            elif begun := _COPY.match(line):
                table = begun[1].decode()
                found[table] += 0
    if reading.returncode:
        raise Damaged("PostgreSQL cannot read its database")
    return dict(found)


def put_back(path: Path, after: str) -> None:
    """Put a dump in the place of all tables, in one transaction; `after` is SQL for its end.

    Raises:
        NotMade: it cannot be done; nothing was changed then.
    """
    connection = connections["default"]
    with connection.cursor() as cursor:
        tables = connection.introspection.table_names(cursor)
    drops = "".join(f'DROP TABLE "{table}" CASCADE;\n' for table in tables)
    script = path.with_suffix(".sql")
    begin, end = path.with_suffix(".begin"), path.with_suffix(".end")
    begin.write_text(drops, encoding="utf-8")
    end.write_text(after, encoding="utf-8")
    _run(
        *("pg_restore", "--no-owner", "--no-privileges", f"--file={script}", str(path)),
        connected=False,
    )
    files = [f"--file={one}" for one in (begin, script, end)]
    quiet = ("--quiet", "--no-psqlrc", "--output=/dev/null" if os.name == "posix" else "--quiet")
    _run("psql", *quiet, "--single-transaction", "--set=ON_ERROR_STOP=1", *files)


def _run(program: str, *arguments: str, connected: bool = True) -> None:
    command, environment = _command(program, *arguments, connected=connected)
    done = subprocess.run(
        command,
        env=environment,
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        check=False,
    )
    if done.returncode:
        said = (done.stderr.strip().splitlines() or ["it said nothing"])[0]
        raise NotMade(f"{program} failed: {said}. Read what it says, and try it again.")


def _command(
    program: str, *arguments: str, connected: bool
) -> tuple[list[str], dict[str, str] | None]:
    """Return a program's command line and environment; refuse one that is missing or too old."""
    path = shutil.which(program)
    if path is None:
        raise NotMade(
            f"{program} is not on this machine, and a PostgreSQL database is copied by it. Add "
            "PostgreSQL's client programs."
        )
    connection = connections["default"]
    said = subprocess.run([path, "--version"], capture_output=True, text=True, check=False).stdout
    version = re.search(r"\) (\d+)", said)
    server = int(getattr(connection, "pg_version", 0)) // 10000
    if version is None or int(version[1]) < server:
        raise NotMade(
            f"{program} on this machine is of version {version[1] if version else 'unknown'}, "
            f"older than the server's {server}. Add that of the server's version."
        )
    if not connected:
        return [path, *arguments], None
    settings = connection.settings_dict
    (_, *where), environment = DatabaseClient.settings_to_cmd_args_env(settings, [])
    # The last one is the database, which all of them take by name too.
    *where, database = where
    options = [*where, f"--dbname={database}", *arguments]
    return [path, *options], {**os.environ, **(environment or {})}
