"""A copy is made, looked into and restored; a tab that was open notices."""

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from keeper import models as m
from keeper.domain.book.writing import writing
from tests.factories import AnimalFactory
from tests.journeys.conftest import Axe, OpenAs, fits


@pytest.fixture
def data(tmp_path: Path, settings: Any) -> Path:
    settings.DATA = tmp_path / "data"
    settings.DATA.mkdir()
    settings.MEDIA_ROOT = settings.DATA / "media"
    return tmp_path / "data"


def test_a_copy_is_made_looked_into_and_restored(
    data: Path, page: Page, open_as: OpenAs, owner: m.Account, axe: Axe
) -> None:
    AnimalFactory.create(code="THEN")
    open_as(owner, "/")
    expect(page.get_by_text("There is no good copy yet")).to_be_visible()
    axe()
    page.get_by_role("link", name="Backups").first.click()
    page.get_by_role("button", name="Make one now").click()
    expect(page.get_by_text("A copy was made and checked")).to_be_visible()
    assert fits(page)
    axe()
    with writing(by=owner, what="Added NOW") as book:
        book.keep(m.Animal(species=m.Species.objects.get(), code="NOW"))
    tab = page.context.new_page()
    tab.goto("/register/contacts/new/")
    tab.get_by_label("Name").first.fill("Ansel of Pelnaw")

    page.get_by_role("link", name="Look into it").click()
    expect(page.get_by_text("1 entry written since")).to_be_visible()
    assert fits(page)
    axe()
    page.get_by_role("button", name="Restore the book").click()
    page.get_by_label("Put this copy in the place of the book").check()
    page.get_by_role("button", name="Restore the book").click()
    expect(page.get_by_text("The book was restored.")).to_be_visible()
    axe()
    assert [one.code for one in m.Animal.objects.all()] == ["THEN"]

    tab.locator("main form[method=post] .button.main").click()
    expect(tab.get_by_role("heading", name="The book was restored meanwhile")).to_be_visible()
    expect(tab.get_by_text("Ansel of Pelnaw")).to_be_visible()
    assert fits(tab)
    tab.close()
    assert not m.Contact.objects.exists()
