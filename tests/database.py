"""The tests' database: migrated once, copied for every run and every worker.

Migrating takes seconds, a copy none. The migrated template stays, in pytest's cache or beside the
tests' databases in PostgreSQL, until a migration or what applies it changes; `--create-db` makes
it anew.
"""

import hashlib
import shutil
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import django
from django.apps import apps
from django.db import connection

_KEPT = "migrated"


def lend(worker: str, *, cache: Path, anew: bool) -> str:
    """Point Django at a fresh copy for this worker (empty: the only process).

    Returns the name of the database that it pointed at before. Raises `django.db.Error` if the
    server refuses, `OSError` if the disk does.
    """
    before = str(connection.settings_dict["NAME"])
    copied = _copied_file if connection.vendor == "sqlite" else _copied_on_server
    with _one_at_a_time(cache):
        connection.settings_dict["NAME"] = copied(worker, cache, anew)
    return before


def take_back(before: str) -> None:
    """Remove the copy and point Django at what it pointed at before."""
    connection.creation.destroy_test_db(before, verbosity=0)


@contextmanager
def _one_at_a_time(cache: Path) -> Iterator[None]:
    # SQLite's own lock: the same on every system, and let go by a process that dies.
    path = cache / "one-at-a-time.sqlite3"
    with closing(sqlite3.connect(path, timeout=120, isolation_level=None)) as lock:
        lock.execute("BEGIN EXCLUSIVE")
        yield


def _copied_file(worker: str, cache: Path, anew: bool) -> str:
    template = cache / f"{_KEPT}-{_digest()}.sqlite3"
    copy = str(connection.settings_dict["TEST"]["NAME"]) + worker
    if anew or not template.exists():
        for old in cache.glob(f"{_KEPT}-*"):
            old.unlink()
        making = cache / "making.sqlite3"
        _migrate(str(making))
        making.replace(template)
    shutil.copyfile(template, copy)
    return copy


def _copied_on_server(worker: str, cache: Path, anew: bool) -> str:
    base = f"test_{connection.settings_dict['NAME']}"
    template = f"{base}_{_KEPT}_{_digest()}"
    copy = f"{base}_{worker}" if worker else base
    with connection._nodb_cursor() as cursor:
        cursor.execute(
            "SELECT datname FROM pg_database WHERE starts_with(datname, %s)", [f"{base}_{_KEPT}_"]
        )
        kept = {name for (name,) in cursor.fetchall()}
        if anew or template not in kept:
            for old in kept:
                cursor.execute(f'DROP DATABASE "{old}"')
            _migrate(f"{base}_making")
            cursor.execute(f'ALTER DATABASE "{base}_making" RENAME TO "{template}"')
        cursor.execute(f'DROP DATABASE IF EXISTS "{copy}"')
        cursor.execute(f'CREATE DATABASE "{copy}" TEMPLATE "{template}"')
    return copy


def _migrate(name: str) -> None:
    """Make a database of this name, in place of one that an interrupted run left."""
    connection.settings_dict["TEST"]["NAME"] = name
    connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
    connection.close()


def _digest() -> str:
    seen = hashlib.sha256(repr((django.VERSION, sys.version_info[:2])).encode())
    for app in apps.get_app_configs():
        seen.update(app.name.encode())
        for path in sorted(Path(app.path, "migrations").glob("*.py")):
            seen.update(path.read_bytes())
    return seen.hexdigest()[:12]
