"""One registry of what stands on a record, and no entry that leaves anything hanging."""

import pytest

from keeper import models as m
from keeper.domain.book.dependents import dependents, relations
from keeper.domain.book.writing import Refused, writing
from tests.keeper.books import Book


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def test_every_way_in_which_records_name_records_is_in_the_registry() -> None:
    named = {(one.model, one.field) for one in relations()}
    for model in (m.Animal, m.Clutch, m.Observation, m.RowSighting, m.Condition, m.Sheet):
        for field in (*model._meta.fields, *model._meta.many_to_many):
            target = field.related_model
            if isinstance(target, type) and issubclass(target, m.Record):
                assert (model, field.name) in named


def test_dependents_are_what_counts_and_names_it(book: Book) -> None:
    dam = book.founder("F-1", "female", "carries")
    sire = book.founder("M-1", "male", "carries")
    clutch = book.clutch("C-1", dam, sire, normal=2)
    found = {
        (relation.model, relation.field): list(rows) for relation, rows in dependents(dam) if rows
    }
    assert found == {
        (m.Clutch, "dam"): [clutch],
        (m.Statement, "animal"): [m.Statement.objects.get(animal=dam)],
    }


def test_what_counts_cannot_name_what_is_withdrawn(book: Book) -> None:
    dam = book.founder("F-1", "female", "carries")
    with writing(by=book.by, what="Withdrew") as entry:
        entry.withdraw(dam, reason="a slip")
    with (
        pytest.raises(Refused) as refused,
        writing(by=book.by, what="Laid") as entry,
    ):
        entry.keep(m.Clutch(species=book.species, code="C-1", dam=dam))
    assert str(refused.value) == (
        "The clutch C-1 would name the animal F-1, which is withdrawn. Restore that first."
    )
    assert not m.Clutch.objects.exists()


def test_what_something_rests_on_cannot_be_withdrawn(book: Book) -> None:
    dam = book.founder("F-1", "female", "carries")
    book.clutch("C-1", dam, book.founder("M-1", "male"), normal=2)
    with pytest.raises(Refused) as refused, writing(by=book.by, what="Withdrew") as entry:
        entry.withdraw(dam, reason="a slip")
    assert str(refused.value) == (
        "The clutch C-1 rests on what would be withdrawn. Correct that first."
    )


def test_parts_of_a_record_go_with_it(book: Book) -> None:
    dam = book.founder("F-1", "female", "carries")
    with writing(by=book.by, what="Withdrew") as entry:
        entry.withdraw(dam, reason="a slip")
    assert m.Animal.objects.get(pk=dam.pk).is_withdrawn


def test_what_is_withdrawn_and_what_rests_on_it_may_go_in_one_entry(book: Book) -> None:
    dam = book.founder("F-1", "female", "carries")
    clutch = book.clutch("C-1", dam, book.founder("M-1", "male"), normal=2)
    with writing(by=book.by, what="Withdrew both") as entry:
        entry.withdraw(dam, reason="a slip")
        entry.withdraw(clutch, reason="a slip")
    assert not m.Clutch.objects.live().exists()
