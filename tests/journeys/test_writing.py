"""Saving twice, from two tabs, and taking back what was built on."""

import pytest
from playwright.sync_api import Page, expect

from keeper import models as m
from keeper.domain.animals.writes import Arrival, add_animal, change_animal
from keeper.domain.clutches.writes import Candidate, lay_clutch
from tests.journeys.conftest import Axe, OpenAs
from tests.keeper.books import Book


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def arrived(book: Book, code: str, sex: str) -> tuple[m.Animal, m.DaybookEntry]:
    animal = m.Animal(species=book.species, code=code, sex=sex, place="Rack 1")
    said = m.Statement(trait=book.trait, line=book.line, claim="carries")
    return animal, add_animal(arrival=Arrival(animal, statements=[said]), by=book.by)


def test_a_double_tap_saves_once_and_shows_what_was_saved(
    page: Page, owner: m.Account, book: Book, open_as: OpenAs, axe: Axe
) -> None:
    arrived(book, "F-1", "female")
    arrived(book, "M-1", "male")
    open_as(owner, "/clutches/new/")
    page.get_by_label("Dam").fill("F-1")
    page.get_by_label("Sire", exact=True).fill("M-1")
    page.get_by_role("button", name="Save").first.dblclick()
    expect(page.get_by_role("region", name="What was saved")).to_be_visible()
    expect(page.get_by_role("button", name="Undo")).to_be_visible()
    axe()
    assert m.Clutch.objects.count() == 1


def test_two_tabs_on_one_animal_are_told_apart(
    page: Page, owner: m.Account, book: Book, open_as: OpenAs, axe: Axe
) -> None:
    animal, _ = arrived(book, "F-1", "female")
    open_as(owner, f"/animals/{animal.pk}/change/")
    other = m.Animal.objects.get(pk=animal.pk)
    other.place, other.name = "Rack 2", "Ember"
    change_animal(animal=other, by=owner)
    page.get_by_label("Place").fill("Rack 3")
    page.get_by_role("button", name="Save").click()
    refused = page.get_by_text("Mara changed place from Rack 1 to Rack 2; you typed Rack 3.").last
    expect(refused).to_be_visible()
    expect(page.get_by_label("Place")).to_have_value("Rack 3")
    axe()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("region", name="What was saved")).to_be_visible()
    animal.refresh_from_db()
    assert (animal.place, animal.name) == ("Rack 3", "Ember")


def test_what_was_built_on_is_listed_and_taken_back_together(
    page: Page, owner: m.Account, book: Book, open_as: OpenAs, axe: Axe
) -> None:
    dam, arrival = arrived(book, "F-1", "female")
    sire, _ = arrived(book, "M-1", "male")
    clutch = m.Clutch(species=book.species, code="C-1", dam=dam, eggs=4)
    lay_clutch(clutch=clutch, candidates=[Candidate(sire)], by=owner)
    open_as(owner, f"/daybook/{arrival.pk}/")
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("heading", name="What was built on it")).to_be_visible()
    expect(page.get_by_role("link", name="Clutch C-1 of F-1 × M-1")).to_be_visible()
    axe()
    page.get_by_role("button", name="Take all of it back").click()
    expect(page.get_by_text("This was undone")).to_be_visible()
    assert [one.code for one in m.Animal.objects.withdrawn()] == ["F-1"]
    page.get_by_role("link", name="undone").click()
    expect(page.get_by_text("This took back")).to_be_visible()
    axe()
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("This was undone")).to_be_visible()
    assert not m.Animal.objects.withdrawn().exists()
