"""What may be wrong where records cannot all be true, and what adopting it does."""

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused, writing
from keeper.domain.explaining import Weighed, adopt, clusters, explained, look_ahead
from tests.keeper.books import Book
from tests.keeper.disputes.planted import MIX, explained_at
from tests.keeper.disputes.rows import alone

pytestmark = pytest.mark.django_db


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def visual_of_a_normal_dam(book: Book) -> m.Clutch:
    """A visual hatchling of a dam of which nothing is known, and a stated het."""
    dam, sire = book.founder("F1", "female"), book.founder("M1", "male", "carries")
    return book.clutch("C1", dam, sire, normal=3, visual=1)


def visual_of_a_normal_sire(book: Book) -> m.Clutch:
    """The same the other way round: another sire alone explains it."""
    dam, sire = book.founder("F1", "female", "carries"), book.founder("M1", "male")
    return book.clutch("C1", dam, sire, normal=3, visual=1)


def told() -> dict[str, Weighed]:
    (cluster,) = clusters()
    return {one.key: one for one in explained(cluster)}


def standings() -> list[tuple[object, ...]]:
    columns = ("animal", "trait", "line", "two", "one", "none", "word", "customary", "clean_young")
    return list(m.Standing.objects.order_by("animal", "trait", "line").values_list(*columns))


def test_an_undeclared_carrier_is_weighed_by_hand(book: Book) -> None:
    clutch = visual_of_a_normal_dam(book)
    found = told()
    row = clutch.hatch_rows.get(count=1).pk
    dam = m.Animal.objects.get(code="F1").pk
    # Three normal and one visual hatchling, each by itself: of a het dam (1 in 50) with
    # (3/4)^3 (1/4); of a normal dam, one look misread (1 in 200) and three normal for certain.
    by_hand = (1 / 50 * (3 / 4) ** 3 / 4) / (1 / 200)
    shares = found[f"undeclared-{dam}"].share / found[f"row-{row}-{book.trait.pk}"].share
    assert shares == pytest.approx(by_hand, rel=1e-9)
    assert sum(one.share for one in found.values()) == pytest.approx(1)


def test_a_dam_alone_is_weighed_by_hand_where_it_is_known(book: Book) -> None:
    alone(book)
    found = told()
    clutch, look = m.Clutch.objects.get().pk, m.Observation.objects.get().pk
    # A het gives two copies to a half of what she has alone, 1 in 200; one misread look, 1 in 200,
    # of a young that does not show it.
    assert found[f"alone-{clutch}"].share / found[f"look-{look}"].share == pytest.approx(1 / 2)
    (cluster,) = clusters()
    adopt(cluster=cluster, key=f"alone-{clutch}", by=book.by)
    assert [one.alone for one in m.CandidateSire.objects.live()] == [True]
    assert m.Dispute.objects.filter(closed=None).count() == 0


def test_a_dam_alone_explains_nothing_where_it_is_not_known(book: Book) -> None:
    alone(book)
    with writing(by=book.by, what="Not of these") as entry:
        book.species.alone_known = False
        entry.keep(book.species)
    assert not [key for key in told() if key.startswith("alone")]


def test_several_hatchlings_are_rather_a_carrier_than_misread(book: Book) -> None:
    dam, sire = book.founder("F1", "female"), book.founder("M1", "male", "carries")
    clutch = book.clutch("C1", dam, sire, normal=5)
    for number in range(3):
        book.young(f"K{number}", clutch, seen=True)
    (cluster,) = clusters()
    first, *_ = explained(cluster)
    assert first.key == f"undeclared-{dam.pk}"
    misread = next(one for one in explained(cluster) if one.key.startswith("look"))
    assert misread.key.count("+") == 2


def test_looking_ahead_keeps_nothing_and_tells_what_adopting_moves(book: Book) -> None:
    visual_of_a_normal_dam(book)
    before, entries = standings(), m.DaybookEntry.objects.count()
    (cluster,) = clusters()
    key = next(key for key in told() if key.startswith("undeclared"))
    ahead = look_ahead(cluster=cluster, key=key, by=book.by)
    assert (standings(), m.DaybookEntry.objects.count()) == (before, entries)
    assert "F1" in [one.code for one in ahead.animals]
    assert len(ahead.closed) == 1


@pytest.mark.parametrize("kind", ["undeclared", "row", "sire", "second"])
def test_adopting_settles_the_dispute_and_undoing_restores_every_number(
    book: Book, kind: str
) -> None:
    visual_of_a_normal_sire(book)
    before = standings()
    (cluster,) = clusters()
    key = next(key for key in told() if key.startswith(kind))
    entry = adopt(cluster=cluster, key=key, by=book.by, reason="seen again")
    assert clusters() == []
    assert (entry.what.startswith("Adopted: "), entry.reason) == (True, "seen again")
    assert inference.differences() == []
    undo(entry=entry, by=book.by)
    assert standings() == before
    assert len(clusters()) == 1


def test_an_explanation_of_another_book_is_refused(book: Book) -> None:
    visual_of_a_normal_dam(book)
    (cluster,) = clusters()
    with pytest.raises(Refused, match="The book has changed since"):
        adopt(cluster=cluster, key="undeclared-0", by=book.by)


@pytest.mark.parametrize("kind", [kind for kind, share in MIX.items() if share >= 10])
def test_the_planted_mistake_is_among_what_is_told(owner: m.Account, kind: str) -> None:
    place, listed = explained_at(owner, kind, 7)
    assert place is not None, listed
