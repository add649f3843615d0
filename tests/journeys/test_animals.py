"""From a founder's papers to what is proven: entering, looking, grounds, correcting, undoing."""

import io
from datetime import date

import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from keeper.domain.book.writing import writing
from keeper.models import (
    Account,
    Animal,
    CandidateSire,
    Clutch,
    HatchRow,
    Line,
    RowSighting,
)
from tests.factories import AnimalFactory, ContactFactory, LineFactory, SpeciesFactory, TraitFactory
from tests.journeys.conftest import Axe, OpenAs, fits


@pytest.fixture
def lines(db: None) -> list[Line]:
    """Saltgrass with two lines, and Marrowglass."""
    python = SpeciesFactory.create(name="royal python")
    saltgrass = TraitFactory.create(species=python, name="Saltgrass")
    marrowglass = TraitFactory.create(species=python, name="Marrowglass", shown="single")
    return [
        LineFactory.create(trait=saltgrass, code="HAR", name="Harvesk"),
        LineFactory.create(trait=saltgrass, code="PEL", name="Pelnaw"),
        LineFactory.create(trait=marrowglass, code="DUN", name="Dunsk"),
    ]


def add(page: Page, code: str, sex: str, line: str, claim: str, chance: str = "") -> None:
    page.goto("/animals/new/")
    page.get_by_label("Code", exact=True).fill(code)
    page.get_by_label("Sex", exact=True).select_option(sex)
    page.get_by_label("Hatched on").fill("2021-06-12")
    page.get_by_label("Or a source new to the book").fill("Ines Varga")
    page.get_by_role("combobox", name="Line", exact=True).first.select_option(label=line)
    page.get_by_role("combobox", name="What it is said to be").first.select_option(label=claim)
    if chance:
        page.get_by_label("How likely").first.fill(chance)


def test_a_founder_is_added_and_its_page_answers_what_is_proven(
    page: Page, owner: Account, lines: list[Line], open_as: OpenAs, axe: Axe
) -> None:
    open_as(owner, "/animals/new/")
    axe()
    add(page, "F-014", "female", "Saltgrass HAR (Harvesk)", "possible het")
    page.get_by_role("button", name="Add it").click()
    expect(page.get_by_text("Say how likely").last).to_be_visible()
    expect(page.get_by_label("Code", exact=True)).to_have_value("F-014")
    axe()
    page.get_by_label("How likely").first.fill("66 %")
    page.get_by_role("button", name="Add it").click()

    expect(page.get_by_role("heading", name="F-014")).to_be_visible()
    expect(page.get_by_text("stated possible het 66 % by Ines Varga").first).to_be_visible()
    axe()

    dam = Animal.objects.get(code="F-014")
    add(page, "M-003", "male", "Saltgrass HAR (Harvesk)", "visual")
    page.get_by_role("button", name="Add it").click()
    expect(page.get_by_role("heading", name="M-003")).to_be_visible()
    sire = Animal.objects.get(code="M-003")
    hatch(dam, sire, lines[0], owner)
    page.goto(f"/animals/{dam.pk}/")
    expect(page.locator(".answers")).to_contain_text("ProvenSaltgrass HAR")
    answer = page.locator(".answers").bounding_box()
    assert answer and answer["y"] + answer["height"] < 600
    axe()

    page.locator(".strip-row summary").first.click()
    expect(page.locator(".grounds").get_by_text("What it rests on")).to_be_visible()
    axe()


def hatch(dam: Animal, sire: Animal, line: Line, by: Account) -> None:
    with writing(by=by, what="Hatched C-01", subject=dam) as book:
        clutch = Clutch(species=dam.species, code="C-01", dam=dam, laid_on=date(2024, 4, 1))
        book.keep(clutch)
        book.keep(CandidateSire(clutch=clutch, sire=sire))
        for count, seen in ((2, True), (3, False)):
            row = book.keep(HatchRow(clutch=clutch, count=count))
            book.keep(RowSighting(row=row, trait=line.trait, seen=seen))
        book.keep(
            Animal(species=dam.species, code="24-01", clutch=clutch, hatched_on=date(2024, 6, 1))
        )


def test_a_look_is_logged_corrected_and_undone(
    page: Page, owner: Account, lines: list[Line], open_as: OpenAs, axe: Axe
) -> None:
    open_as(owner, "/animals/new/")
    add(page, "F-020", "female", "Marrowglass DUN (Dunsk)", "possible het", "50 %")
    page.get_by_role("button", name="Add it").click()
    look = page.locator("#look")
    page.get_by_text("Log a look", exact=True).first.click()
    look.get_by_role("group", name="Seen on it").get_by_label("Marrowglass").check()
    look.get_by_label("Only what is named here").check()
    page.get_by_role("button", name="Log it").click()
    expect(page.locator(".moved")).to_contain_text("Marrowglass DUN")
    expect(page.locator(".moved")).to_contain_text("→ visual")
    axe()

    page.get_by_role("link", name="Correct Marrowglass seen on F-020").click()
    axe()
    page.get_by_text("cannot tell").click()
    page.get_by_label("Reason for the correction").fill("poor light")
    page.get_by_role("button", name="Save").click()
    expect(page.locator(".moved")).to_contain_text("visual")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".moved")).to_contain_text("Undone: Corrected")
    expect(page.locator(".page-head .shows")).to_contain_text("Marrowglass DUN")

    page.goto("/daybook/")
    expect(page.get_by_role("link", name="Undone: Corrected")).to_be_visible()
    axe()
    page.get_by_role("link", name="Corrected: Marrowglass", exact=False).last.click()
    expect(page.get_by_text("The reason given: “poor light”")).to_be_visible()
    axe()


