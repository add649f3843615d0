"""Copies are made, opened again, put into both folders, and only then counted as good."""

import json
import os
import random
import stat
import zipfile
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.utils import timezone

from keeper import models as m
from keeper.domain.backups import archive as archives
from keeper.domain.backups import databases, epoch, looking, making, shelf
from keeper.domain.backups.restoring import restore
from keeper.domain.backups.shelf import Wishes
from keeper.domain.backups.troubles import Damaged, NeedsPassphrase, NotMade, WrongPassphrase
from keeper.domain.book.refusing import Refused
from keeper.serving.locks import COPYING, only_one
from tests.factories import AccountFactory
from tests.keeper.backups.rows import all_rows
from tests.keeper.books import Book

pytestmark = [
    pytest.mark.sockets,  # the other database is reached over one
    pytest.mark.django_db,
]
# What is in the copy must be there for whoever else connects.
saved = pytest.mark.django_db(transaction=True)
SECRET = "seven plain words in a row"


@pytest.fixture(autouse=True)
def owner(data: Path) -> m.Account:
    epoch.book()  # the tests' own tidying takes the row away
    return AccountFactory.create(name="Mara", role="owner")


@pytest.fixture
def book(owner: m.Account) -> Book:
    found = Book(owner)
    found.founder("F-1", "female", "possible", "1/2")
    return found


def made_path(why: str = "by hand") -> Path:
    path = making.make(why).path
    assert path is not None
    return path


@saved
def test_a_copy_says_what_it_holds_and_any_program_opens_it(data: Path, book: Book) -> None:
    (data / "media" / "photos").mkdir(parents=True)
    (data / "media" / "photos" / "one.jpg").write_bytes(b"a picture")
    (data / "secret-key").write_text("never copied")
    path = made_path()
    assert path.parent == data / "backups"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    with zipfile.ZipFile(path) as archive:
        assert archive.testzip() is None
        names = set(archive.namelist())
        said = json.loads(archive.read("manifest.json"))
    assert names == {
        archives.DATABASES[connection.vendor],
        "manifest.json",
        "media/photos/one.jpg",
    }
    assert "not in this copy" in said["not_in_it"] and "passwords" in said["in_it"]
    manifest = looking.look(path)
    assert (manifest.animals, manifest.clutches, manifest.sheets, manifest.pictures) == (1, 0, 0, 1)
    last = m.DaybookEntry.objects.order_by("-pk")[0]
    assert (manifest.last_entry, manifest.last_entry_at) == (last.pk, last.at)
    assert manifest.epoch == m.Book.objects.get().epoch
    assert b"never copied" not in path.read_bytes()


@saved
def test_who_is_logged_in_is_not_in_a_copy(data: Path, owner_client: Any) -> None:
    from keeper.models import LogIn

    key = LogIn.objects.get().pk
    with looking.unpacked(made_path()) as (_, database, _):
        assert key.encode() not in database.read_bytes()
    assert LogIn.objects.count() == 1


@saved
def test_an_encrypted_copy_is_opened_by_its_passphrase_alone(data: Path, book: Book) -> None:
    shelf.set_passphrase(SECRET)
    assert stat.S_IMODE((data / "backup-passphrase").stat().st_mode) == 0o600
    path = made_path()
    assert path.name.endswith(".zip.sealed")
    assert b"manifest" not in path.read_bytes()
    with pytest.raises(NeedsPassphrase):
        looking.look(path)
    with pytest.raises(WrongPassphrase):
        looking.look(path, "seven other words in a row")
    assert looking.look(path, SECRET).animals == 1
    then = all_rows()["keeper_animal"]
    book.founder("F-2", "male")
    restore(path, passphrase=SECRET)
    assert all_rows()["keeper_animal"] == then
    assert SECRET.encode() not in b"".join(
        one.read_bytes() for one in data.rglob("*.json") if one.is_file()
    )


