"""A dispute is closed by what settles it, not by a change to another trait of the same clutch."""

from datetime import date

import pytest

from keeper import models as m
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from tests.factories import LineFactory, TraitFactory
from tests.keeper.books import Book


@pytest.mark.django_db
def test_a_correction_of_another_trait_leaves_a_dispute_open(owner: m.Account) -> None:
    book = Book(owner)
    gale = LineFactory.create(trait=TraitFactory.create(species=book.species, name="Gale"))
    dam = book.founder("D", "female", "carries", line=gale)
    sire = book.founder("S", "male", "visual")
    book.clutch("C", dam, sire, visual=1)
    with writing(by=owner, what="Looked") as entry:
        look = m.Observation(animal=dam, trait=gale.trait, seen="no", on=date(2026, 6, 1), by=owner)
        entry.keep(look)
    with writing(by=owner, what="Withdrew the look") as entry:
        entry.withdraw(look, reason="of another animal")
    assert m.Dispute.objects.get().closed is None
    with writing(by=owner, what="Withdrew what hatched") as entry:
        entry.withdraw(m.RowSighting.objects.get(), reason="a slip")
    assert m.Dispute.objects.get().closed == entry.entry


@pytest.mark.django_db
def test_a_look_taken_back_closes_its_dispute_where_nobody_carries_anything(
    owner: m.Account,
) -> None:
    book = Book(owner)
    dam, sire = book.founder("F1", "female"), book.founder("M1", "male")
    clutch = book.clutch("C1", dam, sire, visual=2)
    other = TraitFactory.create(species=book.species, name="Quillwort")
    with writing(by=owner, what="Not Quillwort") as entry:
        row = clutch.hatch_rows.get()
        entry.keep(m.RowSighting(row=row, trait=other, seen=False))
    assert m.Dispute.objects.filter(closed=None).count() == 1
    with writing(by=owner, what="Could not be told") as entry:
        sighting = row.sightings.get(trait=book.trait)
        sighting.seen = None
        entry.keep(sighting)
    # No family is left to be solved; what is said of the other trait clashes with nothing.
    assert not m.Dispute.objects.filter(closed=None).exists()
    undo(entry=entry.entry, by=owner)
    assert m.Dispute.objects.filter(closed=None).count() == 1
