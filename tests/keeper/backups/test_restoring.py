"""A copy made while others write, and put back: the book as it was at that moment."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from keeper import models as m
from keeper.domain import inference
from keeper.domain.backups import epoch, looking, making, restoring, shelf
from keeper.domain.backups.epoch import BookRestored
from keeper.domain.backups.restoring import restore
from keeper.domain.backups.shelf import Made
from keeper.domain.backups.troubles import NotMade, TooNew
from keeper.domain.book import submission
from keeper.domain.book.refusing import Refused
from keeper.domain.book.submission import submitted
from keeper.domain.book.writing import writing
from keeper.domain.sheets.writes import issue
from tests.factories import AccountFactory
from tests.keeper.backups.rows import all_rows, without_the_restore
from tests.keeper.books import Book
from tests.keeper.world import World

pytestmark = [
    pytest.mark.sockets,  # the other database is reached over one
    pytest.mark.django_db(transaction=True),
]


def path_of(made: Made) -> Path:
    assert made.path is not None
    return made.path


def in_thread(act: Callable[[], None]) -> Callable[[], None]:
    def run() -> None:
        try:
            act()
        finally:
            connection.close()

    return run


@pytest.fixture
def owner() -> m.Account:
    epoch.book()  # the tests' own tidying takes the row away
    return AccountFactory.create(name="Mara", role="owner")


def test_a_book_after_random_acts_is_restored_row_by_row(data: Path, owner: m.Account) -> None:
    world = World(owner, seed=7)
    for _ in range(12):
        world.act()
    pictures = {one.name: one.read_bytes() for one in (data / "media").rglob("*.jpg")}
    assert pictures
    then, life = all_rows(), m.Book.objects.get().epoch
    made = making.make("by hand")
    for _ in range(12):
        world.act()
    for one in (data / "media").rglob("*.jpg"):
        one.write_bytes(b"changed")
    (data / "media" / "later.jpg").write_bytes(b"later")
    assert all_rows() != then
    came = restore(path_of(made), by=owner)
    assert without_the_restore(all_rows()) == {
        table: rows for table, rows in then.items() if table != "keeper_book"
    }
    found = {one.name: one.read_bytes() for one in (data / "media").rglob("*.jpg")}
    assert found == pictures
    assert (came.differing, came.faults, came.upgraded) == ((), (), False)
    assert m.Book.objects.get().epoch != life
    assert inference.differences() == []
    # What was there before lies in a copy of its own, and can be had back.
    assert came.before is not None and came.before.why == "before a restore"
    restore(path_of(came.before))
    assert (data / "media" / "later.jpg").read_bytes() == b"later"
    assert not (data / "media-before").exists()


def test_a_copy_made_while_others_write_is_one_moment(data: Path, owner: m.Account) -> None:
    book = Book(owner)
    dam = book.founder("D", "female", "possible", "1/2")
    sire = book.founder("S", "male", "possible", "1/2")
    clutch = book.clutch("C", dam, sire)
    young = [book.young(f"K{number}", clutch, seen=None) for number in range(16)]
    going = threading.Event()

    def look(animal: m.Animal) -> None:
        going.set()
        with writing(by=owner, what="Looked") as entry:
            book.look(entry, animal, seen=False)

    with ThreadPoolExecutor(3) as hands:
        writers = [hands.submit(in_thread(lambda one=one: look(one))) for one in young]  # type: ignore[misc]
        going.wait(10)
        made = making.make("by hand")
        for writer in writers:
            writer.result()
    manifest = looking.look(path_of(made))
    restore(path_of(made))
    looks = m.Observation.objects.count()
    # Each entry wrote one look, and the copy has both or neither.
    assert looks == m.DaybookEntry.objects.filter(what="Looked").count()
    assert manifest.entries == m.DaybookEntry.objects.count() - 1
    assert inference.differences() == []


def test_those_who_read_meanwhile_see_one_book_or_the_other(data: Path, owner: m.Account) -> None:
    book = Book(owner)
    for number in range(30):
        book.founder(f"A-{number}", "male")
    then = frozenset(m.Animal.objects.values_list("code", flat=True))
    made = making.make("by hand")
    for number in range(30):
        book.founder(f"B-{number}", "female")
    now = frozenset(m.Animal.objects.values_list("code", flat=True))
    stop = threading.Event()
    seen: list[frozenset[str]] = []

    def read() -> None:
        while not stop.is_set():
            seen.append(frozenset(m.Animal.objects.values_list("code", flat=True)))

    threads = [threading.Thread(target=in_thread(read)) for _ in range(2)]
    for one in threads:
        one.start()
    try:
        restore(path_of(made))
    finally:
        stop.set()
        for one in threads:
            one.join()
    assert len(now) == 60 and len(then) == 30
    assert set(seen) <= {now, then} and now in seen
    assert frozenset(m.Animal.objects.values_list("code", flat=True)) == then


def test_those_who_write_meanwhile_wait_and_notice(
    data: Path, owner: m.Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Forms of the life before are refused, and what no form asked for is written into the new."""
    Book(owner)
    made = making.make("by hand")
    came: list[str] = []
    waiting = threading.Barrier(3, timeout=20)

    def write(name: str, token: str) -> None:
        waiting.wait()
        try:
            with submitted(token, ""), writing(by=None, what=name) as entry:
                entry.keep(m.Contact(name=name))
            came.append(f"{name} wrote")
        except BookRestored:
            came.append(f"{name} noticed")

    of_before = submission.new_token()
    threads = [
        threading.Thread(target=in_thread(lambda one=one: write(*one)))  # type: ignore[misc]
        for one in (("form", of_before), ("program", ""))
    ]
    exchange = restoring._exchange_now

    def exchange_while_others_wait(*arguments: Any) -> None:
        for one in threads:
            one.start()
        waiting.wait()  # both go for the lock now, and this thread has it
        assert came == []
        exchange(*arguments)
        assert came == []

    monkeypatch.setattr(restoring, "_exchange_now", exchange_while_others_wait)
    restore(path_of(made))
    for one in threads:
        one.join()
    assert sorted(came) == ["form noticed", "program wrote"]
    assert [one.name for one in m.Contact.objects.all()] == ["program"]


