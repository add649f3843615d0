"""A table is brought in: its columns, what is asked, a row mended in place, and all taken back."""

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from keeper.domain.background import telling
from keeper.domain.background.kinds import IMPORT
from keeper.domain.imports import changing
from keeper.models import Account, Animal, Import, Job, JobState, Stage
from tests.journeys.conftest import Axe, OpenAs, fits
from tests.keeper.books import Book
from tests.keeper.imports.tables import HERD, begun, picked


@pytest.fixture(autouse=True)
def _own_media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def test_a_table_is_brought_in_and_taken_back(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    Book(owner)
    open_as(owner, "/animals/")
    page.get_by_role("link", name="Bring in a table").first.click()
    expect(page.get_by_role("heading", name="Bring in a table")).to_be_visible()
    axe()
    table = HERD.replace("J-3,,u,", "J-3,,both,").encode()
    page.get_by_label("The table").set_input_files(
        {"name": "herd.csv", "mimeType": "text/csv", "buffer": table}
    )
    page.get_by_role("button", name="Read it").click()
    expect(page.get_by_role("heading", name="What the columns mean")).to_be_visible()
    expect(page.get_by_label("Traits", exact=True)).to_have_value("genes")
    assert fits(page)
    axe()
    page.get_by_role("button", name="Check the rows").click()
    expect(page.get_by_text("Some weights have no unit: choose it.").first).to_be_visible()
    page.get_by_label("Weights are in").select_option(label="grams")
    page.get_by_role("button", name="Check the rows").click()
    expect(page.get_by_text("Nothing of it is written yet.")).to_be_visible()
    assert fits(page)
    axe()

    page.get_by_role("link", name="Answer 1 question").click()
    page.get_by_label("It is").select_option(label="A new trait, recessive")
    page.get_by_text("If it is new").click()
    page.get_by_label("Code of its first line").fill("thr")
    page.get_by_label("Name of its first line").fill("Thrift of Cove")
    axe()
    page.get_by_role("button", name="Go on").click()

    row = page.locator("#row-10")
    expect(row.get_by_text("This is no sex.")).to_be_visible()
    row.get_by_role("link", name="Mend row 10").click()
    row.get_by_label("Sex").fill("?")
    axe()
    row.get_by_role("button", name="Mend it").click()
    expect(row.get_by_text("a new animal")).to_be_visible()
    expect(page.locator("#sum")).to_contain_text(
        "12 new animals, 3 new clutches, 2 new contacts, 1 new trait"
    )
    page.locator("#row-13").get_by_role("button", name="Leave it out: row 13").click()
    expect(page.locator("#sum")).to_contain_text("11 new animals")
    page.get_by_role("button", name="Take it in again: row 13").click()
    expect(page.locator("#sum")).to_contain_text("12 new animals")

    page.get_by_role("link", name="See what it does to the figures").click()
    expect(page.get_by_text("Nothing in it contradicts itself or the book.")).to_be_visible()
    axe()
    page.get_by_role("link", name="The rows").click()
    page.get_by_role("button", name="Bring it in").click()
    expect(page.get_by_role("heading", name="herd.csv is in the book")).to_be_visible()
    axe()
    assert Animal.objects.live().count() == 12
    page.get_by_role("link", name="Take it back").click()
    page.get_by_role("button", name="Take it back").click()
    expect(page.get_by_text("Undone: 12 animals brought in from herd.csv").first).to_be_visible()
    assert not Animal.objects.live().exists()
    page.goto("/imports/")
    expect(page.get_by_text("taken back", exact=True)).to_be_visible()
    axe()


def test_how_far_it_is_can_be_seen_by_whoever_comes_back(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    Book(owner)
    one = picked(begun(owner, "Code,Sex\nA-1,f\n"))
    Import.objects.update(stage=Stage.WRITING)
    job = Job.objects.create(kind=IMPORT, about=str(one.pk), state=JobState.RUNNING)
    with telling.working_on(job.pk) as tell:
        assert tell is not None
        tell("Animals are written", 500, 1000)
        open_as(owner, f"/imports/{one.pk}/")
        expect(page.get_by_text("Animals are written: 500 of 1000")).to_be_visible()
        axe()
        tell("Animals are written", 1000, 1000)
        expect(page.get_by_text("Animals are written: 1000 of 1000")).to_be_visible()
    # Nobody writes it any more, and it is not written: the page finds that out by itself.
    expect(page.get_by_text("Nothing was written: start it again.")).to_be_visible()
    axe()
    changing.throw_away(one=one)