@saved
def test_a_hundred_damaged_copies_are_never_restored(data: Path, book: Book) -> None:
    path = made_path()
    whole, draw = path.read_bytes(), random.Random(20261130)
    before = all_rows()
    for number in range(100):
        at = draw.randrange(len(whole))
        bad = data / f"bad-{number}.zip"
        match number % 4:
            case 0:
                content = whole[:at]
            case 1:
                content = (
                    whole[:at] + bytes([whole[at] ^ (1 << draw.randrange(8))]) + whole[at + 1 :]
                )
            case 2:
                content = whole[:at] + draw.randbytes(20) + whole[at:]
            case _:
                content = whole[:at] + whole[at + draw.randrange(1, 50) :]
        bad.write_bytes(content)
        with pytest.raises(Damaged):
            restore(bad)
    assert all_rows() == before
    assert not list(data.glob("looking-*")) and not list(data.glob("copying-*"))


@pytest.mark.parametrize("name", ["../../outside", "/outside", "media/../../outside", "other"])
def test_a_copy_that_would_write_elsewhere_is_refused(data: Path, name: str) -> None:
    from keeper.domain.backups import archive

    (data / "database").write_bytes(b"x")
    manifest = looking.look(made_path())
    there = archive.on_disk(data / "database")
    files = [("book.sqlite3", there), (name, there)]
    if connection.vendor != "sqlite":
        files[0] = ("book.pgdump", there)
    archive.write(data / "odd.zip", replace(manifest, parts=()), files)
    with pytest.raises(Damaged, match="other files"):
        looking.look(data / "odd.zip")


def test_a_whole_archive_with_a_broken_database_is_refused(data: Path, book: Book) -> None:
    from keeper.domain.backups import archive

    with looking.unpacked(made_path()) as (_, database, manifest):
        broken = bytearray(database.read_bytes())
        middle = len(broken) // 2
        broken[middle : middle + 4000] = b"\xff" * 4000
        database.write_bytes(broken)
        files = [(database.name, archive.on_disk(database))]
        archive.write(data / "odd.zip", replace(manifest, parts=()), files)
    with pytest.raises(Damaged, match="database"), looking.unpacked(data / "odd.zip"):
        pass


