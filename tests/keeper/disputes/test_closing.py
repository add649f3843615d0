"""A dispute is closed by what settles it, not by a change to another trait of the same clutch."""

from datetime import date

import pytest

from keeper import models as m
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
