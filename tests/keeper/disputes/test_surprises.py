"""What was possible and very unlikely is pointed out; what was to be expected is not."""

from datetime import date

import pytest

from keeper import models as m
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def hets(book: Book) -> tuple[m.Animal, m.Animal]:
    return book.founder("F1", "female", "carries"), book.founder("M1", "male", "carries")


def pointed_out() -> list[tuple[str, float]]:
    return [(one.text, one.chance) for one in m.Surprise.objects.all()]


def test_five_visuals_of_five_from_two_hets_are_a_surprise(book: Book) -> None:
    dam, sire = hets(book)
    book.clutch("C1", dam, sire, visual=5)
    # By Mendel's rule a quarter is visual: five of five are 1 in 1024; no other number is rarer.
    ((text, chance),) = pointed_out()
    assert text == "Clutch C1: 5 of 5 showed Saltgrass"
    assert chance == pytest.approx(1 / 1024, rel=1e-12)


def test_what_is_likelier_than_one_in_500_is_none(book: Book) -> None:
    dam, sire = hets(book)
    book.clutch("C1", dam, sire, visual=4)
    book.clutch("C2", dam, sire, normal=8)
    assert pointed_out() == []


def test_a_surprise_goes_when_its_clutch_is_corrected(book: Book) -> None:
    dam, sire = hets(book)
    clutch = book.clutch("C1", dam, sire, visual=5)
    with writing(by=book.by, what="Counted again") as entry:
        row = clutch.hatch_rows.get()
        row.count = 2
        entry.keep(row)
        book.look(entry, entry.keep(m.Animal(species=book.species, code="K", clutch=clutch,
            hatch_row=row)), seen=True)  # fmt: skip
    assert pointed_out() == []


def test_a_result_against_all_that_is_known_is_a_surprise(book: Book) -> None:
    dam = book.founder("F1", "female", "carries")
    laboratory = m.Laboratory(name="Tidehead", misses="1/1000", mistakes="1/1000")
    with writing(by=book.by, what="Tested") as entry:
        entry.keep(laboratory)
        entry.keep(
            m.LabTest(
                animal=dam, line=book.line, found="none", laboratory=laboratory,
                on=date(2026, 6, 1),
            )
        )  # fmt: skip
    # It has one copy for certain, so the result is wrong: that happens once in a thousand.
    assert [chance for _, chance in pointed_out()] == [pytest.approx(1 / 1000, rel=1e-9)]
    undo(entry=entry.entry, by=book.by)
    assert pointed_out() == []


def test_a_surprise_stays_as_it_was_when_its_young_breed(book: Book) -> None:
    dam, sire = hets(book)
    clutch = book.clutch("C1", dam, sire)
    young = [book.young(f"K{n}", clutch, seen=True, sex="female") for n in range(5)]
    before = pointed_out()
    assert [text for text, _ in before] == ["Clutch C1: 5 of 5 showed Saltgrass"]
    book.clutch("C2", young[0], book.founder("M2", "male", "possible", "1/2"), normal=3)
    assert pointed_out() == before