def test_a_copy_is_no_good_if_what_was_written_is_not_what_is_read(
    data: Path, book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    from keeper.domain.backups import archive

    write = archive.write

    def write_badly(target: Path, *arguments: Any) -> Any:
        found = write(target, *arguments)
        content = bytearray(target.read_bytes())
        content[len(content) // 2] ^= 1
        target.write_bytes(content)
        return found

    monkeypatch.setattr(archive, "write", write_badly)
    with pytest.raises(NotMade, match="is no good"):
        making.make("by hand")
    assert shelf.read().made == ()
    assert not list((data / "backups").glob("*")) if (data / "backups").exists() else True
    assert "is no good" in shelf.read().troubles[0]


def test_both_folders_get_it_and_one_that_is_missing_is_told(data: Path, book: Book) -> None:
    second = data / "stick"
    second.mkdir()
    shelf.set_wishes(Wishes(second=str(second)))
    made = making.make("by hand")
    first, other = made.paths
    assert (first.parent, other.parent) == (data / "backups", second)
    assert first.read_bytes() == other.read_bytes()
    second.rename(data / "pulled-out")
    again = making.make("by hand")
    assert [path.parent for path in again.paths] == [data / "backups"]
    (trouble,) = shelf.read().troubles
    assert trouble.startswith(f"The folder {second} got no copy: it is not there.")


def test_a_folder_that_is_full_or_read_only_gets_no_half_copy(
    data: Path, book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    second = data / "stick"
    second.mkdir()
    shelf.set_wishes(Wishes(second=str(second)))
    sync = os.fsync

    def full(number: int) -> None:
        if "stick" in os.readlink(f"/proc/self/fd/{number}"):
            raise OSError(28, "No space left on device")
        sync(number)

    monkeypatch.setattr(os, "fsync", full)
    made = making.make("by hand")
    assert made.folders == (str(data / "backups"),)
    assert list(second.iterdir()) == []
    assert "No space left on device" in shelf.read().troubles[0]
    opening = os.open

    def read_only(path: Any, *how: Any, **more: Any) -> int:
        if "stick" in str(path):
            raise OSError(30, "Read-only file system")
        return opening(path, *how, **more)

    monkeypatch.setattr(os, "fsync", sync)
    monkeypatch.setattr(os, "open", read_only)
    assert making.make("by hand").folders == (str(data / "backups"),)
    assert "Read-only file system" in shelf.read().troubles[0]


def test_a_full_disk_leaves_no_copy_with_a_good_name(
    data: Path, book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    good = making.make("by hand")

    def full(number: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(NotMade, match="No space left"):
        making.make("by hand")
    assert [one.name for one in (data / "backups").iterdir()] == [good.name]


def test_old_ones_are_dropped_and_what_is_not_ours_stays(data: Path, book: Book) -> None:
    shelf.set_wishes(Wishes(last=2, weeks=0, months=0))
    first = made_path()
    foreign = first.with_name("keptlines-20200101-000000.zip")
    foreign.write_bytes(b"of another book")
    names = [making.make("by hand").name for _ in range(3)]
    # All of one day: the last two, the newest of the day among them.
    assert {one.name for one in (data / "backups").iterdir()} == {*names[1:], foreign.name}
    replaced = data / "backups" / names[1]
    replaced.write_bytes(b"somebody else's now")
    making.make("by hand")
    making.make("by hand")
    assert replaced.read_bytes() == b"somebody else's now"


def test_copies_of_one_second_have_names_of_their_own(
    data: Path, book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    at = timezone.now()
    monkeypatch.setattr(timezone, "now", lambda: at)
    names = [making.make("by hand").name for _ in range(3)]
    assert len(set(names)) == 3
    assert all((data / "backups" / name).exists() for name in names)


def test_one_is_due_by_the_last_good_one(
    data: Path, book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    start = timezone.now()
    clock = [start]
    monkeypatch.setattr(timezone, "now", lambda: clock[0])
    assert shelf.read().is_due() and shelf.read().is_overdue()
    assert making.make_if_due() is not None
    assert making.make_if_due() is None
    clock[0] = start + timedelta(hours=23)
    assert making.make_if_due() is None
    assert not shelf.read().is_overdue()
    # A machine that slept, or a clock that was set on.
    clock[0] = start + timedelta(days=20)
    assert shelf.read().is_overdue()
    assert making.make_if_due() is not None
    # Set back: what is dated ahead counts for nothing, what is before it does.
    clock[0] = start + timedelta(hours=1)
    assert not shelf.read().is_due()
    clock[0] = start - timedelta(days=3)
    assert making.make_if_due() is not None
    assert making.make_if_due() is None
    shelf.set_wishes(replace(shelf.read().wishes, hours=0))
    clock[0] = start + timedelta(days=90)
    assert making.make_if_due() is None


def test_after_a_try_in_vain_it_waits_a_while(
    data: Path, book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(folder: Path) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(databases, "copy_out", fail)
        with pytest.raises(NotMade):
            making.make_if_due()
        assert making.make_if_due() is None
    later = timezone.now() + timedelta(minutes=31)
    monkeypatch.setattr(timezone, "now", lambda: later)
    assert making.make_if_due() is not None
    assert shelf.read().troubles == ()


def test_one_whose_file_is_gone_is_no_last_good_one(data: Path, book: Book) -> None:
    path = made_path()
    assert shelf.read().last is not None
    path.unlink()
    assert shelf.read().last is None
    assert shelf.read().is_due()


def test_only_one_is_made_at_a_time(data: Path, book: Book) -> None:
    with only_one(data / COPYING):
        assert making.make_if_due() is None
        with pytest.raises(NotMade, match="being made just now"):
            making.make("by hand", patience=0)


def test_an_empty_book_is_not_copied_before_a_risk(data: Path) -> None:
    m.Account.objects.all().delete()
    assert making.before_risk("anything") is None


def test_a_list_that_cannot_be_read_harms_nothing(data: Path, book: Book) -> None:
    (data / "backups.json").write_text("{]")
    assert "cannot be read" in shelf.read().troubles[0]
    assert making.make("by hand").path is not None
    assert len(shelf.read().made) == 1


@saved
def test_a_copy_of_the_other_kind_of_database_is_refused(data: Path, book: Book) -> None:
    from keeper.domain.backups import archive

    other = "postgresql" if connection.vendor == "sqlite" else "sqlite"
    manifest = replace(looking.look(made_path()), database=other, parts=())
    (data / "database").write_bytes(b"x")
    files = [(archives.DATABASES[other], archive.on_disk(data / "database"))]
    archive.write(data / "odd.zip", manifest, files)
    with pytest.raises(Refused):
        restore(data / "odd.zip")
