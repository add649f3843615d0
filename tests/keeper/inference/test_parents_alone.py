"""The figure by the parents alone, in the rows of the app."""

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.saying.wording import said
from tests.factories import LineFactory, TraitFactory
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def alone(animal: m.Animal) -> float | None:
    """Its customary figure of its only trait, all lines."""
    return m.Standing.objects.get(animal=animal, line=None).customary


def test_the_only_young_of_two_possible_hets_has_the_same_by_its_parents_alone(book: Book) -> None:
    # 2/3 and 2/3, a normal young: het 4/9, +/+ 4/9 (worked out in tests/genetics).
    dam = book.founder("F1", "female", "possible", "2/3")
    clutch = book.clutch("C1", dam, book.founder("M1", "male", "possible", "2/3"))
    only = book.young("K1", clutch)
    standing = m.Standing.objects.get(animal=only, line=None)
    assert standing.carries == pytest.approx(1 / 2)
    assert standing.customary == pytest.approx(1 / 2)
    assert said(standing).beside == ""
    # A sib moves its parents' figures to 5/8 each, and independent as they are taken: 10/21.
    sib = book.young("K2", clutch)
    assert [alone(one) for one in (only, sib)] == [pytest.approx(10 / 21)] * 2
    assert inference.differences() == []


def test_a_young_that_proves_its_parent_has_by_it_what_it_had_before(book: Book) -> None:
    dam = book.founder("F1", "female", "possible", "2/3")
    mate, visual = book.founder("M1", "male"), book.founder("M2", "male", "visual")
    daughter = book.young("K1", book.clutch("C1", dam, mate), sex="female")
    book.clutch("C2", daughter, visual, visual=1)
    assert book.said(dam)[0] == "deduced"
    assert alone(daughter) == pytest.approx(1 / 3)
    assert said(m.Standing.objects.get(animal=daughter, line=None)).beside == (
        "33 % by its parents alone"
    )
    # A second daughter proves the dam without the first, and the first without the second.
    second = book.young("K2", book.clutch("C3", dam, mate), sex="female")
    assert alone(second) == 1 / 2
    book.clutch("C4", second, visual, visual=1)
    assert [alone(daughter), alone(second)] == [1 / 2, 1 / 2]
    assert inference.differences() == []


def unknown_line(book: Book, code: str) -> m.Animal:
    """A male that is said to carry the trait, of whichever line."""
    with writing(by=book.by, what=f"Added {code}") as entry:
        animal = entry.keep(m.Animal(species=book.species, code=code, sex="male"))
        entry.keep(m.Statement(animal=animal, trait=book.trait, claim="carries"))
    return animal


def test_a_het_of_a_line_not_known_gives_half(book: Book) -> None:
    for code in ("PEL", "TOR"):
        LineFactory.create(trait=book.trait, code=code)
    dam, sires = book.founder("F1", "female"), [unknown_line(book, f"M{n}") for n in (1, 2)]
    one = book.young("K1", book.clutch("C1", dam, sires[0]))
    other = book.young("K2", book.clutch("C2", dam, *sires))
    assert [alone(one), alone(other)] == [pytest.approx(1 / 2)] * 2
    assert inference.differences() == []


def test_a_visual_of_a_dominant_trait_has_it_by_its_own_look(book: Book) -> None:
    trait = TraitFactory.create(species=book.species, name="Gale", shown="dominant")
    line = LineFactory.create(trait=trait, code="DUN")
    dam = book.founder("F1", "female", "visual", line=line)
    clutch = book.clutch("C1", dam, book.founder("M1", "male"))
    looked = book.young("K1", clutch, seen=None)
    with writing(by=book.by, what="Looked") as entry:
        entry.keep(
            m.Observation(animal=looked, trait=trait, seen="yes", on="2026-06-01", by=book.by)
        )
    not_looked = book.young("K2", clutch, seen=None)
    # One visual founder in 199 has two copies where 1/100 of all alleles are the gene's; by its
    # visual young it is one in 100: 1/199 against 198/199 · 1/2.
    assert alone(looked) == 1.0
    assert alone(not_looked) == pytest.approx((1 + 1 / 100) / 2)
    assert inference.differences() == []


def test_a_laboratory_tells_of_the_tested_figure_alone(book: Book) -> None:
    dam = book.founder("F1", "female", "possible", "2/3")
    young = book.young("K1", book.clutch("C1", dam, book.founder("M1", "male")))
    with writing(by=book.by, what="Tested") as entry:
        laboratory = m.Laboratory.objects.create(name="Hollin", misses="0", mistakes="0")
        entry.keep(
            m.LabTest(
                animal=young, line=book.line, found="carries", laboratory=laboratory,
                on="2026-06-01",
            )
        )  # fmt: skip
    assert book.said(young) == ("tested", "100 %")
    assert alone(young) == pytest.approx(1 / 3)
    assert inference.differences() == []
