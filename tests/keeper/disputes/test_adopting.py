"""Each kind of explanation: adopted it settles the dispute, taken back the book is as it was."""

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.daybook import moved_by
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused
from keeper.domain.explaining import Kind, adopt, cluster_of, clusters, explained, look_ahead
from tests.keeper.books import Book
from tests.keeper.disputes.rows import BOOKS, laboratories, misread, numbers


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


@pytest.mark.parametrize("kind", Kind)
def test_adopting_settles_and_taking_back_restores_every_number(kind: Kind, book: Book) -> None:
    BOOKS[kind](book)
    (cluster,) = clusters()
    weighed = explained(cluster)
    assert sum(one.share for one in weighed) == pytest.approx(1, abs=1e-12)
    mine = [one for one in weighed if one.kind == kind]
    assert mine, [one.key for one in weighed]
    before, entries = numbers(), m.DaybookEntry.objects.count()
    ahead = look_ahead(cluster=cluster, key=mine[0].key, by=book.by)
    assert (numbers(), m.DaybookEntry.objects.count()) == (before, entries)

    entry = adopt(cluster=cluster, key=mine[0].key, by=book.by, reason="so it was")
    assert (entry.reason, entry.by) == ("so it was", book.by)
    assert not m.Dispute.objects.filter(closed=None).exists()
    assert {one.closed for one in m.Dispute.objects.filter(pk=cluster.disputes[0].pk)} == {entry}
    assert len(ahead.closed) == len(cluster.disputes)
    assert ahead.moved.count == moved_by(entry).count
    assert inference.differences() == []

    undo(entry=entry, by=book.by)
    assert numbers() == before
    (again,) = clusters()
    assert {one.fingerprint for one in again.disputes} == {
        one.fingerprint for one in cluster.disputes
    }
    assert inference.differences() == []


def test_two_laboratories_that_cannot_both_be_right_are_a_dispute(book: Book) -> None:
    animal = laboratories(book)
    (cluster,) = clusters()
    assert {kind for kind, _ in cluster.sources} == {"labtest"}
    assert m.LabTest.objects.live().count() == 2
    standing = m.Standing.objects.get(animal=animal, line=None)
    assert standing.is_disputed
    # Either may be wrong, and both laboratories are as good: of a possible het 2/3 the first
    # finds what is there with 2/3, the second finds nothing with 1/3.
    first, second = explained(cluster)
    assert (first.text, second.text) == (
        "the laboratory was wrong: Fell found no copy of Saltgrass HAR in F1",
        "the laboratory was wrong: Cove found one copy or two of Saltgrass HAR in F1",
    )
    assert [first.share, second.share] == pytest.approx([2 / 3, 1 / 3])


def test_what_is_no_explanation_any_more_is_refused(book: Book) -> None:
    misread(book)
    (cluster,) = clusters()
    key = next(one.key for one in explained(cluster) if one.kind == Kind.LOOK)
    with pytest.raises(Refused) as refused:
        adopt(cluster=cluster, key=f"{key}0", by=book.by)
    assert str(refused.value) == (
        "The book has changed since: this explains it no more. Look again at what may be behind it."
    )


def test_a_settled_dispute_has_no_cluster(book: Book) -> None:
    misread(book)
    (cluster,) = clusters()
    adopt(cluster=cluster, key=explained(cluster)[0].key, by=book.by)
    assert cluster_of(m.Dispute.objects.get(pk=cluster.disputes[0].pk)) is None
