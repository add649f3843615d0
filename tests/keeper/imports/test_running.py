"""Writing in the background: what is told, and what comes of a process that ended."""

import threading
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from keeper import models as m
from keeper.domain.book.writing import Refused
from keeper.domain.imports import changing, running, writes
from keeper.domain.imports.checking import checked
from tests.keeper.books import Book
from tests.keeper.counting import queries_of
from tests.keeper.imports.conftest import Bring
from tests.keeper.imports.tables import begun, picked, table


@pytest.fixture
def one(owner: m.Account) -> m.Import:
    Book(owner)
    return picked(begun(owner, table("Code,Sex", "A-1,f", "A-2,m")))


@pytest.mark.django_db(transaction=True)
def test_import_is_written_in_a_thread_and_the_page_can_be_left(
    one: m.Import, owner: m.Account, settings: Any
) -> None:
    settings.WORK_IN_BACKGROUND = True
    running.start(one=one, version=one.version, by=owner)
    for thread in threading.enumerate():
        if thread.name == f"import {one.pk}":
            thread.join(timeout=60)
    one.refresh_from_db()
    assert (one.stage, one.problem, m.Animal.objects.count()) == (m.Stage.DONE, "", 2)
    assert running.progress(one) is None


@pytest.mark.django_db
def test_each_step_is_told(one: m.Import, owner: m.Account) -> None:
    m.Import.objects.update(seen=checked(one).digest)
    told: list[tuple[str, int, int]] = []
    writes.bring_in(one=one, by=owner, tell=lambda *said: told.append(said))
    assert told == [(writes.CHECKING, 0, 0), (writes.KEEPING, 0, 2), (writes.FIGURES, 0, 0)]


@pytest.mark.django_db
def test_process_that_ended_leaves_nothing_written_and_says_so(
    one: m.Import, owner: m.Account, bring: Bring
) -> None:
    m.Import.objects.update(stage=m.Stage.WRITING, process="of another day")
    one.refresh_from_db()
    with pytest.raises(Refused, match="being written"):
        changing.leave_out(one=one, rows=[2], out=True)
    assert running.progress(one) is None
    assert (one.stage, m.Animal.objects.count()) == (m.Stage.FAILED, 0)
    assert one.problem.endswith("Nothing was written: start it again.")
    assert bring(one).stage == m.Stage.DONE


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("error", "problem"),
    [
        (ValidationError("Not so."), "Not so. Nothing was written."),
        (Refused("Look again."), "Look again."),
        (RuntimeError("what nobody thought of"), running._FAILED),
    ],
)
def test_what_keeps_it_from_being_written_stands_with_it(
    one: m.Import,
    owner: m.Account,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    error: Exception,
    problem: str,
) -> None:
    def fail(**_: object) -> None:
        raise error

    monkeypatch.setattr(running, "bring_in", fail)
    m.Import.objects.update(stage=m.Stage.WRITING)
    running.run(one, owner)
    one.refresh_from_db()
    assert (one.stage, one.problem) == (m.Stage.FAILED, problem)


@pytest.mark.django_db
def test_import_is_begun_once(one: m.Import, owner: m.Account, bring: Bring) -> None:
    bring(one)
    with pytest.raises(Refused, match="already"):
        running.start(one=one, version=one.version, by=owner)
    assert m.Animal.objects.count() == 2


@pytest.mark.django_db
def test_import_that_was_changed_elsewhere_is_not_written(one: m.Import, owner: m.Account) -> None:
    changing.leave_out(one=one, rows=[2], out=True)
    with pytest.raises(Refused, match="changed in another window"):
        running.start(one=one, version=one.version, by=owner)


@pytest.mark.django_db
def test_queries_of_writing_grow_little_with_the_rows(owner: m.Account, bring: Bring) -> None:
    Book(owner)

    def cost(first: int, count: int) -> int:
        rows = [f"A-{n},f,het Saltgrass,S" for n in range(first, first + count)]
        one = picked(begun(owner, table("Code,Sex,Traits,From", *rows)))
        return queries_of(lambda: bring(one))

    cost(0, 2)  # the contact is made with the first
    few, many = cost(100, 10), cost(200, 40)
    # A statement asks whether its trait has a line: one query each, and little more.
    assert (many - few) / 30 < 1.1
