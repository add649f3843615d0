"""The text of an offer: found from the animal, copied, with a licence number."""

from playwright.sync_api import Page, expect

from keeper.models import Account
from tests.journeys.conftest import Axe, OpenAs, fits
from tests.journeys.small_book import small_book


def test_a_listing_is_copied(page: Page, owner: Account, open_as: OpenAs, axe: Axe) -> None:
    animal = small_book(owner).animals["R-2"]
    open_as(owner, f"/animals/{animal.pk}/")
    page.get_by_role("link", name="Listing text").click()
    short = page.get_by_label("In the shorthand of the trade")
    expect(short).to_be_visible()
    assert "66 % poss het" in short.input_value()
    assert fits(page)
    axe()
    page.get_by_role("button", name="Copy the shorthand").click()
    expect(
        page.get_by_text("Copied.").or_(page.get_by_text("Selected: copy it now."))
    ).to_be_visible()
    page.get_by_label("Licence number").fill("R 17")
    page.get_by_role("button", name="Put it into the text").click()
    expect(page.get_by_label("Licence number")).to_have_value("R 17")
    assert short.input_value().endswith("· licence R 17")
    axe()
