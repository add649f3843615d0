"""A sale sheet: read, issued, printed, taken back."""

from playwright.sync_api import Page, expect

from keeper.models import Account, Contact, Sheet
from tests.journeys.conftest import Axe, OpenAs
from tests.journeys.small_book import small_book
from tests.keeper.sheets.rows import text_of_pdf


def test_a_sheet_is_read_issued_kept_and_withdrawn(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    animal = small_book(owner).animals["R-2"]
    Contact.objects.create(name="Buyer Osk")
    open_as(owner, f"/animals/{animal.pk}/sheet/")
    sheet = page.get_by_role("article", name="What the sheet says")
    expect(sheet).to_contain_text("possible het 66 %")
    expect(sheet).to_contain_text("Sale sheet, not issued")
    axe()
    page.get_by_label("For").select_option(label="Buyer Osk")
    page.get_by_role("button", name="Issue this sheet").click()
    expect(page.get_by_role("heading", name="Sale sheet 1", exact=True)).to_be_visible()
    expect(page.get_by_text("Issued a sale sheet of R-2 for Buyer Osk.")).to_be_visible()
    axe()

    for size in ("A5", "A4"):
        with page.expect_download() as download:
            page.get_by_role("link", name=f"Download {size}").click()
        pages, text = text_of_pdf(download.value.path().read_bytes())
        assert pages == 1
        assert "possible het 66 %" in text
        assert Sheet.objects.get().content["code"] in text

    page.get_by_role("link", name="Withdraw").click()
    axe()
    page.get_by_label("Why").fill("wrong sex")
    page.get_by_role("button", name="Withdraw it").click()
    expect(page.get_by_text("Its number stays taken")).to_be_visible()
    axe()
