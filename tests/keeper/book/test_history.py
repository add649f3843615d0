"""The history of a record has one revision an entry, however it was saved."""

from datetime import UTC, datetime, timedelta

from keeper import models as m
from keeper.domain.book.history import changes_of
from keeper.domain.book.writing import writing
from tests.factories import TraitFactory
from tests.keeper.books import Book


def test_two_entries_of_one_moment_are_two_revisions(owner: m.Account) -> None:
    book = Book(owner)
    animal = book.founder("F-1", "female", "carries")
    for place in ("Rack 1", "Rack 2"):
        with writing(by=owner, what="Moved") as entry:
            animal.place = place
            entry.keep(animal)
    places = [
        (field.before, field.after)
        for revision in changes_of(animal)
        for field in revision.fields
        if field.label == "place"
    ]
    assert places == [("Rack 1", "Rack 2"), ("–", "Rack 1")]


def test_a_save_with_a_list_is_one_revision_however_long_it_takes(owner: m.Account) -> None:
    book = Book(owner)
    other = TraitFactory.create(species=book.species, name="Quillwort")
    with writing(by=owner, what="Added a trait") as entry:
        trait = entry.keep(m.Trait(species=book.species, name="Chalk"), hides=[other])
    # As if the list had been written much later than the fields.
    last = m.Trait.history.filter(id=trait.pk).latest("history_id")
    last.history_date = last.history_date.replace(year=last.history_date.year + 1)
    last.save()
    revisions = changes_of(trait)
    assert [one.kind for one in revisions] == ["entered"]
    assert ("hides", "Quillwort") in {(one.label, one.after) for one in revisions[0].fields}


def test_an_entry_that_saves_a_record_twice_is_one_revision(owner: m.Account) -> None:
    book = Book(owner)
    animal = book.founder("F-1", "female", "carries")
    with writing(by=owner, what="Moved") as entry:
        for place in ("Rack 1", "Rack 2"):
            animal.place = place
            entry.keep(animal)
    revision, _ = changes_of(animal)
    assert [(one.before, one.after) for one in revision.fields] == [("–", "Rack 2")]


def test_a_save_has_the_day_that_its_entry_is_about(owner: m.Account) -> None:
    book = Book(owner)
    animal = book.founder("F-1", "female", "carries")
    then = datetime(2021, 6, 1, 12, tzinfo=UTC)
    with writing(by=owner, what="Moved, years ago", at=then) as entry:
        animal.place = "Rack 1"
        entry.keep(animal)
    gone = then + timedelta(days=1)
    with writing(by=owner, what="Withdrew", at=gone) as entry:
        entry.withdraw(animal, reason="a slip")
    animal.refresh_from_db()
    assert animal.withdrawn_at == gone
    assert {then, gone} < {one.at for one in changes_of(animal)}
