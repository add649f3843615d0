"""A process that is killed while a table is brought in: the book is whole, and says what to do."""

import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from django.db import connection

from tests.keeper.imports.stopping import YOUNG
from tests.processes import ROOT, environment, killed_at, whole_book

if TYPE_CHECKING:
    from pytest_django import DjangoDbBlocker

pytestmark = pytest.mark.sockets
_STOPPING = "tests.keeper.imports.stopping"
_ANIMALS = YOUNG + 2
_SCRIPT = [sys.executable, "-m", _STOPPING]


@pytest.fixture
def data(django_db_setup: None, django_db_blocker: "DjangoDbBlocker", tmp_path: Path) -> Path:
    """A data folder with an empty book, copied from the tests' own."""
    with django_db_blocker.unblock():
        if connection.vendor != "sqlite":
            pytest.skip("of a killed process PostgreSQL takes back the transaction by itself")
        connection.ensure_connection()
        with closing(sqlite3.connect(tmp_path / "book.sqlite3")) as copy:
            connection.connection.backup(copy)
    return tmp_path


def counted(data: Path, table: str) -> int:
    with whole_book(data) as book:
        return int(book.execute(f"SELECT count(*) FROM {table}").fetchone()[0])


@pytest.mark.parametrize(
    "place",
    # With all rows and figures in the copy; and with all of them in the book, not yet for good.
    ["running.bring_in", "ahead.Ahead._take_over"],
)
def test_nothing_is_half_written_and_it_is_brought_in_anew(data: Path, place: str) -> None:
    killed_at(data, _STOPPING, place)
    assert counted(data, "keeper_animal") == counted(data, "keeper_standing") == 0
    again = subprocess.run(
        _SCRIPT, cwd=ROOT, env=environment(data), capture_output=True, text=True, check=True
    )
    interrupted, done = again.stdout.splitlines()
    assert interrupted == (
        "failed: The program ended while this was being written. Nothing was written: start it "
        "again."
    )
    assert done == "done: "
    assert counted(data, "keeper_animal") == _ANIMALS
    assert counted(data, "keeper_standing") > YOUNG
    assert not list(data.glob("importing-*"))
    assert len(list((data / "backups").iterdir())) == 2  # one before each try
