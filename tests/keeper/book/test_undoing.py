"""Undo: an entry, and all that was built on it, taken back in one entry that can be undone."""

from datetime import date

import pytest
from django.test import Client

from keeper import models as m
from keeper.domain import inference
from keeper.domain.animals.writes import Arrival, add_animal
from keeper.domain.book.undoing import built_on, can_undo, undo
from keeper.domain.book.writing import Refused, writing
from keeper.domain.clutches.hatching import Counted, Hatch, log_hatch
from keeper.domain.clutches.writes import Candidate, lay_clutch
from keeper.domain.sheets.writes import issue
from tests.keeper.books import Book
from tests.keeper.looking import observe
from tests.keeper.sent import hidden_in

DAY = date(2026, 5, 1)


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def live() -> dict[str, list[str]]:
    """What counts, by kind."""
    kinds: tuple[type[m.Record], ...] = (m.Animal, m.Clutch, m.HatchRow, m.Observation, m.Trait)
    return {
        str(kind._meta.model_name): sorted(str(one) for one in kind.objects.live())
        for kind in kinds
    }


def arrived(book: Book, code: str, sex: str, claim: str) -> tuple[m.Animal, m.DaybookEntry]:
    animal = m.Animal(species=book.species, code=code, sex=sex)
    said = m.Statement(trait=book.trait, line=book.line, claim=claim)
    entry = add_animal(arrival=Arrival(animal, statements=[said]), by=book.by)
    return animal, entry


def hatched(book: Book, dam: m.Animal, sire: m.Animal) -> tuple[m.Clutch, m.DaybookEntry]:
    clutch = m.Clutch(species=book.species, code="C-1", dam=dam, eggs=4)
    lay_clutch(clutch=clutch, candidates=[Candidate(sire)], by=book.by)
    rows = [
        Counted(frozenset({book.trait.pk}), frozenset(), m.Sex.UNKNOWN, 1, record=1),
        Counted(frozenset(), frozenset({book.trait.pk}), m.Sex.UNKNOWN, 3),
    ]
    hatch = Hatch(on=DAY, eggs=4, slugs=0, lost=0, rows=rows)
    return clutch, log_hatch(clutch=clutch, hatch=hatch, by=book.by)


def test_the_arrival_of_a_dam_with_clutches_is_not_undone_alone(book: Book) -> None:
    dam, arrival = arrived(book, "F-1", "female", "carries")
    sire, _ = arrived(book, "M-1", "male", "carries")
    _, hatch = hatched(book, dam, sire)
    built = built_on(arrival)
    assert [one.what for one in built.entries] == ["Clutch C-1 of F-1 × M-1", hatch.what]
    assert (built.records, built.sheets) == ([], [])
    with pytest.raises(Refused) as refused:
        undo(entry=arrival, by=book.by)
    assert str(refused.value) == (
        f"It was built on since: “Clutch C-1 of F-1 × M-1”, “{hatch.what}”. "
        "Take all of it back together."
    )


def test_taken_back_together_it_can_be_undone_as_one(book: Book) -> None:
    dam, arrival = arrived(book, "F-1", "female", "carries")
    sire, _ = arrived(book, "M-1", "male", "carries")
    hatched(book, dam, sire)
    whole = live()
    assert book.said(sire) == ("proven", "100 %")
    gone = undo(entry=arrival, by=book.by, together=True)
    assert live() == {
        "animal": ["M-1"], "clutch": [], "hatchrow": [], "observation": [], "trait": ["Saltgrass"]
    }  # fmt: skip
    assert book.said(sire) == ("stated", "100 %")
    assert inference.differences() == []
    assert m.DaybookEntry.objects.filter(undone_by=gone).count() == 3
    undo(entry=gone, by=book.by)
    assert live() == whole
    assert book.said(sire) == ("proven", "100 %")
    assert inference.differences() == []


def test_a_trait_in_use_is_not_undone_alone(book: Book) -> None:
    with writing(by=book.by, what="Added the trait") as entry:
        trait = entry.keep(m.Trait(species=book.species, name="Quillwort"))
        locus = entry.keep(m.Locus(species=book.species, name="quillwort"))
        entry.keep(m.Line(trait=trait, locus=locus, code="DUN", name="Dunsk"))
    animal, _ = arrived(book, "F-1", "female", "carries")
    look = observe(animal=animal, trait=trait, seen="yes", on=DAY, by=book.by)
    assert [one.what for one in built_on(entry.entry).entries] == [look.what]
    with pytest.raises(Refused):
        undo(entry=entry.entry, by=book.by)
    undo(entry=entry.entry, by=book.by, together=True)
    assert not m.Observation.objects.live().exists()
    assert m.Animal.objects.live().count() == 1