def test_a_photo_a_paper_and_the_history(
    page: Page, owner: Account, lines: list[Line], open_as: OpenAs, axe: Axe
) -> None:
    ContactFactory.create(name="Ines Varga")
    open_as(owner, "/animals/new/")
    page.get_by_label("Code", exact=True).fill("F-030")
    page.get_by_role("button", name="Add it").click()
    expect(page.get_by_text("Nothing in the book makes this animal a carrier")).to_be_visible()
    axe()

    page.get_by_role("link", name="Add photos").click()
    axe()
    picture = io.BytesIO()
    Image.new("RGB", (640, 480), "tan").save(picture, "JPEG")
    page.get_by_label("Photos", exact=True).set_input_files(
        {"name": "snake.jpg", "mimeType": "image/jpeg", "buffer": picture.getvalue()}
    )
    page.get_by_label("Caption").fill("after its shed")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("img", name="after its shed")).to_be_visible()

    page.get_by_role("link", name="Add a paper").click()
    page.get_by_label("Whose paper").select_option(label="Ines Varga")
    page.get_by_label("What it says").fill("100 % het Saltgrass")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("100 % het Saltgrass")).to_be_visible()

    page.locator("summary", has_text="History").click()
    expect(page.locator(".history")).to_contain_text("after its shed")
    axe()

    page.get_by_role("link", name="Withdraw this animal").click()
    axe()
    page.get_by_label("Reason").fill("entered twice")
    page.get_by_role("button", name="Withdraw").click()
    expect(page.get_by_text("entered twice").first).to_be_visible()
    axe()
    page.get_by_role("button", name="Restore it").click()
    expect(page.locator(".moved")).to_contain_text("Restored: F-030")


def test_changing_an_animal_shows_its_fields(
    page: Page, owner: Account, lines: list[Line], open_as: OpenAs, axe: Axe
) -> None:
    open_as(owner, "/animals/new/")
    add(page, "F-040", "female", "Saltgrass HAR (Harvesk)", "100 % het (one copy)")
    page.get_by_role("button", name="Add it").click()
    page.get_by_role("link", name="Change", exact=True).click()
    axe()
    page.get_by_label("Place").fill("rack B, tub 4")
    page.get_by_role("combobox", name="Sire").fill("F-040")
    page.get_by_role("button", name="Save").click()
    expect(
        page.get_by_text("F-040 is not recorded as male. Correct its sex, or choose another.").last
    ).to_be_visible()
    expect(page.get_by_label("Place")).to_have_value("rack B, tub 4")
    page.get_by_role("combobox", name="Sire").fill("")
    page.get_by_role("button", name="Save").click()
    expect(page.locator(".particulars")).to_contain_text("rack B, tub 4")
    assert fits(page)


def test_on_paper_an_animal_is_its_record_without_buttons(
    page: Page, owner: Account, lines: list[Line], open_as: OpenAs
) -> None:
    open_as(owner, "/animals/new/")
    page.get_by_label("Code", exact=True).fill("F-031")
    page.get_by_role("button", name="Add it").click()
    expect(page.get_by_role("heading", name="F-031")).to_be_visible()
    page.emulate_media(media="print")
    expect(page.get_by_role("heading", name="F-031")).to_be_visible()
    expect(page.get_by_role("heading", name="Particulars")).to_be_visible()
    for one in page.locator("button, .button, input, form").all():
        expect(one).to_be_hidden()


def test_the_search_finds_from_anywhere_with_the_keyboard_alone(
    page: Page, owner: Account, lines: list[Line], open_as: OpenAs, axe: Axe
) -> None:
    AnimalFactory.create(species=lines[0].trait.species, code="F-032")
    open_as(owner, "/register/")
    field = page.locator("#margin-find")
    if not field.is_visible():
        page.get_by_role("link", name="Search the book").click()
        axe()
        page.get_by_label("A code, a name, or a word in the notes").fill("saltgr")
        page.keyboard.press("Enter")
        expect(page.get_by_role("link", name="Saltgrass HAR")).to_be_visible()
        axe()
        return
    page.keyboard.press("/")
    expect(field).to_be_focused()
    page.keyboard.type("f-03")
    expect(page.locator("#margin-found").get_by_role("link", name="F-032")).to_be_visible()
    axe()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="F-032")).to_be_visible()
