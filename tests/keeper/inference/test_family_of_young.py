"""Young of stated parents belong to the family that a change of a parent moves."""

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from tests.keeper.books import Book


@pytest.mark.django_db
def test_withdrawing_a_sires_paper_moves_his_young_without_a_clutch(owner: m.Account) -> None:
    book = Book(owner)
    dam = book.founder("D", "female", "visual")
    sire = book.founder("S", "male", "possible", "2/3")
    with writing(by=owner, what="From elsewhere") as entry:
        young = entry.keep(m.Animal(species=book.species, code="Y", dam=dam, sire=sire))
    before = m.Standing.objects.get(animal=young, line=None).two
    with writing(by=owner, what="Withdrew") as entry:
        entry.withdraw(sire.statements.get(), reason="wrong")
    after = m.Standing.objects.get(animal=young, line=None).two
    assert (round(before, 9), after) == (round(1 / 3, 9), 0.0)
    assert inference.differences() == []


@pytest.mark.django_db
def test_a_new_founder_has_the_chance_of_a_gene_that_comes_by_itself(owner: m.Account) -> None:
    book = Book(owner)
    book.line.background = "1/10"
    with writing(by=owner, what="In the wild") as entry:
        entry.keep(book.line)
    assert book.said(book.founder("D", "female")) == ("possible", "19 %")
    assert inference.differences() == []