def test_the_hatch_of_a_clutch_whose_young_has_bred_is_not_undone_alone(book: Book) -> None:
    dam, _ = arrived(book, "F-1", "female", "carries")
    sire, _ = arrived(book, "M-1", "male", "carries")
    _, hatch = hatched(book, dam, sire)
    young = m.Animal.objects.exclude(clutch=None).get()
    with writing(by=book.by, what="Sexed it") as entry:
        young.sex = m.Sex.MALE
        entry.keep(young)
    mate, _ = arrived(book, "F-2", "female", "carries")
    bred = m.Clutch(species=book.species, code="C-2", dam=mate)
    lay_clutch(clutch=bred, candidates=[Candidate(young)], by=book.by)
    named = [one.what for one in built_on(hatch).entries]
    assert named == ["Sexed it", f"Clutch C-2 of F-2 × {young}"]
    undo(entry=hatch, by=book.by, together=True)
    assert live()["animal"] == ["F-1", "F-2", "M-1"]
    assert live()["clutch"] == ["C-1"]


def test_what_was_undone_since_does_not_stand_in_the_way(book: Book) -> None:
    animal, arrival = arrived(book, "F-1", "female", "carries")
    look = observe(animal=animal, trait=book.trait, seen="no", on=DAY, by=book.by)
    undo(entry=look, by=book.by)
    assert built_on(arrival).is_alone
    undo(entry=arrival, by=book.by)
    assert live()["animal"] == []


def test_a_parent_that_was_stated_later_holds_that_entry_alone(book: Book) -> None:
    animal, _ = arrived(book, "F-1", "female", "carries")
    dam, arrival = arrived(book, "F-9", "female", "carries")
    with writing(by=book.by, what="Noted") as entry:
        animal.name = "Ember"
        entry.keep(animal)
    with writing(by=book.by, what="Its dam is known") as entry:
        animal.dam = dam
        entry.keep(animal)
    assert [one.what for one in built_on(arrival).entries] == ["Its dam is known"]
    undo(entry=arrival, by=book.by, together=True)
    now = m.Animal.objects.get(pk=animal.pk)
    assert (now.dam, now.name, now.is_withdrawn) == (None, "Ember", False)


def test_an_entry_is_undone_once(book: Book) -> None:
    _, arrival = arrived(book, "F-1", "female", "carries")
    assert can_undo(arrival)
    undo(entry=arrival, by=book.by)
    with pytest.raises(Refused) as refused:
        undo(entry=arrival, by=book.by)
    assert str(refused.value) == "This was undone already: the daybook has the entry that undid it."


def test_what_was_put_back_can_be_undone_again(book: Book) -> None:
    _, arrival = arrived(book, "F-1", "female", "carries")
    undo(entry=undo(entry=arrival, by=book.by), by=book.by)
    assert live()["animal"] == ["F-1"]
    arrival.refresh_from_db()
    undo(entry=arrival, by=book.by)
    assert live()["animal"] == []


def test_others_entries_are_taken_back_by_the_owner_alone(
    book: Book, owner: m.Account, helper: m.Account
) -> None:
    _, arrival = arrived(book, "F-1", "female", "carries")
    with pytest.raises(Refused) as refused:
        undo(entry=arrival, by=helper)
    assert str(refused.value).endswith("Ask the owner of the book to do it.")
    mine = add_animal(arrival=Arrival(m.Animal(species=book.species, code="F-2")), by=helper)
    undo(entry=mine, by=helper)
    undo(entry=arrival, by=owner)
    assert live()["animal"] == []


def test_issued_sheets_stay_and_are_named(book: Book, owner_client: Client) -> None:
    animal, arrival = arrived(book, "F-1", "female", "carries")
    sheet, issued = issue(animal=animal, by=book.by)
    with pytest.raises(Refused) as refused:
        undo(entry=issued, by=book.by)
    assert str(refused.value).startswith("A sheet that was issued is in somebody's hands")
    built = built_on(arrival)
    assert (built.entries, built.sheets) == ([], [sheet])
    undo(entry=arrival, by=book.by)
    sheet.refresh_from_db()
    assert not sheet.is_withdrawn
    assert owner_client.get(f"/sheets/{sheet.pk}/").status_code == 200


def test_the_page_lists_what_was_built_and_takes_it_back(book: Book, owner_client: Client) -> None:
    dam, arrival = arrived(book, "F-1", "female", "carries")
    sire, _ = arrived(book, "M-1", "male", "carries")
    hatched(book, dam, sire)
    address = f"/daybook/{arrival.pk}/undo/"
    page = owner_client.post(address, {"back": "/animals/"}).content.decode()
    assert "Clutch C-1 of F-1 × M-1</a>" in page
    assert "It moves" in page
    assert live()["animal"] == ["C-1-01", "F-1", "M-1"]
    answer = owner_client.post(address, hidden_in(page))
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith("/animals/?moved=")
    assert live()["animal"] == ["M-1"]


def test_the_page_is_shown_anew_where_the_book_has_moved_on(
    book: Book, owner_client: Client
) -> None:
    dam, arrival = arrived(book, "F-1", "female", "carries")
    sire, _ = arrived(book, "M-1", "male", "carries")
    clutch, _ = hatched(book, dam, sire)
    address = f"/daybook/{arrival.pk}/undo/"
    page = owner_client.post(address).content.decode()
    book.young("K-9", clutch, seen=False)
    again = owner_client.post(address, hidden_in(page)).content.decode()
    assert "The book has changed since you looked" in again
    assert "K-9" in again
    assert owner_client.post(address, hidden_in(again)).status_code == 302
    assert live()["animal"] == ["M-1"]
