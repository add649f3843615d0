"""A notice: found on Today, told with a message that is ready, kept, and undone."""

from datetime import date

from playwright.sync_api import Page, expect

from keeper.domain.book.writing import writing
from keeper.domain.sheets.writes import issue
from keeper.models import Account, Contact, Observation
from tests.journeys.conftest import Axe, OpenAs, fits
from tests.journeys.small_book import small_book


def test_a_buyer_is_told_and_it_is_kept(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    book = small_book(owner)
    animal = book.animals["R-2"]
    buyer = Contact.objects.create(name="Buyer Osk", reach="osk@example.org")
    issue(animal=animal, by=owner, buyer=buyer)
    with writing(by=owner, what="Saw Saltgrass on R-2", subject=animal) as entry:
        entry.keep(
            Observation(
                animal=animal, trait=book.saltgrass.trait, seen="yes", on=date.today(), by=owner
            )
        )
    open_as(owner, "/")
    expect(page.get_by_role("heading", name="Buyers to tell")).to_be_visible()
    axe()
    page.get_by_role("link", name="What each is to be told").click()
    expect(page.get_by_text("Saltgrass: disputed")).to_be_visible()
    axe()
    page.get_by_role("link", name="Tell them").click()
    letter = page.get_by_label("The message")
    expect(letter).to_have_value(page_text := letter.input_value())
    assert "Hello Buyer Osk," in page_text
    assert "Today: disputed, nothing is claimed." in page_text
    expect(page.get_by_role("link", name="Send by mail")).to_be_visible()
    assert fits(page)
    axe()
    page.get_by_label("How they were told").select_option(label="by message")
    page.get_by_label("Note").fill("was glad")
    page.get_by_role("button", name="Keep that they were told").click()
    expect(page.get_by_text("by message: was glad")).to_be_visible()
    expect(page.get_by_role("link", name="Tell whoever holds it")).to_have_count(0)
    axe()
    page.goto(page.url.partition("/sheets")[0])
    expect(page.get_by_role("heading", name="Buyers to tell")).to_have_count(0)
    page.get_by_role("link", name="Told what differs from sheet 1").click()
    page.get_by_role("button", name="Undo").click()
    page.goto(page.url.partition("/daybook")[0].partition("/animals")[0])
    expect(page.get_by_role("heading", name="Buyers to tell")).to_be_visible()
