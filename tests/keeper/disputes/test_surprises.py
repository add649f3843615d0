"""What was possible and very unlikely is pointed out; what was to be expected is not."""

from datetime import date

import numpy as np
import pytest
from django.db import transaction
from scipy.stats import binom

from keeper import models as m
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from keeper.domain.inference.standings.surprises import ONE_IN, tail
from tests.factories import LineFactory, TraitFactory
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


def test_of_two_candidate_sires_each_may_be_it(book: Book) -> None:
    dam = book.founder("F1", "female", "visual")
    one, other = book.founder("M1", "male", "visual"), book.founder("M2", "male", "carries")
    book.clutch("C1", dam, one, other, visual=3)
    # Both say three of three easily: 1/2 + 1/2 × 1/8.
    assert pointed_out() == []
    book.clutch("C2", dam, one, other, visual=1, normal=9)
    # By M1 all are visual, by M2 half. One of ten by him is 10 in 1024, as nine are; none is 1;
    # together, by half, 21 in 2048.
    assert pointed_out() == []
    book.clutch("C3", dam, one, other, normal=10)
    # None is 1 in 1024 by half, and no number is as rare: of all ten M1 is the likelier sire.
    ((text, chance),) = pointed_out()
    assert text == "Clutch C3: 0 of 10 showed Saltgrass"
    assert chance == pytest.approx(1 / 2048)


def test_a_sire_who_cannot_give_it_makes_it_rarer(book: Book) -> None:
    dam, one = book.founder("F1", "female", "carries"), book.founder("M1", "male", "carries")
    other = book.founder("M2", "male", "clear")
    clutch = book.clutch("C1", dam, one, other)
    book.young("K1", clutch, seen=True)
    assert pointed_out() == []
    for number in range(2, 6):
        book.young(f"K{number}", clutch, seen=True)
    # Without what was seen of the trait he is as likely as the other: half of 1 in 1024.
    ((text, chance),) = pointed_out()
    assert text == "Clutch C1: 5 of 5 showed Saltgrass"
    assert chance == pytest.approx(1 / 2048)


def each_its_own(clutch: m.Clutch, book: Book, **rows: int) -> None:
    """Make each egg of a clutch one of its own sire, and let so many hatch."""
    clutch.paternity = m.Paternity.EACH
    with writing(by=book.by, what="Each its own") as entry:
        entry.keep(clutch)
        for look, count in rows.items():
            row = entry.keep(m.HatchRow(clutch=clutch, count=count))
            entry.keep(m.RowSighting(row=row, trait=book.trait, seen=look == "visual"))


def test_of_eggs_each_of_its_own_sire_a_half_is_a_half(book: Book) -> None:
    dam, one = book.founder("F1", "female", "visual"), book.founder("M1", "male", "visual")
    clutch = book.clutch("C1", dam, one, book.founder("M2", "male", "clear"))
    # By M1 every one is visual, by M2 none: a half of the eggs, none of ten as rare as all ten.
    each_its_own(clutch, book, normal=10)
    ((text, chance),) = pointed_out()
    assert text == "Clutch C1: 0 of 10 showed Saltgrass"
    assert chance == pytest.approx(2 / 1024)
    other = book.clutch("C2", dam, one, book.founder("M3", "male", "clear"))
    each_its_own(other, book, normal=5, visual=4)
    assert len(pointed_out()) == 1


def test_of_a_parent_that_is_not_recorded_the_other_tells(book: Book) -> None:
    book.trait = TraitFactory.create(species=book.species, name="Blaze", shown="single")
    book.line = LineFactory.create(trait=book.trait, code="ULV")
    book.clutch("C1", book.founder("F1", "female", "visual"), None, normal=10)
    ((text, chance),) = pointed_out()
    assert text == "Clutch C1: 0 of 10 showed Blaze"
    assert chance == pytest.approx(2 / 1024)
    book.clutch("C2", None, book.founder("M1", "male", "visual"), normal=8)
    assert len(pointed_out()) == 1


def test_of_eggs_as_they_come_fewer_than_one_clutch_in_500_is_pointed_out(book: Book) -> None:
    """Every number of eight, of a dam that is het at 2/3: a quarter of the eggs if she is."""
    dam = book.founder("F1", "female", "possible", "2/3")
    sires = book.founder("M1", "male", "visual"), book.founder("M2", "male", "clear")
    law = binom.pmf(np.arange(9), 8, 0.25) * 2 / 3
    law[0] += 1 / 3
    alarms = 0.0
    for seen in range(9):
        with transaction.atomic():
            clutch = book.clutch("C1", dam, *sires)
            rows = {"visual": seen, "normal": 8 - seen}
            each_its_own(clutch, book, **{look: count for look, count in rows.items() if count})
            found = pointed_out()
            transaction.set_rollback(True)
        rare = tail(law, seen)
        assert [chance for _, chance in found] == ([pytest.approx(rare)] if rare <= 0.002 else [])
        alarms += law[seen] * len(found)
    assert 0 < alarms <= 1 / ONE_IN


def test_so_many_traits_have_to_be_so_much_rarer(book: Book) -> None:
    dam, sire = hets(book)
    for code in ("DUN", "PEL", "QUE"):
        line = LineFactory.create(
            trait__species=book.species, code=code, locus__species=book.species
        )
        with writing(by=book.by, what=f"Said {code}") as entry:
            book.say(entry, dam, "carries", None, line)
    book.clutch("C1", dam, sire, visual=5)
    # 1 in 1024 of one trait in four is more than 1 in 500 of a clutch.
    assert pointed_out() == []
    book.clutch("C2", dam, sire, visual=6)
    ((text, chance),) = pointed_out()
    assert text == "Clutch C2: 6 of 6 showed Saltgrass"
    assert chance == pytest.approx(1 / 4096)


def test_of_clutches_as_they_come_fewer_than_one_in_500_is_pointed_out() -> None:
    """Books as they are: a sire of two, three traits, each carried by whom it may be."""
    draw = np.random.default_rng(7)
    number, alarms = 100_000, 0
    laws = {}
    for looked in range(3, 13):
        counts = np.arange(looked + 1)
        # By a het, by a visual, or by one that does not carry: weights as they are drawn below.
        parts = [binom.pmf(counts, looked, p) for p in (0.25, 0.5, 0.0)]
        laws[looked] = np.array([0.3, 0.2, 0.5]) @ np.array(parts)
    tails = {n: [tail(law, seen) for seen in range(n + 1)] for n, law in laws.items()}
    for looked in draw.integers(3, 13, number):
        chances = draw.choice([0.25, 0.5, 0.0], size=3, p=[0.3, 0.2, 0.5])
        seen = draw.binomial(looked, chances)
        alarms += any(tails[looked][one] <= 1 / ONE_IN / 3 for one in seen)
    assert 0 < alarms <= number / ONE_IN
