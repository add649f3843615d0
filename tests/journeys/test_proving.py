"""From the projects to what is worth a test, to one suspect, to a planned pairing."""

from playwright.sync_api import Page, expect

from keeper.models import Account, PlannedPairing
from tests.journeys.conftest import Axe, OpenAs, fits
from tests.keeper.projects.planning import TwoGenes


def test_a_possible_het_is_chosen_and_its_test_planned(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    book = TwoGenes(owner, sex_determination="ZW")
    dam = book.founder("F1", "female", "possible", "2/3")
    book.founder("F2", "female", "possible", "1/2", line=book.second)
    sire = book.founder("M1", "male", "visual")
    book.founder("M2", "male", "carries")
    book.member(dam)
    book.member(sire)

    open_as(owner, "/projects/")
    page.get_by_role("link", name="What to prove").click()
    expect(page.get_by_role("heading", name="What to prove this season")).to_be_visible()
    expect(page.get_by_text("8 hatchlings settle it")).to_be_visible()
    expect(page.get_by_text("1 animal without a mate that could tell")).to_be_visible()
    assert fits(page)
    axe()
    page.get_by_label("Trait").select_option(label="Quillwort")
    expect(page.get_by_role("heading", name="Nobody can be tested")).to_be_visible()
    page.get_by_label("Trait").select_option(label="Saltgrass")
    page.get_by_role("link", name="F1, Saltgrass").click()
    expect(page.get_by_role("heading", name="Does F1 carry Saltgrass?")).to_be_visible()
    expect(page.get_by_text("after 8 clean hatchlings")).to_be_visible()
    expect(page.locator(".curve svg").first).to_be_visible()
    # Worked out after the page has come.
    expect(page.locator("#changes span")).to_contain_text("by 20")
    page.get_by_text("The figures, hatchling by hatchling").click()
    # 2/(2⁷ + 2) is left after seven.
    expect(page.get_by_role("row", name="7 2 %")).to_be_visible()
    assert fits(page)
    axe()
    page.get_by_role("link", name="Plan this pairing with M1").click()
    expect(page.get_by_label("Sire")).to_have_value("M1")
    page.get_by_label("Why").fill("to prove F1")
    page.get_by_role("button", name="Plan it").click()
    expect(page.get_by_role("link", name="F1 × M1").last).to_be_visible()
    axe()
    assert PlannedPairing.objects.get().dam == dam
