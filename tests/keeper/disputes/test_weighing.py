"""Explanations are weighed over all that they touch: what they drag in counts for none of them."""

from fractions import Fraction

import pytest

from keeper import models as m
from keeper.domain.explaining import Kind, clusters, explained
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def test_what_leaves_the_records_impossible_is_not_offered(book: Book) -> None:
    # Of a dam that is clear, by a male not recorded, of whom nothing speaks: no female that laid
    # it instead makes a visual possible, for he has nothing to give.
    book.clutch("C1", book.founder("F1", "female", "clear"), visual=1)
    (cluster,) = clusters()
    first, *rest = explained(cluster)
    assert first.text.startswith("1 hatchling of C1 was misread")
    assert all(len(one.parts) == 2 for one in rest), [one.text for one in rest]
    # A dam that carries it after all (1 in 50) by a male not recorded (1 in 100), who carries it
    # (1 in 50), have one in a quarter; a misread look is 1 in 200.
    both = next(
        one for one in rest if {part.kind for part in one.parts} == {Kind.WORD, Kind.OTHER_SIRE}
    )
    assert both.share / first.share == pytest.approx(1 / 50 / 100 / 50 / 4 / (1 / 200))


def test_the_family_of_another_sire_counts_neither_for_nor_against_him(book: Book) -> None:
    dam, sire = book.founder("F1", "female", "visual"), book.founder("M1", "male", "clear")
    other = book.founder("M2", "male", "carries")
    # Fifty hatchlings that he had elsewhere: as likely whoever sired the clutch in question.
    book.clutch("C2", book.founder("F2", "female", "carries"), other, normal=40, visual=10)
    clutch = book.clutch("C1", dam, sire, normal=2)
    young = [book.young(code, clutch, seen=True) for code in ("K1", "K2")]
    (cluster,) = clusters()
    found = {one.key: one for one in explained(cluster)}
    # He is one of two males that may have been it (1 in 100), and each of four is visual by half.
    truth = Fraction(1, 200) * Fraction(1, 2) ** 4
    # Two animals were mixed up (1 in 300 each), each with one that is visual: of the five others
    # one was seen to be, so by Laplace's rule 2 in 7.
    mixed = (Fraction(1, 300) * Fraction(2, 7)) ** 2
    twice = "+".join(sorted(f"mixed-up-{one.pk}" for one in young))
    odds = found[f"sire-{clutch.pk}-{other.pk}"].share / found[twice].share
    assert odds == pytest.approx(float(truth / mixed), rel=1e-9)
