"""Disputes that one mistake may be behind are explained by all their records."""

import pytest

from keeper import models as m
from keeper.domain.explaining import Weighed, adopt, clusters, explained
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db

CARRIER, MISREAD = 1 / 50, 1 / 200


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def hatched(book: Book, code: str, dam: str, sire: m.Animal) -> m.Clutch:
    """One visual and one normal hatchling of a stated visual."""
    return book.clutch(code, book.founder(dam, "female", "visual"), sire, visual=1, normal=1)


def told(clutch: m.Clutch) -> dict[str, Weighed]:
    """What may be behind the dispute that a clutch is in, by kind; each kind once."""
    (cluster,) = [one for one in clusters() if clutch in one.clutches]
    return {one.kind: one for one in reversed(explained(cluster))}


def test_a_sire_that_carries_it_explains_two_clutches_at_once(book: Book) -> None:
    sire = book.founder("M1", "male")
    first = hatched(book, "C1", "F1", sire)
    alone = told(first)
    # One visual and one normal of a visual dam: of a het a quarter, of 1 in 50; of one that is
    # not, one look misread, 1 in 200.
    by_hand = CARRIER / 4 / MISREAD
    assert alone["undeclared"].share / alone["look"].share == pytest.approx(by_hand)

    second = hatched(book, "C2", "F2", sire)
    # Either he is a het, and all four are a sixteenth; or both looks are misread. Or one is
    # misread and he is a het all the same, for the other: then three hatchlings are an eighth.
    het, both, one = CARRIER / 16, MISREAD**2, MISREAD * CARRIER / 8
    for clutch in (first, second):
        found = told(clutch)
        odds = found["undeclared"].share / found["look"].share
        # Other sires that carry it (1 in 100 times 1 in 50) have a small part in each.
        assert odds == pytest.approx((het + one) / (both + one), rel=0.03)
        assert sum(each.share for each in explained(clusters()[0])) == pytest.approx(1)


def test_adopting_what_is_behind_both_settles_both(book: Book) -> None:
    sire = book.founder("M1", "male")
    clutches = [hatched(book, "C1", "F1", sire), hatched(book, "C2", "F2", sire)]
    (cluster,) = [one for one in clusters() if clutches[0] in one.clutches]
    first, *_ = explained(cluster)
    assert first.key == f"undeclared-{sire.pk}"
    adopt(cluster=cluster, key=first.key, by=book.by)
    assert clusters() == []


def test_disputes_that_share_no_mistake_are_each_weighed_by_itself(book: Book) -> None:
    first = hatched(book, "C1", "F1", book.founder("M1", "male"))
    alone = {kind: one.share for kind, one in told(first).items()}
    hatched(book, "C2", "F2", book.founder("M2", "male"))
    beside = {kind: one.share for kind, one in told(first).items()}
    assert beside["undeclared"] / beside["look"] == pytest.approx(
        alone["undeclared"] / alone["look"]
    )
