"""What is only tried on keeps nothing, and nobody waits for it, on every database."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest
from django.db import connection

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.aside import MovesFigures, aside, kept_if_still, tried_aside
from keeper.domain.book.previewing import Preview, preview, tried
from keeper.domain.book.writing import writing
from tests.factories import AccountFactory
from tests.keeper.books import Book


def looked(book: Book, animal: m.Animal) -> m.DaybookEntry:
    with writing(by=book.by, what="Looked") as entry:
        book.look(entry, animal, seen=True)
    return entry.entry


def move(*, animal: m.Animal, place: str, by: m.Account) -> m.DaybookEntry:
    animal.place = place
    with writing(by=by, what=f"Moved {animal} to {place}") as entry:
        entry.keep(animal)
    return entry.entry


@pytest.mark.sockets  # the other database is reached over one
@pytest.mark.django_db(transaction=True)
def test_others_write_while_something_is_tried_on() -> None:
    book = Book(AccountFactory.create())
    dam = book.founder("D", "female")
    other = book.founder("O", "female")

    def elsewhere() -> None:
        try:
            looked(book, other)
        finally:
            connection.close()

    def work() -> tuple[list[str], str]:
        entry = looked(book, dam)
        # Not over before it is done: with a lock held here it would never be.
        with ThreadPoolExecutor(1) as hand:
            hand.submit(elsewhere).result(timeout=30)
        moved = m.StandingChange.objects.filter(entry=entry).values_list("animal__code", flat=True)
        return list(moved), m.Standing.objects.get(animal=dam, line=None).word

    assert tried_aside(work) == (["D", "D"], "visual")
    words = m.Standing.objects.filter(line=None).values_list("animal__code", "word")
    assert list(words) == [("O", "visual")]
    assert inference.differences() == []


@pytest.mark.sockets
@pytest.mark.django_db(transaction=True)
def test_what_is_tried_on_sees_the_book_as_it_stood() -> None:
    book = Book(AccountFactory.create())
    animal = book.founder("D", "female")

    def elsewhere() -> None:
        try:
            move(animal=m.Animal.objects.get(pk=animal.pk), place="Rack B", by=book.by)
        finally:
            connection.close()

    with aside():
        assert m.Animal.objects.get(pk=animal.pk).place == ""
        with ThreadPoolExecutor(1) as hand:
            hand.submit(elsewhere).result(timeout=30)
        assert m.Animal.objects.get(pk=animal.pk).place == ""
    assert m.Animal.objects.get(pk=animal.pk).place == "Rack B"


@pytest.mark.sockets
@pytest.mark.django_db(transaction=True)
def test_two_that_write_the_same_row_both_get_their_answer() -> None:
    book = Book(AccountFactory.create())
    animal = book.founder("D", "female")
    tries = []

    def elsewhere() -> None:
        try:
            move(animal=m.Animal.objects.get(pk=animal.pk), place="Rack B", by=book.by)
        finally:
            connection.close()

    def work() -> str:
        tries.append(m.Animal.objects.count())
        if len(tries) == 1:
            with ThreadPoolExecutor(1) as hand:
                hand.submit(elsewhere).result(timeout=30)
        move(animal=m.Animal.objects.get(pk=animal.pk), place="Rack C", by=book.by)
        return m.Animal.objects.get(pk=animal.pk).place

    assert tried_aside(work) == "Rack C"
    assert m.Animal.objects.get(pk=animal.pk).place == "Rack B"
    assert m.DaybookEntry.objects.filter(what__contains="Rack C").count() == 0


@pytest.mark.parametrize("transactions", [False, True])
def test_a_record_is_as_it_was_before_it_was_tried_on(
    request: pytest.FixtureRequest, transactions: bool
) -> None:
    request.getfixturevalue("transactional_db" if transactions else "db")
    book = Book(AccountFactory.create())
    animal = book.founder("D", "female")
    new = m.Look(animal=animal, on=date(2026, 6, 1), by=book.by)
    animal.place = "Rack C"
    read = dict(animal.as_read)

    def write() -> m.DaybookEntry:
        with writing(by=book.by, what="Moved and looked") as entry:
            entry.keep(animal)
            entry.keep(new)
        return entry.entry

    assert isinstance(preview(write), Preview)
    assert (getattr(new, "pk"), dict(animal.as_read)) == (None, read)  # noqa: B009  # is typed
    entry = write()
    assert m.Animal.objects.get(pk=animal.pk).place == "Rack C"
    assert m.Touch.objects.filter(entry=entry).count() == 2


@pytest.mark.django_db
def test_what_bears_on_no_figure_is_kept_at_once_and_written_once(owner: m.Account) -> None:
    book = Book(owner)
    animal = book.founder("D", "female")
    calls = []

    def moved() -> m.DaybookEntry:
        calls.append("moved")
        return move(animal=animal, place="Rack B", by=owner)

    assert isinstance(tried(moved, seen=""), m.DaybookEntry)
    assert calls == ["moved"]
    with pytest.raises(MovesFigures):
        kept_if_still(lambda: looked(book, animal))
    assert m.Observation.objects.count() == 0


@pytest.mark.django_db
def test_what_was_seen_is_written_and_what_was_not_is_shown(owner: m.Account) -> None:
    book = Book(owner)
    animal = book.founder("D", "female")
    first = tried(lambda: looked(book, animal), seen="")
    assert isinstance(first, Preview) and not first.again and first.moved.count == 1
    other = tried(lambda: looked(book, animal), seen="something else")
    assert isinstance(other, Preview) and other.again and other.digest == first.digest
    assert m.Observation.objects.count() == 0
    assert isinstance(tried(lambda: looked(book, animal), seen=first.digest), m.DaybookEntry)
    assert m.Observation.objects.count() == 1
