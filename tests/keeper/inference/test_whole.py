"""The whole book solved ahead: what is saved meanwhile is never overwritten with what was."""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.db import connection

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.snapshots import snapshot
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from keeper.domain.inference.standings.solving import Here
from tests.factories import AccountFactory
from tests.keeper.books import Book

Rows = list[tuple[Any, ...]]


class Interrupted(Here):
    """Somebody saves something after the book was read, and before it is solved."""

    def __init__(self, save: Callable[[], object]) -> None:
        super().__init__()
        self.save = save

    def answers(self) -> Iterator[Any]:
        """Save, then solve."""
        self.save()
        return super().answers()


def rows() -> Rows:
    """Every standing, but for its number and its entry."""
    columns = ("two", "one", "none", "mixed", "error", "customary", "word", "clean_young")
    whose = ("animal__code", "trait_id", "line_id")
    found = m.Standing.objects.order_by(*whose)
    return list(found.values_list(*whose, *columns, "dispute__fingerprint"))


def put_right(ahead: inference.SolvedAhead) -> Rows:
    with writing(by=None, what="Recomputed the whole book", of_records=False) as book:
        inference.recompute(entry=book.entry, ahead=ahead)
    return rows()


@pytest.fixture
def book(owner: m.Account) -> Book:
    """Two families that have nothing to do with one another."""
    made = Book(owner)
    for number in ("1", "2"):
        dam = made.founder(f"F{number}", "female", "carries")
        sire = made.founder(f"M{number}", "male", "possible", "1/2")
        # Nobody has looked at it yet.
        clutch = made.clutch(f"C{number}", dam, sire, normal=3)
        made.young(f"K{number}", clutch, seen=None)
    return made


def one(code: str) -> m.Animal:
    return m.Animal.objects.get(code=code)


@pytest.mark.django_db
def test_what_is_solved_ahead_makes_the_same_rows(book: Book) -> None:
    kept = rows()
    m.Standing.objects.all().delete()
    ahead = inference.solved_ahead()
    assert put_right(ahead) == kept
    assert (ahead.reused, ahead.anew) == (0, 0)


@pytest.mark.django_db
def test_told_counts_up_to_all_there_is_to_solve(book: Book) -> None:
    heard: list[tuple[int, int]] = []
    inference.solved_ahead(told=lambda done, of: heard.append((done, of)))
    # Two families of three animals and a clutch.
    assert heard == [(4, 8), (8, 8)]


@pytest.mark.django_db
def test_a_look_saved_meanwhile_has_its_family_solved_anew(book: Book) -> None:
    def look() -> None:
        with writing(by=book.by, what="Looked") as entry:
            book.look(entry, one("K1"), seen=True)

    ahead = inference.solved_ahead(Interrupted(look))
    kept = rows()
    assert inference.differences(ahead) == []
    assert (ahead.reused, ahead.anew) == (1, 1)
    assert put_right(ahead) == kept
    assert book.said(one("K1")) == ("visual", "100 %")
    assert inference.differences() == []


@pytest.mark.django_db
def test_a_save_between_comparing_and_writing_is_not_overwritten(book: Book) -> None:
    ahead = inference.solved_ahead()
    assert inference.differences(ahead) == []
    m.Standing.objects.filter(animal=one("K2")).update(none=0.5)
    with writing(by=book.by, what="Looked") as entry:
        book.look(entry, one("K1"), seen=True)
    put_right(ahead)
    assert (ahead.reused, ahead.anew) == (1, 1)
    assert inference.differences() == []


@pytest.mark.django_db
@pytest.mark.parametrize("act", ["withdraw", "undo", "new species", "joined families"])
def test_whatever_happens_meanwhile_a_recompute_agrees(book: Book, act: str) -> None:
    def meanwhile() -> None:
        if act == "withdraw":
            with writing(by=book.by, what="Withdrew") as entry:
                entry.withdraw(m.Statement.objects.get(animal=one("F1")), reason="wrong")
        elif act == "undo":
            last = m.DaybookEntry.objects.order_by("-pk")[0]
            undo(entry=last, by=book.by)
        elif act == "new species":
            other = Book(book.by)
            other.founder("X", "female", "carries")
        else:
            book.clutch("J", one("F1"), one("M2"), normal=2)

    ahead = inference.solved_ahead(Interrupted(meanwhile))
    kept = rows()
    assert put_right(ahead) == kept
    assert inference.differences() == []


@pytest.mark.sockets  # the other database is reached over one
@pytest.mark.django_db(transaction=True)
def test_a_snapshot_keeps_nobody_waiting_and_sees_nothing_new() -> None:
    book = Book(AccountFactory.create())

    def save() -> None:
        try:
            book.founder("F", "female", "carries")
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as hand:
        with snapshot():
            assert m.Animal.objects.count() == 0
            hand.submit(save).result(timeout=15)
            assert m.Animal.objects.count() == 0
        assert m.Animal.objects.count() == 1


@pytest.mark.sockets  # the other database is reached over one
@pytest.mark.django_db(transaction=True)
def test_another_saves_while_the_book_is_solved() -> None:
    book = Book(AccountFactory.create())
    dam = book.founder("F", "female", "carries")
    clutch = book.clutch("C", dam, book.founder("M", "male", "carries"), normal=1)

    def save() -> None:
        def look() -> None:
            try:
                book.young("K", clutch, seen=True)
            finally:
                connection.close()

        with ThreadPoolExecutor(1) as hand:
            hand.submit(look).result(timeout=15)

    ahead = inference.solved_ahead(Interrupted(save))
    kept = rows()
    assert put_right(ahead) == kept
    assert (ahead.reused, ahead.anew) == (0, 1)
    assert inference.differences() == []


@pytest.mark.django_db
def test_a_recompute_within_its_entry_reads_the_book_once(book: Book) -> None:
    with writing(by=None, what="Recomputed", of_records=False) as entry:
        ahead = inference.SolvedAhead(entry=entry.entry)
        inference.recompute(entry=entry.entry, ahead=ahead)
    assert (ahead.reused, ahead.anew) == (0, 0)
