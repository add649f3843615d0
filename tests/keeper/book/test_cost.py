"""What a save asks of the database does not grow with the hatchlings, nor with open disputes."""

from datetime import date
from itertools import groupby

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from keeper import models as m
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from keeper.domain.clutches.hatching import Counted, Hatch, log_hatch
from tests.keeper.books import Book
from tests.keeper.counting import queries_of


def pair(book: Book) -> tuple[m.Animal, m.Animal]:
    """A pair of their own family."""
    number = m.Animal.objects.count()
    dam = book.founder(f"D{number}", "female", "carries")
    return dam, book.founder(f"S{number}", "male", "possible", "1/2")


def laid(book: Book) -> m.Clutch:
    return book.clutch(f"C{m.Clutch.objects.count()}", *pair(book))


def hatched(book: Book, clutch: m.Clutch, recorded: int) -> m.DaybookEntry:
    """Hatch day, so many of fifty with a record of their own."""
    row = Counted(frozenset(), frozenset([book.trait.pk]), m.Sex.UNKNOWN, 50, record=recorded)
    hatch = Hatch(on=date(2026, 7, 1), eggs=50, slugs=0, lost=0, rows=[row])
    return log_hatch(clutch=clutch, hatch=hatch, by=book.by)


@pytest.fixture
def book(owner: m.Account) -> Book:
    book = Book(owner)
    hatched(book, laid(book), 1)  # whatever is put together once is by now
    return book


def in_one_go(sql: str) -> str:
    """What is the same of the parts of one insert: a database takes so many values at once."""
    return sql.split("VALUES")[0] if sql.startswith("INSERT") else sql


def test_a_hatch_is_saved_in_as_many_queries_with_fifty_records(book: Book) -> None:
    def queries(recorded: int) -> int:
        clutch = laid(book)
        with CaptureQueriesContext(connection) as caught:
            hatched(book, clutch, recorded)
        return len(list(groupby(caught.captured_queries, lambda one: in_one_go(one["sql"]))))

    assert queries(1) == queries(50)


def test_the_page_after_a_hatch_takes_as_many_queries_with_fifty_records(
    book: Book, owner_client: Client
) -> None:
    def queries(recorded: int) -> int:
        clutch = laid(book)
        entry = hatched(book, clutch, recorded)
        address = f"/clutches/{clutch.pk}/?moved={entry.pk}"
        owner_client.get(address)
        return queries_of(lambda: owner_client.get(address))

    assert queries(1) == queries(50)


def clash(book: Book) -> None:
    """A family at odds with itself: a young is seen to show what its parents cannot give."""
    number = m.Animal.objects.count()
    clear = [book.founder(f"N{number}{sex}", sex, "clear") for sex in ("female", "male")]
    book.young(f"Y{number}", book.clutch(f"B{number}", *clear), seen=True)


def test_a_save_takes_as_many_queries_with_fifty_open_disputes(book: Book) -> None:
    def queries() -> int:
        clutch = laid(book)
        young = [book.young(f"K{m.Animal.objects.count()}", clutch, seen=None) for _ in range(2)]
        with writing(by=book.by, what="Looked") as entry:
            book.look(entry, young[0], seen=False)

        def look() -> None:
            with writing(by=book.by, what="Looked") as entry:
                book.look(entry, young[1], seen=False)

        return queries_of(look)

    clash(book)
    one = queries()
    for _ in range(49):
        clash(book)
    assert m.Dispute.objects.filter(closed=None).count() == 50
    assert queries() == one


def test_a_hatch_is_taken_back_in_as_many_queries_with_fifty_records(book: Book) -> None:
    def queries(recorded: int) -> int:
        entry = hatched(book, laid(book), recorded)
        with CaptureQueriesContext(connection) as caught:
            undo(entry=entry, by=book.by)
        return len(list(groupby(caught.captured_queries, lambda one: in_one_go(one["sql"]))))

    queries(1)  # what is asked for once in a process
    assert queries(2) == queries(50)