def test_what_is_written_after_the_safety_copy_is_not_lost(
    data: Path, owner: m.Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = Book(owner)
    made = making.make("by hand")
    copy = making.before_risk
    copies = []

    def copy_and_write(what: str) -> Made | None:
        done = copy(what)
        copies.append(done)
        if len(copies) == 1:
            book.founder("LATE", "male")
        return done

    monkeypatch.setattr(making, "before_risk", copy_and_write)
    came = restore(path_of(made))
    assert len(copies) == 2
    assert not m.Animal.objects.exists()
    assert came.before is not None
    restore(path_of(came.before))
    assert m.Animal.objects.get().code == "LATE"


def test_somebody_who_goes_on_writing_keeps_the_book_as_it_is(
    data: Path, owner: m.Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = Book(owner)
    made = making.make("by hand")
    copy = making.before_risk
    number = 0

    def copy_and_write(what: str) -> Made | None:
        nonlocal number
        number += 1
        done = copy(what)
        book.founder(f"LATE-{number}", "male")
        return done

    monkeypatch.setattr(making, "before_risk", copy_and_write)
    with pytest.raises(Refused, match="goes on writing"):
        restore(path_of(made))
    assert m.Animal.objects.count() == 3


def test_a_restore_of_another_life_than_was_seen_is_refused(data: Path, owner: m.Account) -> None:
    made = making.make("by hand")
    with pytest.raises(Refused, match="restored meanwhile"):
        restore(path_of(made), seen_epoch="0" * 32)


def test_numbers_of_sheets_are_never_given_again(data: Path, owner: m.Account) -> None:
    animal = Book(owner).founder("F-1", "female")
    first, _ = issue(animal=animal, by=owner)
    made = making.make("by hand")
    lost, _ = issue(animal=animal, by=owner)
    assert (first.numbered, lost.numbered) == ("1", "2")
    given = {first.numbered, lost.numbered}
    for _ in range(2):
        restore(path_of(made))
        again, _ = issue(animal=m.Animal.objects.get(), by=m.Account.objects.get())
        assert again.numbered not in given
        assert again.content["numbered"] == f"Sale sheet no. {again.numbered}"
        assert m.Sheet.objects.get(number=1).numbered == "1"
        given.add(again.numbered)
    assert len({one.partition("-")[0] for one in given}) == 4


def test_without_a_copy_of_the_present_book_nothing_is_changed(
    data: Path, owner: m.Account
) -> None:
    made = making.make("by hand")
    path = path_of(made).rename(data / "kept.zip")
    (data / "backups").rmdir()
    (data / "backups").write_bytes(b"")  # a file where the folder should be
    shelf.set_wishes(shelf.Wishes(first=str(data / "backups")))
    Book(owner).founder("NOW", "male")
    with pytest.raises(NotMade, match="got no copy"):
        restore(path)
    assert m.Animal.objects.get().code == "NOW"
    assert restore(path, without_copy=True).before is None
    assert not m.Animal.objects.exists()


def test_a_copy_of_a_newer_program_is_refused(
    data: Path, owner: m.Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO django_migrations (app, name, applied) "
            "VALUES ('keeper', '9999_later', '2030-01-01')"
        )
    try:
        made = making.make("by hand")
    finally:
        with connection.cursor() as cursor:
            cursor.execute("DELETE FROM django_migrations WHERE name = '9999_later'")
    with pytest.raises(TooNew, match="it knows 9999_later"):
        restore(path_of(made))


def test_a_picture_folder_is_put_back_if_the_rows_are_not(
    data: Path, owner: m.Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    from keeper.domain.backups import pictures

    made = making.make("by hand")
    (data / "media").mkdir()
    (data / "media" / "now.jpg").write_bytes(b"now")
    exchange = pictures.exchange

    def exchange_and_fail(fresh: Path, *, until: str) -> None:
        exchange(fresh, until=until)
        raise OSError("pulled out")

    monkeypatch.setattr(pictures, "exchange", exchange_and_fail)
    life = m.Book.objects.get().epoch
    with pytest.raises(Refused, match=r"pulled out\. The book is as it was"):
        restore(path_of(made))
    assert (data / "media" / "now.jpg").read_bytes() == b"now"
    assert m.Book.objects.get().epoch == life
    assert sorted(one.name for one in data.iterdir() if "media" in one.name) == ["media"]
