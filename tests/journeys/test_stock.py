"""An animal goes up for sale, is held for somebody, sold and handed over; and its receipt."""

from datetime import date

from playwright.sync_api import Page, expect

from keeper import models as m
from keeper.domain.stock import writes as stock
from tests.journeys.conftest import Axe, OpenAs, fits
from tests.keeper.books import Book


def test_from_the_price_to_the_day_it_goes(
    page: Page, open_as: OpenAs, owner: m.Account, axe: Axe
) -> None:
    book = Book(owner)
    animal, _ = (book.founder(code, "female", "visual") for code in ("F-1", "F-2"))
    open_as(owner, f"/animals/{animal.pk}/")
    page.get_by_role("link", name="For sale", exact=True).click()
    page.get_by_label("Asked").fill("250")
    page.get_by_label("Currency").fill("eur")
    axe()
    page.get_by_role("button", name="Offer it").click()
    expect(page.get_by_text("250 EUR")).to_be_visible()
    # Two are offered at once from the list.
    page.goto("/animals/together/")
    page.get_by_label("F-2").check()
    page.get_by_label("Asked for each").fill("90,50")
    page.get_by_role("button", name="Change them").click()
    page.goto("/animals/stock/")
    expect(page.get_by_text("90.50 EUR")).to_be_visible()
    axe()
    assert fits(page)
    # Both are held for one buyer.
    for code in ("F-1", "F-2"):
        page.get_by_label(f"Choose {code}").check()
    page.get_by_role("button", name="Hold or sell those that are ticked").click()
    page.get_by_label("Or somebody new to the book").fill("Wenna Kest")
    first = page.get_by_role("group", name="F-1")
    first.get_by_label("Deposit").fill("300")
    page.get_by_role("button", name="Save").click()
    # A deposit beyond the price: said at its field, and nothing is lost.
    expect(
        page.get_by_role("link", name="This is more than the price. Correct one.")
    ).to_be_visible()
    expect(page.get_by_label("Or somebody new to the book")).to_have_value("Wenna Kest")
    axe()
    first.get_by_label("Deposit").fill("50")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("On hold", exact=False).first).to_be_visible()
    page.goto("/animals/stock/?list=on-hold")
    page.get_by_role("link", name="on hold", exact=True).first.click()
    expect(page.get_by_text("200 EUR left to pay")).to_be_visible()
    axe()
    page.get_by_role("link", name="Sell it").click()
    page.get_by_label("Sold, still here").check()
    page.get_by_role("button", name="Save").click()
    page.get_by_role("link", name="Hand over").click()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Handed over", exact=True)).to_be_visible()
    assert fits(page)
    sale = m.Sale.objects.get(animal__code="F-1")
    assert (sale.state, sale.handed_on) == (m.SaleState.HANDED, date.today())
    assert m.Animal.objects.get(code="F-1").status == m.Status.SOLD


def test_sheets_of_those_that_are_ticked(
    page: Page, open_as: OpenAs, owner: m.Account, axe: Axe
) -> None:
    book = Book(owner)
    animals = [book.founder(code, "female", "visual") for code in ("F-1", "F-2")]
    stock.offer(asked=[(one, None) for one in animals], on=date(2026, 9, 1), by=owner)
    open_as(owner, "/animals/stock/")
    page.get_by_role("button", name="Sheets of those that are ticked").click()
    expect(page.get_by_text("Tick the animals that you want sheets of first.")).to_be_visible()
    for code in ("F-1", "F-2"):
        page.get_by_label(f"Choose {code}").check()
    page.get_by_role("button", name="Sheets of those that are ticked").click()
    expect(page.get_by_role("heading", name="Sale sheets of 2 animals")).to_be_visible()
    axe()
    assert fits(page)
    page.get_by_role("button", name="Issue all of them").click()
    expect(page.get_by_role("heading", name="2 sale sheets")).to_be_visible()
    axe()
    assert fits(page)
    with page.expect_download() as saved:
        page.get_by_role("link", name="on A5").click()
    assert saved.value.suggested_filename.endswith("-a5.zip")


def test_a_listing_is_saved_as_a_picture(
    page: Page, open_as: OpenAs, owner: m.Account, axe: Axe
) -> None:
    animal = Book(owner).founder("F-1", "female", "visual")
    open_as(owner, f"/animals/{animal.pk}/listing/")
    shown = page.get_by_role("img", name="The listing of F-1 as a picture")
    shown.scroll_into_view_if_needed()
    expect(shown).to_have_js_property("naturalWidth", 1080)
    axe()
    assert fits(page)
    with page.expect_download() as saved:
        page.get_by_role("link", name="Save the picture").click()
    assert saved.value.suggested_filename == "F-1.png"
