"""An import worked out on a copy and put into the book in one step, while others go on."""

import re
import threading
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from keeper import models as m
from keeper.domain import inference
from keeper.domain.backups import making, shelf
from keeper.domain.backups.troubles import NotMade
from keeper.domain.book.aside import aside
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from keeper.domain.imports import ahead, running, writes
from tests.keeper.backups.rows import Rows, all_rows
from tests.keeper.books import Book
from tests.keeper.imports.tables import begun, picked, table, tried

pytestmark = pytest.mark.django_db(transaction=True)

ROWS = table(
    "Code,Sex,Hatched,Dam,Sire,Traits,Rack",
    "F-1,f,,,,,R9",  # is there: her rack is filled in
    "K-1,m,2022-05-03,F-1,M-1,Saltgrass,",  # and proves her and him
    "K-2,f,2022-05-03,F-1,M-1,normal,",
    "X-1,f,2019,,,het Saltgrass,",
)


@pytest.fixture(autouse=True)
def _sqlite_with_its_own_data(settings: Any, tmp_path: Path) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL has no file to copy: there it is written behind the lock")
    settings.DATA = tmp_path


@pytest.fixture
def book(owner: m.Account) -> Book:
    made = Book(owner)
    made.founder("F-1", "female", "possible", "1/2")
    made.founder("M-1", "male", "possible", "1/2")
    return made


@pytest.fixture
def one(book: Book, owner: m.Account) -> m.Import:
    found = picked(begun(owner, ROWS), fill=True)
    m.Import.objects.update(seen=tried(found).digest, stage=m.Stage.WRITING, process="this")
    found.refresh_from_db()
    return found


def elsewhere(do: Callable[[], object]) -> None:
    """Do something in another thread, on a connection of its own."""

    def act() -> None:
        try:
            do()
        finally:
            connection.close()

    thread = threading.Thread(target=act)
    thread.start()
    thread.join(timeout=60)
    assert not thread.is_alive()


def somebody_writes(owner: m.Account, code: str) -> None:
    with writing(by=owner, what="Added") as entry:
        entry.keep(m.Animal(species=m.Species.objects.get(), code=code, sex="male"))


