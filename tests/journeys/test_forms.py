"""Forms that come back: the summary has the focus, each fault leads to its field."""

from playwright.sync_api import Page, expect

from keeper.models import Account
from tests.factories import AnimalFactory
from tests.journeys.conftest import Axe, OpenAs


def test_a_refused_form_begins_with_its_faults(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    dam = AnimalFactory.create(code="F-020", sex="female")
    AnimalFactory.create(species=dam.species, code="M-020", sex="male")
    open_as(owner, "/clutches/new/")
    page.locator("#id_dam").fill("F-02x")
    page.locator("#id_sire_1").fill("M-02")
    page.get_by_label("Eggs").fill("7")
    page.get_by_role("button", name="Save the clutch").click()
    summary = page.locator("#faults")
    expect(summary).to_be_focused()
    expect(summary).to_be_in_viewport()
    expect(summary.get_by_role("heading")).to_have_text("Not saved yet: 2 things to mend")
    axe()
    summary.get_by_role("link").nth(1).click()
    expect(page.locator("#id_sire_1")).to_be_in_viewport()
    expect(page.locator("#id_sire_1")).to_have_value("M-02")
    expect(page.get_by_label("Eggs")).to_have_value("7")
