"""The pedigree of an animal: read on a phone without zoom, followed by link and keyboard."""

import pytest
from playwright.sync_api import Page, expect

from keeper.models import Account, Animal
from tests.journeys.conftest import Axe, OpenAs, fits, settled
from tests.keeper.books import Book

# Codes of what can be seen of a drawing whole, without scrolling it sideways, and their size.
_SEEN = """() => {
    const frame = document.querySelector(".pedigree-frame").getBoundingClientRect();
    return [...document.querySelectorAll(".pedigree .code")]
        .map(text => [text.textContent, text.getBoundingClientRect()])
        .filter(([_, box]) => box.left >= frame.left && box.right <= frame.right)
        .map(([code, box]) => [code, box.height]);
}"""


@pytest.fixture
def book(owner: Account) -> Book:
    """A book with the animal A and all of its great-grandparents."""
    book = Book(owner)

    def bred(code: str, sex: str, generations: int) -> None:
        if not generations:
            claim = ("visual",) if sex == "male" else ("possible", "2/3")
            book.founder(code, sex, *claim)
            return
        bred(f"{code}S", "male", generations - 1)
        bred(f"{code}D", "female", generations - 1)
        clutch = book.clutch(f"C-{code}", named(f"{code}D"), named(f"{code}S"))
        book.young(code, clutch, seen=None, sex=sex)

    bred("A", "female", 3)
    return book


def named(code: str) -> Animal:
    found: Animal = Animal.objects.get(code=code)
    return found


def test_a_pedigree_is_read_without_zoom_and_followed(
    page: Page, owner: Account, book: Book, open_as: OpenAs, axe: Axe
) -> None:
    open_as(owner, f"/animals/{named('A').pk}/")
    expect(page.get_by_role("heading", name="Pedigree")).to_be_visible()
    expect(page.locator(".pedigree .symbol")).to_have_count(15)
    seen = page.evaluate(_SEEN)
    assert len([code for code, _ in seen if code != "A"]) >= 5
    assert all(height >= 14 for _, height in seen)
    assert fits(page)
    axe()

    page.get_by_role("link", name="Another gene, more generations, larger").click()
    expect(page.get_by_role("heading", name="Pedigree of A")).to_be_visible()
    page.get_by_text("The same as a list").click()
    expect(page.locator(".pedigree-list")).to_contain_text("Dam AD, sire AS.")
    axe()

    page.get_by_label("Generations of ancestors").select_option("1")
    page.get_by_role("button", name="Draw it").click()
    expect(page.locator(".pedigree .symbol")).to_have_count(3)
    plain = page.locator("svg.pedigree").bounding_box()
    page.get_by_role("link", name="larger", exact=True).click()
    expect(page.get_by_role("link", name="larger", exact=True)).to_have_attribute(
        "aria-current", "true"
    )
    expect(page.locator(".pedigree .symbol")).to_have_count(3)
    settled(page)
    larger = page.locator("svg.pedigree").bounding_box()
    assert plain and larger and larger["width"] > plain["width"] * 1.4
    assert fits(page)
    axe()

    dam = page.locator(".pedigree").get_by_role("link", name="AD, female")
    dam.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="AD", exact=True)).to_be_visible()


def test_a_loop_and_a_broken_line_are_clean_in_both_themes(
    page: Page, owner: Account, book: Book, open_as: OpenAs, axe: Axe
) -> None:
    two = book.clutch("C-X", named("ADD"), named("ASS"), named("ASDS"))
    book.young("X", two, seen=None, sex="male")
    back = book.clutch("C-Y", named("AD"), named("ADSS"))
    kid = book.young("Y", back, seen=None)
    open_as(owner, f"/animals/{kid.pk}/pedigree/?up=6&down=3")
    expect(page.locator(".pedigree .related").first).to_be_visible()
    axe()
    page.goto(f"/animals/{named('ADD').pk}/pedigree/")
    expect(page.locator(".pedigree .doubtful")).to_have_count(2)
    axe()
