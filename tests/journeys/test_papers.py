"""A paper with its scan, a statement, a laboratory's result, a dispute; a source's record."""

import io

import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from keeper.models import Account, Animal, Contact, LabTest, Line, Paper
from tests.factories import ContactFactory, LineFactory
from tests.journeys.conftest import Axe, OpenAs, fits
from tests.keeper.animals.rows import hatch, saltgrass_har, visual


@pytest.fixture
def line(db: None) -> Line:
    """Saltgrass with two lines."""
    harvesk = saltgrass_har()
    LineFactory.create(trait=harvesk.trait, code="PEL", name="Pelnaw", share="1/2")
    return harvesk


def scan() -> dict[str, object]:
    picture = io.BytesIO()
    Image.new("RGB", (640, 480), "beige").save(picture, "PNG")
    return {"name": "paper.png", "mimeType": "image/png", "buffer": picture.getvalue()}


def founder(page: Page, code: str) -> Animal:
    page.goto("/animals/new/")
    page.get_by_label("Code", exact=True).fill(code)
    page.get_by_label("Sex", exact=True).select_option("female")
    page.get_by_role("combobox", name="Source").select_option(label="Ines Varga")
    page.get_by_role("button", name="Add it").click()
    expect(page.locator(".moved")).to_contain_text(f"Added {code}")
    return Animal.objects.get(code=code)


def test_from_a_paper_to_a_dispute_and_back(
    page: Page, owner: Account, line: Line, open_as: OpenAs, axe: Axe
) -> None:
    ContactFactory.create(name="Ines Varga")
    open_as(owner, "/register/")
    page.get_by_role("link", name="Laboratories").click()
    expect(page.get_by_text("None yet")).to_be_visible()
    axe()
    animal = founder(page, "F-014")

    # A file that is none is refused; what was typed stays.
    page.get_by_role("link", name="Add a paper").click()
    page.get_by_label("What it says").fill("100 % het Saltgrass, line not asked")
    wrong = {"name": "paper.txt", "mimeType": "text/plain", "buffer": b"100 % het"}
    page.get_by_label("Scan or photo").set_input_files(wrong)  # type: ignore[arg-type]
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Or send a PDF.").last).to_be_visible()
    expect(page.get_by_label("What it says")).to_have_value("100 % het Saltgrass, line not asked")
    axe()
    page.get_by_label("Scan or photo").set_input_files(scan())  # type: ignore[arg-type]
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("link", name="Its scan")).to_be_visible()

    # The statement that stands in it; its line is not known.
    page.get_by_role("link", name="Add a statement").click()
    expect(page.get_by_role("combobox", name="Line")).to_have_value("")
    page.get_by_role("combobox", name="Trait").select_option(label="Saltgrass")
    page.get_by_label("What it is said to be").select_option(label="100 % het (one copy)")
    page.get_by_role("combobox", name="Paper").select_option(index=1)
    axe()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("counted as HAR 66 %, PEL 33 %")).to_be_visible()
    axe()
    assert fits(page)

    # A laboratory that never errs finds nothing: all is kept, and in dispute.
    page.get_by_role("link", name="Add a laboratory’s result").click()
    axe()
    page.get_by_label("Line that was looked for").select_option(label="Saltgrass HAR (Harvesk)")
    page.get_by_text("no copy", exact=True).click()
    page.get_by_label("Number of the sample").fill("A-17")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Choose one, or name one new to the book.").last).to_be_visible()
    expect(page.get_by_label("Number of the sample")).to_have_value("A-17")
    page.get_by_label("Its name").fill("Cove")
    page.get_by_label("Scan or photo of the report").set_input_files(scan())  # type: ignore[arg-type]
    axe()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("link", name="Its report")).to_be_visible()
    expect(page.locator(".ledger").get_by_text("no. A-17")).to_be_visible()

    page.get_by_role("link", name="Add a laboratory’s result").click()
    page.get_by_label("Line that was looked for").select_option(label="Saltgrass PEL (Pelnaw)")
    page.get_by_text("no copy", exact=True).click()
    page.get_by_role("combobox", name="Laboratory").select_option(index=1)
    page.get_by_role("button", name="Save").click()
    dispute = page.get_by_role("region", name="Dispute").first
    expect(dispute).to_be_visible()
    assert LabTest.objects.live().count() == 2
    axe()
    assert fits(page)

    # Undone, the dispute is gone.
    page.locator(".moved").get_by_role("button", name="Undo").click()
    expect(page.locator(".moved")).to_contain_text("Undone")
    expect(page.get_by_role("region", name="Dispute")).to_have_count(0)
    assert Paper.objects.filter(animal=animal).count() == 2

    page.get_by_role("link", name="Cove").first.click()
    expect(page.get_by_text("Its results count as never wrong.")).to_be_visible()
    axe()
    assert fits(page)


def test_a_sources_record_grows_with_what_hatches(
    page: Page, owner: Account, line: Line, open_as: OpenAs, axe: Axe
) -> None:
    ContactFactory.create(name="Ines Varga")
    open_as(owner, "/")
    animal = founder(page, "F-014")
    page.get_by_role("link", name="Add a statement").click()
    line_field = page.get_by_role("combobox", name="Line")
    line_field.select_option(label="Saltgrass HAR (Harvesk)")
    page.get_by_label("What it is said to be").select_option(label="100 % het (one copy)")
    page.get_by_role("button", name="Save").click()
    page.get_by_role("link", name="Ines Varga").first.click()
    expect(page.get_by_text("nothing tested yet")).to_be_visible()
    axe()
    assert fits(page)

    hatch(animal, visual(line, owner), line, shown=1, plain=3, by=owner)
    page.reload()
    # One of one: 0.025 to 1; (1 + 1) / (1 + 2) = 66 %.
    expect(page.get_by_text("1 of 1, 95 % interval 2 % or more")).to_be_visible()
    expect(page.get_by_text("hold with 66 %")).to_be_visible()
    expect(page.get_by_text("young of it showed it")).to_be_visible()
    page.get_by_text("How this is counted").click()
    expect(page.get_by_text("settle nothing")).to_be_visible()
    axe()
    assert fits(page)
    assert Contact.objects.get(name="Ines Varga").reliability == 1
