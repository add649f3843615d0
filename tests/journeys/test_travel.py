"""An animal comes with its signed papers, and a report of crosses is brought in and sent."""

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import FilePayload, Page, expect

from keeper.domain.lines import reports
from keeper.models import Account, Animal, Line, PairWord
from tests.journeys.conftest import Axe, OpenAs, fits
from tests.keeper.books import Book
from tests.keeper.lines.rows import InDoubt
from tests.keeper.lines.test_reports import first_crosses, other_crosses, written
from tests.keeper.travel.books import file_of, shelf
from tests.keeper.travel.test_arriving import breeder


@pytest.fixture(autouse=True)
def _own_media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def payload(data: bytes) -> FilePayload:
    return {"name": "sheet.json", "mimeType": "application/json", "buffer": data}


def test_an_animal_arrives_with_its_papers(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe, settings: Any, tmp_path: Path
) -> None:
    def made(by: Account) -> Book:
        return Book(by, name="royal python", scientific_name="Python regius")

    with shelf(settings, tmp_path, made)("breeder") as book:
        file = file_of(breeder(book), book.by)
    settings.DATA = tmp_path / "here"
    made(owner)
    Line.objects.update(name="Harvesk")
    open_as(owner, "/animals/")
    page.get_by_role("link", name="Signed papers").click()
    expect(page.get_by_role("heading", name="Signed papers")).to_be_visible()
    axe()
    altered = file.replace(b"Saltgrass", b"Saltgriss", 1)
    page.get_by_label("The signed paper").set_input_files(payload(altered))
    page.get_by_role("button", name="Read it").click()
    expect(page.get_by_text("The signature does not hold")).to_be_visible()
    axe()
    page.get_by_label("The signed paper").set_input_files(payload(file))
    page.get_by_role("button", name="Read it").click()
    expect(page.get_by_role("heading", name="The signature holds")).to_be_visible()
    assert fits(page)
    axe()
    page.get_by_label("Name of the new contact").fill("Osk")
    page.get_by_role("button", name="See what it does").click()
    expect(page.get_by_text("Compare its fingerprint with the one on").first).to_be_visible()
    axe()
    page.get_by_label("The fingerprint above is the one").check()
    page.get_by_role("button", name="See what it does").click()
    expect(page.get_by_role("heading", name="It moves 1 figure of 1 animal")).to_be_visible()
    axe()
    assert not Animal.objects.exists()
    page.get_by_role("button", name="Bring it in").click()
    expect(page.get_by_role("heading", name="What it states")).to_be_visible()
    assert fits(page)
    axe()
    page.get_by_role("link", name="C1-a").first.click()
    expect(page.get_by_text("by the papers of Osk, not tested here").first).to_be_visible()
    axe()
    page.go_back()
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("Undone: Brought in C1-a").first).to_be_visible()
    assert not Animal.objects.live().exists()


def test_a_report_of_crosses_is_brought_in_and_one_is_sent(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe, settings: Any, tmp_path: Path
) -> None:
    with shelf(settings, tmp_path, InDoubt)("first") as book:
        first_crosses(book)
        file = written(book)
    settings.DATA = tmp_path / "here"
    book = InDoubt(owner)
    Line.objects.filter(pk=book.har.pk).update(name="Harvesk")
    other_crosses(book)
    open_as(owner, f"/register/compared/{book.har.pk}/{book.que.pk}/")
    page.get_by_role("link", name="Bring in a report").click()
    axe()
    page.get_by_label("The report").set_input_files(payload(file))
    page.get_by_role("button", name="Read it").click()
    expect(page.get_by_text("0 of 3 hatchlings showed Saltgrass")).to_be_visible()
    assert fits(page)
    axe()
    page.get_by_label("The fingerprint above is the one").check()
    page.get_by_role("button", name="See what it does").click()
    expect(page.get_by_role("button", name="Bring it in")).to_be_visible()
    axe()
    page.get_by_role("button", name="Bring it in").click()
    expect(page.get_by_text("by a signed report of crosses of")).to_be_visible()
    assert fits(page)
    axe()
    assert PairWord.objects.get().is_report
    with page.expect_download() as sent:
        page.get_by_role("button", name="Write a signed report").click()
    crosses = reports.opened(Path(sent.value.path()).read_bytes()).told["crosses"]
    assert crosses == [{"clutch": "C1", "showed": 0, "looked": 2}]
    page.get_by_role("link", name="lines of Saltgrass").click()
    expect(page.get_by_text("with others’ reports").first).to_be_visible()
    assert fits(page)
    axe()
