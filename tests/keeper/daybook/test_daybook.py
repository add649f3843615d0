"""The daybook: everything that was written, what it moved, and the way back."""

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from keeper.domain.animals.looks import change_observation
from keeper.domain.animals.writes import Arrival, add_animal
from keeper.domain.book.daybook import moved_by
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from keeper.models import (
    Account,
    Animal,
    DaybookEntry,
    Observation,
    Species,
    Standing,
    StandingChange,
    Statement,
)
from keeper.pages.daybook import page
from tests.factories import AnimalFactory, LineFactory, SpeciesFactory, TraitFactory
from tests.keeper.counting import queries_of
from tests.keeper.looking import observe


@pytest.fixture
def python(db: None) -> Species:
    return SpeciesFactory.create(name="royal python")


def added(python: Species, by: Account, code: str = "F-014") -> DaybookEntry:
    return add_animal(arrival=Arrival(Animal(species=python, code=code)), by=by)


def test_list_says_who_did_what_newest_first(
    owner_client: Client, owner: Account, helper: Account, python: Species
) -> None:
    added(python, owner, "F-014")
    added(python, helper, "F-015")
    page = owner_client.get(reverse("daybook")).content.decode()
    assert page.index("Added F-015") < page.index("Added F-014")
    assert "Tobin" in page and "Mara" in page


def test_list_of_an_empty_book_says_so(owner_client: Client) -> None:
    page = owner_client.get(reverse("daybook")).content.decode()
    assert "Nothing is written in this book yet" in page


def test_list_is_narrowed_by_person_and_day(
    owner_client: Client, owner: Account, helper: Account, python: Species
) -> None:
    added(python, owner, "F-014")
    old = added(python, helper, "F-015")
    DaybookEntry.objects.filter(pk=old.pk).update(at="2024-05-04T12:00Z")
    mine = owner_client.get(reverse("daybook"), {"by": owner.pk}).content.decode()
    then = owner_client.get(
        reverse("daybook"), {"since": "2024-05-04", "until": "2024-05-04"}
    ).content.decode()
    never = owner_client.get(
        reverse("daybook"), {"since": "2019-05-04", "until": "2019-05-04"}
    ).content.decode()
    assert ("Added F-014" in mine, "Added F-015" in mine) == (True, False)
    assert ("Added F-014" in then, "Added F-015" in then) == (False, True)
    assert "Nothing was written then" in never


def test_list_as_a_part_holds_the_entries_alone(
    owner_client: Client, owner: Account, python: Species
) -> None:
    added(python, owner)
    part = owner_client.get(reverse("daybook"), headers={"HX-Request": "true"}).content.decode()
    assert part.strip().startswith('<div id="entries">') and "<html" not in part


def test_list_costs_the_same_with_one_and_with_three_entries(
    owner_client: Client, owner: Account, python: Species
) -> None:
    undo(entry=added(python, owner, "F-014"), by=owner)
    one = queries_of(lambda: owner_client.get(reverse("daybook")))
    added(python, owner, "F-015")
    added(python, owner, "F-016")
    assert queries_of(lambda: owner_client.get(reverse("daybook"))) == one


def test_list_goes_on_over_several_pages(
    owner_client: Client, owner: Account, python: Species
) -> None:
    DaybookEntry.objects.bulk_create(DaybookEntry(by=owner, what=f"No {n}") for n in range(60))
    page = owner_client.get(reverse("daybook"), {"by": owner.pk}).content.decode()
    assert "1 to 24 of 60" in page
    assert f'href="?by={owner.pk}&amp;page=2"' in page


def test_entry_shows_its_reason_its_records_and_the_way_to_them(
    owner_client: Client, owner: Account, python: Species
) -> None:
    trait = TraitFactory.create(species=python, name="Saltgrass")
    animal = AnimalFactory.create(species=python, code="F-014")
    observe(animal=animal, trait=trait, seen="no", on=date(2024, 5, 1), by=owner)
    observation = Observation.objects.get()
    observation.seen = "unsure"
    entry = change_observation(observation=observation, by=owner, reason="poor light")
    page = owner_client.get(reverse("daybook-entry", args=[entry.pk])).content.decode()
    assert "poor light" in page
    assert f"{reverse('animals-one', args=[animal.pk])}#observation-{observation.pk}" in page


