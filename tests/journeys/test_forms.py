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


def test_what_looks_odd_is_insisted_on_with_one_tap(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    dam = AnimalFactory.create(code="F-020", sex="female")
    AnimalFactory.create(species=dam.species, code="M-020", sex="male")
    open_as(owner, "/clutches/new/")
    page.locator("#id_dam").fill("M-020")
    page.locator("#id_sire_1").fill("F-020")
    page.get_by_label("Eggs").fill("40")
    page.get_by_role("button", name="Save the clutch").click()
    axe()
    page.get_by_role("button", name="Swap them: dam F-020, sire M-020").click()
    summary = page.locator("#faults")
    expect(summary).to_be_focused()
    expect(summary).to_contain_text("40 eggs; of")
    expect(page.locator("#id_dam")).to_have_value("F-020")
    axe()
    # Enter in a field asks again: only the button insists.
    page.get_by_label("Eggs").press("Enter")
    expect(summary).to_be_focused()
    page.get_by_role("button", name="Save it all the same").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("26-01")
    page.goto(page.url.split("/clutches/")[0] + "/daybook/")
    expect(page.get_by_text("(insisted on)")).to_be_visible()


def test_the_chosen_day_is_said_in_words(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    open_as(owner, "/clutches/new/")
    words = page.locator("#id_laid_on + [data-day-words]")
    page.get_by_label("Laid on").fill("2026-02-03")
    expect(words).to_have_text("Tuesday, 3 February 2026")
    axe()
    page.get_by_label("Laid on").fill("")
    expect(words).to_have_text("")


def test_several_animals_are_changed_from_the_list(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    species = AnimalFactory.create(code="F-020", sex="female").species
    AnimalFactory.create(species=species, code="F-021", sex="female")
    open_as(owner, "/animals/")
    page.get_by_role("link", name="Change several at once").click()
    page.get_by_label("F-020").check()
    page.get_by_label("F-021").check()
    axe()
    page.get_by_label("Place").fill("Rack 2")
    page.get_by_role("button", name="Change them").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Changed place of F-020, F-021")
