"""An open dispute sends a save to whole families only where it lies in one of these."""

from typing import Any

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.inference.standings.computing import SpeciesBook
from tests.keeper.books import Book


@pytest.fixture
def families(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """What was worked out with whole families."""
    found: list[object] = []
    whole = SpeciesBook.compute

    def compute(self: SpeciesBook, touched: Any) -> Any:
        found.append(touched)
        return whole(self, touched)

    monkeypatch.setattr(SpeciesBook, "compute", compute)
    return found


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def clash(book: Book) -> m.Clutch:
    """A family at odds with itself, in which somebody may carry something."""
    dam, sire = book.founder("N1", "female", "clear"), book.founder("N2", "male", "carries")
    clutch = book.clutch("B1", dam, sire)
    book.young("Y1", clutch, seen=True)
    assert m.Dispute.objects.filter(closed=None).count() == 1
    return clutch


def look(book: Book, animal: m.Animal, *, seen: bool = False) -> None:
    with writing(by=book.by, what="Looked") as entry:
        book.look(entry, animal, seen=seen)
    assert inference.differences() == []


def test_a_save_in_another_family_works_out_what_is_near(
    book: Book, families: list[object]
) -> None:
    dam, sire = (
        book.founder("F1", "female", "carries"),
        book.founder("M1", "male", "possible", "1/2"),
    )
    young = book.young("K1", book.clutch("C1", dam, sire), seen=None)
    clash(book)
    families.clear()
    look(book, young)
    assert families == []
    assert book.said(young) == ("possible", "57 %")


def test_a_save_in_the_family_at_odds_works_it_out_whole(
    book: Book, families: list[object]
) -> None:
    sib = book.young("Y2", clash(book), seen=None)
    families.clear()
    look(book, sib)
    assert len(families) == 1


def test_a_clutch_that_joins_the_two_families_is_worked_out_whole(
    book: Book, families: list[object]
) -> None:
    dam = book.founder("F1", "female", "carries")
    clash(book)
    mate = m.Animal.objects.get(code="N2")
    families.clear()
    clutch = book.clutch("C1", dam, mate)
    book.young("K1", clutch)
    assert len(families) == 1
    assert inference.differences() == []


def test_several_candidates_may_tie_in_other_families(book: Book, families: list[object]) -> None:
    dam, sire = (
        book.founder("F1", "female", "carries"),
        book.founder("M1", "male", "possible", "1/2"),
    )
    young = book.young("K1", book.clutch("C1", dam, sire), seen=None)
    other = book.founder("M2", "male", "possible", "1/2")
    book.clutch("C2", dam, sire, other, normal=2)
    clash(book)
    families.clear()
    look(book, young)
    assert len(families) == 1
