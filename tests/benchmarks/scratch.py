"""Databases of their own for benchmarks of the app, in a temporary folder or in PostgreSQL."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import LiteralString
from urllib.parse import urlsplit


@contextmanager
def scratch_book(kept: Path | None = None) -> Iterator[Path]:
    """Set Django up on an empty book; what is imported from `keeper` must come after.

    With `kept` the folder begins as a copy of that one, and tables that it lacks are added. Yields
    the data folder.
    """
    folder = Path(tempfile.mkdtemp(prefix="keptlines-benchmark-"))
    if kept is not None:
        shutil.copytree(kept, folder, dirs_exist_ok=True)
    os.environ |= {
        "DJANGO_SETTINGS_MODULE": "keeper.settings",
        "KEPTLINES_DATA": str(folder),
        "KEPTLINES_SERVE": "loopback",
    }
    try:
        import django
        from django.core.management import call_command

        django.setup()
        call_command("migrate", verbosity=0)
        yield folder
    finally:
        shutil.rmtree(folder)


class Server:
    """A PostgreSQL server on which a benchmark makes and drops databases."""

    def __init__(self, url: str) -> None:
        self.url = url

    def of(self, name: str) -> str:
        """Return the address of one of its databases."""
        return urlsplit(self.url)._replace(path=f"/{name}").geturl()

    def has(self, name: str) -> bool:
        """Whether there is a database of this name."""
        import psycopg

        with psycopg.connect(self.url) as connection:
            asked = connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [name])
            return asked.fetchone() is not None

    def make(self, name: str, *, like: str = "template1") -> None:
        """Make a database, as a copy of another; nobody may be connected to that one."""
        self._do("CREATE DATABASE {} TEMPLATE {}", name, like)

    def drop(self, name: str) -> None:
        """Drop a database if there is one."""
        self._do("DROP DATABASE IF EXISTS {} WITH (FORCE)", name)

    def _do(self, what: LiteralString, *names: str) -> None:
        import psycopg
        from psycopg import sql

        parts = [sql.Identifier(name) for name in names]
        with psycopg.connect(self.url, autocommit=True) as connection:
            connection.execute(sql.SQL(what).format(*parts))
