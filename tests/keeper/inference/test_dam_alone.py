"""Young of a dam alone, through the app's rows: two copies of one of her alleles at each locus."""

from fractions import Fraction

import pytest
from django.core.exceptions import ValidationError

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.clutches.writes import Candidate, change_clutch, lay_clutch
from tests.factories import LineFactory, LocusFactory
from tests.genetics.twin import twin
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db

ALONE = Candidate(None, alone=True)


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def laid(book: Book, code: str, dam: m.Animal | None, *candidates: Candidate) -> m.Clutch:
    clutch = m.Clutch(species=book.species, code=code, dam=dam)
    lay_clutch(clutch=clutch, candidates=candidates, by=book.by)
    return clutch


def chances(animal: m.Animal, line: m.Line) -> tuple[float, float, float]:
    one = m.Standing.objects.filter(animal=animal, line=line).first()
    return (0.0, 0.0, 1.0) if one is None else (one.two, one.one, one.none)


def test_young_of_a_het_alone_are_visual_or_free_of_it(book: Book) -> None:
    dam = book.founder("F1", "female", "carries")
    young = book.young("K1", laid(book, "C1", dam, ALONE), seen=None)
    assert chances(young, book.line) == pytest.approx((1 / 2, 0, 1 / 2))
    assert inference.differences() == []


def test_one_visual_proves_a_possible_het_alone(book: Book) -> None:
    dam = book.founder("F1", "female", "possible", "1/2")
    book.young("K1", laid(book, "C1", dam, ALONE), seen=True)
    assert book.said(dam) == ("proven", "100 %")
    assert inference.differences() == []


def test_a_male_or_none_is_told_by_what_hatched(book: Book) -> None:
    # A visual dam and a normal male: visuals are hers alone, hets are of both.
    dam, male = book.founder("F1", "female", "visual"), book.founder("M1", "male")
    alone = Candidate(None, Fraction(1, 10), alone=True)
    clutch = laid(book, "C1", dam, Candidate(male, Fraction(9, 10)), alone)
    assert inference.sire_chances(clutch) == pytest.approx({male.pk: 0.9, 0: 0.1})
    with writing(by=book.by, what="Hatched") as entry:
        row = entry.keep(m.HatchRow(clutch=clutch, count=1))
        entry.keep(m.RowSighting(row=row, trait=book.trait, seen=True))
    assert inference.sire_chances(clutch) == {male.pk: 0, 0: 1}
    assert inference.differences() == []


def test_three_states_of_a_sire_are_told_apart(book: Book) -> None:
    dam = book.founder("F1", "female", "carries")
    unknown, none, nobody = (
        laid(book, "C1", dam, Candidate(None)), laid(book, "C2", dam, ALONE), laid(book, "C3", dam)
    )  # fmt: skip
    found = [
        chances(book.young(f"K-{clutch}", clutch, seen=None), book.line)
        for clutch in (unknown, none, nobody)
    ]
    one_copy, two_or_none = (0, 1 / 2, 1 / 2), (1 / 2, 0, 1 / 2)
    assert found == [pytest.approx(one) for one in (one_copy, two_or_none, one_copy)]
    change_clutch(clutch=unknown, candidates=[ALONE], by=book.by)
    assert [(one.alone, one.sire) for one in unknown.candidates.live()] == [(True, None)]
    assert inference.differences() == []


def test_looks_of_a_clutch_of_hers_alone(book: Book) -> None:
    dam = book.founder("F1", "female", "carries")
    given = inference.clutch_looks(laid(book, "C1", dam, ALONE))
    found = {look.traits: look.chance for look in given.looks}
    assert found == pytest.approx({(): 1 / 2, (book.trait.pk,): 1 / 2})


def test_sex_linked_young_of_a_zw_dam_are_males_with_two_copies(owner: m.Account) -> None:
    book = Book(owner, sex_determination="ZW")
    locus = LocusFactory.create(species=book.species, chromosome="one")
    gale = LineFactory.create(
        trait__species=book.species, trait__name="Gale", locus=locus, code="DUN"
    )
    dam = book.founder("F1", "female", "visual", line=gale)
    young = book.young("K1", laid(book, "C1", dam, ALONE), seen=None, sex="male")
    assert chances(young, gale) == (1, 0, 0)


def test_kinship_of_a_young_with_its_dam_alone_is_a_half(book: Book) -> None:
    dam = book.founder("F1", "female")
    young = book.young("K1", laid(book, "C1", dam, ALONE), seen=None, sex="female")
    # 1/2 (1 + F of the dam), and she has none.
    assert inference.kinships([(young, dam)]) == [pytest.approx(1 / 2)]


def test_nobody_has_young_alone_without_being_named(book: Book) -> None:
    with pytest.raises(ValidationError, match="Name the dam or a sire"):
        laid(book, "C1", None, ALONE)


def keep(locus: m.Locus, chance: str, book: Book) -> None:
    """So often both copies of a dam stay in young of hers alone."""
    locus.retained = chance
    with writing(by=book.by, what="Retained") as entry:
        entry.keep(locus)


def test_what_stays_of_a_dam_alone_is_one_copy_as_hers(book: Book) -> None:
    dam = book.founder("F1", "female", "carries")
    young = book.young("K1", laid(book, "C1", dam, ALONE), seen=None)
    keep(book.line.locus, "1/5", book)
    # One in five is as she is; of the others a half has two copies.
    assert chances(young, book.line) == pytest.approx((2 / 5, 1 / 5, 2 / 5))
    row = m.Standing.objects.get(animal=young, line=book.line)
    assert row.customary == pytest.approx(3 / 5)
    given = inference.pairing(dam, dam)
    assert {one.line: one.one for one in given.young}[book.line.pk] == pytest.approx(1 / 5)
    with writing(by=book.by, what="Looked") as entry:
        book.look(entry, young, seen=False)
    # One copy or none, 1/5 to 2/5: the engine, the twin and the customary figure.
    told = twin(inference.case_file(young))["posterior"]["K1"][book.line.locus.name]
    assert told["+/HAR"] == pytest.approx(1 / 3)
    assert chances(young, book.line) == pytest.approx((0, told["+/HAR"], told["+/+"]))
    assert inference.differences() == []


def test_lines_that_may_be_one_gene_stay_as_often_as_the_least_of_them(book: Book) -> None:
    other = LineFactory.create(trait=book.trait, code="PEL", locus__species=book.species)
    dam = book.founder("F1", "female", "carries")
    young = book.young("K1", laid(book, "C1", dam, ALONE), seen=None)
    keep(book.line.locus, "1/5", book)
    keep(other.locus, "1/10", book)
    assert chances(young, book.line)[1] == pytest.approx(1 / 5)
    pair = m.OpenPair(one=book.line, other=other, prior="1/2")
    with writing(by=book.by, what="One gene, perhaps") as entry:
        entry.keep(pair)
    assert chances(young, book.line)[1] == pytest.approx(1 / 10)
    assert inference.differences() == []
