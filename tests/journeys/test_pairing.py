"""The pairing look-up: name two animals, read what they give, go on to their clutch."""

from playwright.sync_api import Page, expect

from keeper.models import Account
from tests.factories import AnimalFactory, SpeciesFactory
from tests.journeys.cast_of_clutches import furnish
from tests.journeys.conftest import Axe, OpenAs, fits


def test_a_pair_is_looked_up(page: Page, owner: Account, open_as: OpenAs, axe: Axe) -> None:
    furnish(owner)
    open_as(owner, "/clutches/pairing/")
    expect(page.get_by_text("Name a dam and a sire")).to_be_visible()
    axe()
    page.get_by_label("Dam", exact=True).fill("F-014")
    page.get_by_label("Sire", exact=True).fill("m-003")
    page.get_by_label("Hatchlings", exact=True).fill("24")
    page.get_by_role("button", name="Look up").click()
    expect(page.get_by_role("heading", name="F-014 × M-003")).to_be_visible()
    table = page.get_by_role("table").first
    expect(table.get_by_role("columnheader", name="24")).to_be_visible()
    expect(table.get_by_role("rowheader", name="Saltgrass").first).to_be_visible()
    expect(page.get_by_text("Many wobble and cannot strike well.")).to_be_visible()
    expect(page.get_by_role("img", name="Chance of at least one")).to_be_visible()
    axe()
    assert fits(page)
    page.get_by_role("link", name="Enter their clutch").click()
    expect(page.get_by_label("Dam", exact=True)).to_have_value("F-014")
    expect(page.get_by_label("Sire", exact=True)).to_have_value("M-003")


def test_two_species_give_nothing(page: Page, owner: Account, open_as: OpenAs, axe: Axe) -> None:
    furnish(owner)
    corn = SpeciesFactory.create(name="corn snake")
    AnimalFactory.create(species=corn, code="C-1", sex="male")
    open_as(owner, "/clutches/pairing/")
    page.get_by_label("Dam", exact=True).fill("F-014")
    page.get_by_label("Sire", exact=True).fill("C-1")
    page.get_by_role("button", name="Look up").click()
    expect(page.get_by_text("Choose two of one.").last).to_be_visible()
    axe()
