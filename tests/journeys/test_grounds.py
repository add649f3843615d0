"""Why a number is what it is: weights, days, the working, and how it moved, undo included."""

from playwright.sync_api import Page, expect

from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from keeper.models import Account
from tests.journeys.conftest import Axe, OpenAs, fits
from tests.keeper.animals.rows import hatch, het, saltgrass_har, visual


def test_a_number_is_opened_down_to_its_working_and_its_history(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    line = saltgrass_har()
    dam = het(line, owner)
    clutch = hatch(dam, visual(line, owner), line, shown=0, plain=3, by=owner)
    with writing(by=owner, what="Miscounted") as wrong:
        wrong.withdraw(clutch.hatch_rows.get(), reason="another tub")
    undo(entry=wrong.entry, by=owner)

    open_as(owner, f"/animals/{dam.pk}/")
    page.locator(".strip-row summary").first.click()
    grounds = page.locator(".grounds")
    expect(grounds.get_by_text("What it rests on")).to_be_visible()
    expect(grounds.get_by_role("row", name="0 of 3 showed Saltgrass 66 %")).to_be_visible()

    grounds.get_by_text("Day by day, as it came about").click()
    expect(grounds.locator(".course")).to_contain_text("who is of whom")
    grounds.get_by_text("The working").click()
    expect(grounds.locator("math").first).to_be_visible()
    expect(grounds).to_contain_text("among 7 young with 99 %; among 6 with 98 %")
    axe()

    moves = grounds.locator(".moves-table tbody tr")
    expect(moves.first).to_contain_text("Undone")
    expect(moves.nth(1)).to_contain_text("taken back on")
    moves.first.get_by_role("link").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Undone")

    page.goto(f"/animals/{dam.pk}/history/")
    expect(page.get_by_role("heading", name="How its figures moved")).to_be_visible()
    expect(page.get_by_role("img", name="The chance of carrying Saltgrass HAR")).to_be_visible()
    assert fits(page)
    axe()


def test_grounds_are_read_without_a_script(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    line = saltgrass_har()
    dam = het(line, owner)
    hatch(dam, visual(line, owner), line, shown=0, plain=3, by=owner)
    open_as(owner, f"/animals/{dam.pk}/grounds/{line.trait.pk}/?line={line.pk}&by=days")
    expect(page.locator(".course")).to_contain_text("0 of 3 showed Saltgrass")
    assert fits(page)
    axe()
    page.get_by_role("link", name="Back to the grounds").click()
    expect(page.get_by_text("What it rests on")).to_be_visible()
