"""The commands, as a keeper types them: a copy, and a book begun from it on another machine."""

import shutil
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path

import pytest

from keeper.serving.locks import SERVING, only_one
from tests.keeper.backups.people import enter, names
from tests.processes import free_port, manage, module

pytestmark = pytest.mark.sockets


@pytest.fixture(scope="module")
def older(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder of a book of an earlier version, which knew no epoch; with a copy."""
    data = tmp_path_factory.mktemp("older")
    assert module("tests.keeper.upgrades.older", "0015_plans", data=data).returncode == 0
    enter(data, "Mara", "mara")
    made = manage("back_up", data=data)
    assert made.returncode == 0, made.stderr
    assert made.stdout.startswith(f"Copied and checked: {data / 'backups'}")
    return data


def copy_in(data: Path) -> Path:
    (copy,) = (data / "backups").glob("keptlines-*.zip")
    return copy


def said(done: "subprocess.CompletedProcess[str]") -> str:
    return done.stdout + done.stderr


def test_a_new_machine_begins_with_an_older_copy(older: Path, tmp_path: Path) -> None:
    data = tmp_path / "new"
    done = manage("restore", str(copy_in(older)), data=data)
    assert done.returncode == 0, said(done)
    assert "A copy of " in done.stdout and "0 animals" in done.stdout
    assert names(data) == ["Mara"]
    with closing(sqlite3.connect(data / "book.sqlite3")) as book:
        (epoch, restored), *more = book.execute("SELECT epoch, restored_at FROM keeper_book")
        assert more == [] and len(epoch) == 32 and restored
        asked = "SELECT count(*) FROM django_migrations WHERE name = '0016_epoch'"
        assert book.execute(asked).fetchone()[0] == 1


def test_looking_changes_nothing_and_a_book_asks_first(begun: Path, tmp_path: Path) -> None:
    data = shutil.copytree(begun, tmp_path / "data")
    enter(data, "Tobin", "tobin")
    looked = manage("restore", str(copy_in(data)), "--look", data=data)
    assert (looked.returncode, "A copy of" in looked.stdout) == (0, True)
    unsure = manage("restore", str(copy_in(data)), data=data)
    assert unsure.returncode == 1 and "Say --yes" in unsure.stderr
    assert names(data) == ["Mara", "Tobin"]


def test_a_book_that_cannot_be_read_is_put_aside(begun: Path, tmp_path: Path) -> None:
    data = shutil.copytree(begun, tmp_path / "data")
    (data / "book.sqlite3").write_bytes(b"no database" * 1000)
    done = manage("restore", str(copy_in(data)), data=data)
    assert done.returncode == 0, said(done)
    assert names(data) == ["Mara"]
    (aside,) = data.glob("book.sqlite3.damaged-*")
    assert aside.read_bytes().startswith(b"no database")


def test_a_book_that_is_served_is_neither_restored_nor_served_again(
    begun: Path, tmp_path: Path
) -> None:
    data = shutil.copytree(begun, tmp_path / "data")
    with only_one(data / SERVING):
        done = manage("restore", str(copy_in(data)), "--yes", data=data)
        assert done.returncode == 1 and "is being served. Stop it first" in done.stderr
        again = manage("start", "--no-browser", "--port", str(free_port()), data=data)
        assert again.returncode == 1 and "is being served or restored already" in again.stderr


def test_start_copies_a_book_before_it_brings_it_up_to_date(older: Path, tmp_path: Path) -> None:
    data = shutil.copytree(older, tmp_path / "data")
    (data / "backups.json").unlink()
    shutil.rmtree(data / "backups")
    (data / "backups").write_bytes(b"")  # where the folder should be
    refused = manage("start", "--no-browser", "--port", str(free_port()), data=data)
    assert refused.returncode == 1
    assert "no copy of the book could be made" in refused.stderr
    assert "With --without-copy it is done without one." in refused.stderr
    with closing(sqlite3.connect(data / "book.sqlite3")) as book:
        asked = "SELECT count(*) FROM django_migrations WHERE name = '0016_epoch'"
        assert book.execute(asked).fetchone()[0] == 0


def test_what_is_no_copy_is_refused_in_words(tmp_path: Path) -> None:
    (tmp_path / "odd.zip").write_bytes(b"odd" * 100)
    for path, words in (
        (tmp_path / "odd.zip", "is damaged"),
        (tmp_path / "none", "cannot be read"),
    ):
        done = manage("restore", str(path), data=tmp_path / "data")
        assert done.returncode == 1 and words in done.stderr and "Traceback" not in done.stderr
    empty = manage("back_up", "--if-due", data=tmp_path / "data")
    assert empty.returncode == 0 and empty.stdout == "No copy is due.\n"
