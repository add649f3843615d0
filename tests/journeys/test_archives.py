"""A whole book out by a click, and into an empty one."""

from pathlib import Path

from playwright.sync_api import Page, expect

from keeper import models as m
from keeper.models import Account
from tests.journeys.conftest import Axe, OpenAs, fits
from tests.keeper.archives.books import emptied
from tests.keeper.world import World


def test_a_book_goes_out_and_into_an_empty_one(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe, tmp_path: Path
) -> None:
    World(owner, 7)
    animals, changes = m.Animal.objects.count(), m.StandingChange.objects.count()
    open_as(owner, "/accounts/")
    page.get_by_role("link", name="The whole book as a file").click()
    expect(page.get_by_role("heading", name="Take it out")).to_be_visible()
    axe()
    with page.expect_download() as coming:
        page.get_by_role("link", name="Make an archive").click()
    archive = tmp_path / coming.value.suggested_filename
    coming.value.save_as(archive)

    open_as(emptied(), "/")
    page.get_by_role("link", name="open its archive").click()
    expect(page.get_by_role("heading", name="Open an archive")).to_be_visible()
    axe()
    # A file that is none is refused in words, at its field.
    broken = tmp_path / "broken.zip"
    broken.write_bytes(archive.read_bytes()[:5000])
    page.get_by_label("Archive").set_input_files(broken)
    page.get_by_role("button", name="Look inside").click()
    expect(page.get_by_text("This archive is damaged").first).to_be_visible()
    axe()
    page.get_by_label("Archive").set_input_files(archive)
    page.get_by_role("button", name="Look inside").click()
    expect(page.get_by_role("heading", name="In this archive")).to_be_visible()
    assert fits(page)
    axe()
    page.get_by_role("button", name="Fill the book with it").click()
    expect(page.get_by_text("everything in it is in this book now")).to_be_visible()
    axe()
    assert (m.Animal.objects.count(), m.StandingChange.objects.count()) == (animals, changes)
    page.get_by_role("link", name="Animals", exact=True).first.click()
    expect(page.get_by_role("link", name="F-1", exact=True).first).to_be_visible()
