"""A look of several genes gets a name, and animals are found by it: on a desk and on a phone."""

from datetime import date

from playwright.sync_api import Page, expect

from keeper.domain.book.writing import writing
from keeper.models import Account, Animal, Observation
from tests.journeys.conftest import Axe, OpenAs, fits
from tests.journeys.small_book import small_book


def send(page: Page, button: str) -> None:
    with page.expect_navigation():
        page.get_by_role("button", name=button, exact=True).click()


def test_a_look_is_named_and_animals_are_found_by_it(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    book = small_book(owner)
    shown = Animal.objects.get(code="F-1")
    with writing(by=owner, what="Looked again") as entry:
        entry.keep(
            Observation(
                animal=shown, trait=book.quillwort.trait, seen="yes", on=date(2026, 8, 1), by=owner
            )
        )
    open_as(owner, f"/register/species/{book.species.pk}/")
    page.get_by_role("link", name="Name a look").click()
    axe()
    assert fits(page)
    page.get_by_label("Name of the look").fill("Neapsedge")
    page.get_by_label("Trait that is seen").first.select_option("Saltgrass, any line")
    send(page, "Save")
    expect(page.get_by_text("made of two traits or more")).to_be_visible()
    axe()
    page.get_by_label("Trait that is seen").nth(1).select_option("Quillwort DUN")
    send(page, "Save")
    expect(page.get_by_role("heading", name="Neapsedge", exact=True)).to_be_visible()
    expect(page.get_by_role("link", name="F-1").last).to_be_visible()
    axe()
    assert fits(page)

    page.get_by_role("link", name="In the collection").click()
    expect(page.get_by_text("Shows Neapsedge").first).to_be_visible()
    axe()
    assert fits(page)
    page.get_by_role("link", name="F-1").first.click()
    expect(page.get_by_text("(Saltgrass and Quillwort DUN)")).to_be_visible()
    axe()
    assert fits(page)