def test_undo_takes_back_and_returns_to_the_page_it_was_pressed_on(
    owner_client: Client, owner: Account, python: Species
) -> None:
    entry = added(python, owner)
    back = reverse("animals-one", args=[Animal.objects.get().pk])
    answer = owner_client.post(reverse("daybook-undo", args=[entry.pk]), {"back": back})
    undone = DaybookEntry.objects.get(undoes=entry)
    assert answer["Location"] == f"{back}?moved={undone.pk}"
    assert Animal.objects.get().is_withdrawn
    page = owner_client.get(answer["Location"]).content.decode()
    assert "Undone: Added F-014" in page


def test_undo_goes_to_no_other_site(owner_client: Client, owner: Account, python: Species) -> None:
    entry = added(python, owner)
    answer = owner_client.post(
        reverse("daybook-undo", args=[entry.pk]), {"back": "https://elsewhere.example/"}
    )
    assert answer["Location"].startswith("/daybook/")


def test_undo_of_what_was_built_on_is_refused_in_words(
    owner_client: Client, owner: Account, python: Species
) -> None:
    entry = added(python, owner)
    undo(entry=entry, by=owner)
    answer = owner_client.post(reverse("daybook-undo", args=[entry.pk]), follow=True)
    assert (
        "This was undone already: the daybook has the entry that undid it."
    ) in answer.content.decode()


def test_undo_needs_a_post(owner_client: Client, owner: Account, python: Species) -> None:
    entry = added(python, owner)
    page = owner_client.get(reverse("daybook-undo", args=[entry.pk])).content.decode()
    assert "Take it back" in page
    entry.refresh_from_db()
    assert entry.undone_by is None


def test_moved_names_the_line_instead_of_the_trait_where_they_say_the_same(
    owner: Account, python: Species
) -> None:
    line = LineFactory.create(trait=TraitFactory.create(species=python, name="Saltgrass"))
    said = Statement(trait=line.trait, line=line, claim="carries")
    entry = add_animal(
        arrival=Arrival(Animal(species=python, code="F-014"), statements=[said]), by=owner
    )
    moved = moved_by(entry)
    assert [move.change.line for move in moved.first] == [line]
    assert (moved.count, moved.may_undo) == (1, True)


def test_moved_puts_a_new_word_before_a_new_figure(owner: Account, python: Species) -> None:
    entry = DaybookEntry.objects.create(by=owner, what="Hatched")
    trait = TraitFactory.create(species=python)
    for code, word, none in (("A", "possible", 0.6), ("B", "proven", 0.0), ("C", "possible", 0.1)):
        StandingChange.objects.create(
            entry=entry, animal=AnimalFactory.create(species=python, code=code), trait=trait,
            word_before="possible", two_before=0, none_before=0.5, word=word, two=0, none=none,
        )  # fmt: skip
    moved = moved_by(entry, shown=2)
    assert [str(move.change.animal) for move in (*moved.first, *moved.rest)] == ["B", "C", "A"]
    assert len(moved.rest) == 1


def test_the_page_after_a_save_tells_only_its_writer_what_moved(
    owner_client: Client, helper_client: Client, owner: Account, python: Species
) -> None:
    entry = added(python, owner)
    address = f"{reverse('animals-one', args=[Animal.objects.get().pk])}?moved={entry.pk}"
    assert "Added F-014" in owner_client.get(address).content.decode()
    assert "Added F-014" not in helper_client.get(address).content.decode()
    for odd in ("x", "9" * 30, "-1"):
        assert owner_client.get(address.partition("?")[0], {"moved": odd}).status_code == 200
    assert not Standing.objects.exists()


def test_moved_of_a_recompute_lists_no_more_than_can_be_read(
    owner: Account, python: Species, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("keeper.domain.book.daybook._MOST", 2)
    entry = DaybookEntry.objects.create(by=owner, what="Recomputed")
    trait = TraitFactory.create(species=python)
    for _ in range(5):
        StandingChange.objects.create(
            entry=entry, animal=AnimalFactory.create(species=python), trait=trait,
            word="possible", two=0, none=0.5,
        )  # fmt: skip
    moved = moved_by(entry)
    assert (len(moved.first), moved.untold, moved.count) == (2, 3, 5)


def test_entry_of_very_many_records_lists_the_first(
    owner_client: Client, owner: Account, python: Species, monkeypatch: pytest.MonkeyPatch
) -> None:
    with writing(by=owner, what="Many") as book:
        for number in range(5):
            book.keep(Animal(species=python, code=f"F-{number}"))
    monkeypatch.setattr(page, "MOST_RECORDS", 3)
    shown = owner_client.get(reverse("daybook-entry", args=[book.entry.pk])).content.decode()
    assert "animal F-2</a>" in shown
    assert "animal F-3" not in shown
    assert "And 2 more records." in shown
