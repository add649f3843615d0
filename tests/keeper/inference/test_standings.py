"""Standings follow the book: the textbook's figures, read through the app's own path."""

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.saying.figures import carrier_percent
from tests.factories import ContactFactory, LineFactory
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def test_normal_young_of_two_hets_are_66_percent_hets(book: Book) -> None:
    # Two thirds of the normal-looking offspring of two carriers carry: Mendel 1866, §§ 4–5.
    clutch = book.clutch(
        "C1", book.founder("F1", "female", "carries"), book.founder("M1", "male", "carries")
    )
    one = book.young("K1", clutch)
    assert book.said(one) == ("possible", "66 %")


def test_a_visual_hatchling_proves_its_parents(book: Book) -> None:
    dam = book.founder("F1", "female", "possible", "66 %")
    sire = book.founder("M1", "male", "possible", "50 %")
    assert book.said(dam) == ("stated", "66 %")
    book.clutch("C1", dam, sire, visual=1, normal=3)
    assert (book.said(dam), book.said(sire)) == (("proven", "100 %"), ("proven", "100 %"))
    change = m.StandingChange.objects.filter(animal=dam, line=None).latest("pk")
    assert (change.word_before, change.word) == ("stated", "proven")


def test_young_of_a_visual_are_het_by_parentage(book: Book) -> None:
    clutch = book.clutch("C1", book.founder("F1", "female", "visual"), book.founder("M1", "male"))
    assert book.said(book.young("K1", clutch)) == ("parentage", "100 %")


def test_clean_young_lower_the_figure(book: Book) -> None:
    # From a possible het at 1/2 to a visual: after n normal young 1/2ⁿ / (1/2ⁿ + 1).
    dam = book.founder("F1", "female", "possible", "1/2")
    book.clutch("C1", dam, book.founder("M1", "male", "visual"), normal=6)
    standing = m.Standing.objects.get(animal=dam, line=None)
    assert standing.none == pytest.approx(1 - (1 / 64) / (1 / 64 + 1))
    assert (standing.word, standing.clean_young, carrier_percent(standing)) == ("clean", 6, "2 %")


def test_a_stated_100_percent_het_is_not_called_proven(book: Book) -> None:
    assert book.said(book.founder("F1", "female", "carries")) == ("stated", "100 %")


def test_records_or_tally_tell_the_parents_the_same(book: Book) -> None:
    sire = book.founder("M1", "male", "visual")
    tallied = book.founder("F1", "female", "possible", "1/2")
    recorded = book.founder("F2", "female", "possible", "1/2")
    book.clutch("C1", tallied, sire, normal=3)
    second = book.clutch("C2", recorded, sire)
    for n in range(3):
        book.young(f"K{n}", second)
    figures = m.Standing.objects.filter(line=None, animal__in=[tallied, recorded])
    assert len({round(one.none, 12) for one in figures}) == 1


def test_impossible_evidence_is_kept_and_disputed(book: Book) -> None:
    dam, sire = book.founder("F1", "female", "visual"), book.founder("M1", "male")
    other = book.founder("F2", "female", "possible", "1/2")
    clutch = book.clutch("C1", dam, sire)
    one = book.young("K1", clutch, seen=True)
    dispute = m.Dispute.objects.get()
    assert dispute.closed is None
    texts = sorted(record["text"] for record in dispute.conflict)
    assert texts == ["C1", "Saltgrass seen on K1"]
    standing = m.Standing.objects.get(animal=one, line=None)
    assert standing.is_disputed
    assert not m.Standing.objects.get(animal=other, line=None).is_disputed
    with writing(by=book.by, what="Looked again") as entry:
        entry.withdraw(m.Observation.objects.get(animal=one), reason="misread")
    assert not m.Dispute.objects.filter(closed=None).exists()
    assert book.said(one) == ("parentage", "100 %")


def test_recompute_finds_no_difference(book: Book) -> None:
    test_impossible_evidence_is_kept_and_disputed(book)
    assert inference.differences() == []


def test_line_not_known_is_spread_over_two_lines_of_one_locus(book: Book) -> None:
    LineFactory.create(trait=book.trait, locus=book.line.locus, code="PEL")
    with writing(by=book.by, what="Added") as entry:
        animal = entry.keep(m.Animal(species=book.species, code="F1", sex="female"))
        entry.keep(
            m.Statement(
                animal=animal, trait=book.trait, claim="carries", source=ContactFactory.create()
            )
        )
    figures = {
        one.line and one.line.code: (one.two, one.one, one.none)
        for one in m.Standing.objects.filter(animal=animal)
    }
    assert figures == {None: (0, 1, 0), "HAR": (0, 0.5, 0.5), "PEL": (0, 0.5, 0.5)}
