"""The clutches: enter one, find it, correct it, withdraw it."""

import re

from playwright.sync_api import Page, expect

from keeper.models import Account
from tests.factories import AnimalFactory
from tests.journeys.cast_of_clutches import furnish
from tests.journeys.conftest import Axe, OpenAs


def test_the_first_clutch_is_entered(page: Page, owner: Account, open_as: OpenAs, axe: Axe) -> None:
    dam = AnimalFactory.create(code="F-020", sex="female")
    AnimalFactory.create(species=dam.species, code="M-020", sex="male")
    AnimalFactory.create(species=dam.species, code="M-021", sex="male")
    open_as(owner, "/clutches/")
    expect(page.get_by_text("No clutch is written down yet")).to_be_visible()
    axe()
    page.get_by_role("link", name="New clutch").click()
    axe()
    with page.expect_response("**/clutches/pick/**"):
        page.get_by_label("Dam", exact=True).press_sequentially("F-02")
    page.get_by_label("Dam", exact=True).fill("F-020")
    page.get_by_label("Sire", exact=True).fill("M-02")
    page.get_by_label("Eggs").fill("7")
    page.get_by_role("button", name="Save the clutch").click()
    expect(page.get_by_text("No animal has the code “M-02”.").last).to_be_visible()
    expect(page.get_by_label("Eggs")).to_have_value("7")
    axe()
    page.get_by_label("Sire", exact=True).fill("m-020")
    page.get_by_text("More than one male was with her, or none", exact=True).click()
    page.get_by_label("Or", exact=True).first.fill("M-021")
    axe()
    page.get_by_role("button", name="Save the clutch").click()
    expect(page.get_by_text("Candidate sire 1/2")).to_have_count(2)
    axe()


def test_clutches_are_filtered_in_the_address(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    furnish(owner)
    open_as(owner, "/clutches/")
    expect(page.get_by_role("link", name="26-07")).to_be_visible()
    axe()
    page.get_by_label("State").select_option("withdrawn")
    expect(page.get_by_text("Nothing fits these filters.")).to_be_visible()
    expect(page).to_have_url(re.compile("state=withdrawn"))
    axe()
    page.reload()
    expect(page.get_by_label("State")).to_have_value("withdrawn")


def test_a_clutch_is_corrected_and_withdrawn(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    room = furnish(owner)
    open_as(owner, f"/clutches/{room.clutch.pk}/")
    page.get_by_role("link", name="Correct", exact=True).click()
    page.get_by_label("Eggs").fill("9")
    page.get_by_label("Why").fill("one lay under her")
    axe()
    page.get_by_role("button", name="Save the correction").click()
    expect(page.get_by_text("Changed clutch 26-07.")).to_be_visible()
    page.get_by_role("link", name="Correct", exact=True).click()
    page.get_by_role("link", name="Withdraw the clutch").click()
    axe()
    page.get_by_label("Why").fill("never laid")
    page.get_by_role("button", name="Withdraw the clutch").click()
    expect(page.get_by_text("never laid. It counts no more.")).to_be_visible()
    axe()