def told(rows: Rows) -> Rows:
    """Rows without what is new each time: moments, and identities drawn at random."""
    new = re.compile(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d.*|[0-9a-f]{32}")

    def same(one: object) -> object:
        return new.sub("…", str(one)) if isinstance(one, str | datetime) else one

    return {
        table: sorted((tuple(map(same, row)) for row in listed), key=repr)
        for table, listed in rows.items()
    }


def test_book_is_what_it_would_be_if_it_were_written_behind_the_lock(
    one: m.Import, owner: m.Account, tmp_path: Path
) -> None:
    with aside():
        writes.bring_in(one=one, by=owner)
        behind_the_lock = told(all_rows())
    before = told(all_rows())
    assert before != behind_the_lock
    with ahead.worked_out(lambda: writes.bring_in(one=one, by=owner), folder=tmp_path) as made:
        assert told(all_rows()) == before  # nobody sees any of it yet
        made.put_in()
    assert told(all_rows()) == behind_the_lock
    connection.check_constraints()
    assert inference.differences() == []


def test_it_moves_figures_of_before_and_is_taken_back_whole(
    one: m.Import, owner: m.Account, tmp_path: Path
) -> None:
    with ahead.worked_out(lambda: writes.bring_in(one=one, by=owner), folder=tmp_path) as made:
        # Of no entry, and not in the way.
        elsewhere(lambda: m.SavedView.objects.create(account=owner, name="mine", query=""))
        made.put_in()
    assert m.SavedView.objects.count() == 1
    one.refresh_from_db()
    assert one.entry is not None
    assert str(one.entry) == "3 animals, 1 filled in, brought in from herd.csv"
    proven = m.Standing.objects.filter(word="proven", line=None).order_by("animal__code")
    assert [str(row.animal) for row in proven.select_related("animal")] == ["F-1", "M-1"]
    changes = one.entry.changes.filter(line=None).order_by("animal__code")
    assert [row.animal.code for row in changes] == ["F-1", "K-1", "K-2", "M-1", "X-1"]
    assert m.Animal.objects.get(code="F-1").place == "R9"
    undo(entry=one.entry, by=owner)
    assert m.Animal.objects.get(code="F-1").place == ""
    assert [row.code for row in m.Animal.objects.live().order_by("code")] == ["F-1", "M-1"]
    assert inference.differences() == []


def test_others_write_meanwhile_and_it_is_worked_out_again(
    one: m.Import, owner: m.Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[str] = []
    tries: list[str] = []

    def bring_in(**given: Any) -> m.DaybookEntry:
        entry = writes.bring_in(**given)
        tries.append(str(connection.settings_dict["NAME"]))
        if len(tries) == 1:
            elsewhere(lambda: somebody_writes(owner, "B-1"))
        return entry

    monkeypatch.setattr(running, "bring_in", bring_in)
    running.run(one, owner, say=lambda doing, *_, **__: told.append(doing))
    one.refresh_from_db()
    assert (one.stage, one.problem) == (m.Stage.DONE, "")
    assert len(tries) == 2
    assert [tried for tried in told if tried == running.AGAIN] == [running.AGAIN]
    assert (told[0], told[-1]) == (running.COPYING, running.PUTTING_IN)
    assert m.Animal.objects.count() == 6
    assert m.DaybookEntry.objects.order_by("-pk")[0] == one.entry
    assert inference.differences() == []


def test_where_somebody_goes_on_writing_it_is_written_behind_the_lock(
    one: m.Import, owner: m.Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    live = str(connection.settings_dict["NAME"])
    tries: list[str] = []

    def bring_in(**given: Any) -> m.DaybookEntry:
        entry = writes.bring_in(**given)
        tries.append(str(connection.settings_dict["NAME"]))
        if tries[-1] != live:
            elsewhere(lambda: somebody_writes(owner, f"B-{len(tries)}"))
        return entry

    monkeypatch.setattr(running, "bring_in", bring_in)
    running.run(one, owner)
    one.refresh_from_db()
    assert (one.stage, len(tries), tries[-1]) == (m.Stage.DONE, 3, live)
    assert m.Animal.objects.count() == 7
    assert inference.differences() == []


def test_import_that_was_thrown_away_meanwhile_is_not_written(
    one: m.Import, owner: m.Account, tmp_path: Path
) -> None:
    with ahead.worked_out(lambda: writes.bring_in(one=one, by=owner), folder=tmp_path) as made:
        m.Import.objects.update(stage=m.Stage.FAILED)
        with pytest.raises(ahead.Overtaken):
            made.put_in(lambda: running._is_as_it_was(one))
    assert m.Animal.objects.count() == 2
    assert m.Import.objects.get().stage == m.Stage.FAILED


def test_copy_of_the_book_is_made_before_and_nothing_is_left_beside_it(
    one: m.Import, owner: m.Account, tmp_path: Path
) -> None:
    running.run(one, owner)
    (made,) = shelf.read().made
    assert made.why == "before an import"
    assert not list(tmp_path.glob("importing-*"))


def test_without_a_copy_it_is_written_only_if_that_is_said(
    one: m.Import, owner: m.Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise NotMade("No copy could be made: the disk is full. Make room.")

    monkeypatch.setattr(making, "make", fail)
    running.run(one, owner)
    one.refresh_from_db()
    assert (one.stage, m.Animal.objects.count()) == (m.Stage.FAILED, 2)
    assert one.problem == (
        "No copy could be made: the disk is full. Make room. Nothing was written. Or say below "
        "that it is to be written without a copy."
    )
    m.Import.objects.update(stage=m.Stage.WRITING)
    one.refresh_from_db()
    running.run(one, owner, without_copy=True)
    assert m.Animal.objects.count() == 5


def test_what_a_program_that_ended_was_writing_is_settled_at_the_next_start(
    one: m.Import, tmp_path: Path
) -> None:
    (tmp_path / "importing-left").mkdir()
    running.settle()
    one.refresh_from_db()
    assert (one.stage, one.process) == (m.Stage.FAILED, "")
    assert one.problem.endswith("Nothing was written: start it again.")
    assert not (tmp_path / "importing-left").exists()
