"""From the list of animals to their genetic health, and from there to what needs an outsider."""

import pytest
from django.core.cache import cache
from django.utils import timezone
from playwright.sync_api import Page, expect

from keeper.domain.book.writing import writing
from keeper.domain.diversity import beside, keeping
from keeper.models import Account, Animal, Status
from tests.journeys.conftest import Axe, OpenAs
from tests.journeys.small_book import small_book
from tests.journeys.test_projects import begun


def test_a_keeper_sees_on_how_few_founders_all_rests(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe, monkeypatch: pytest.MonkeyPatch
) -> None:
    project = begun(small_book(owner), owner)
    open_as(owner, "/animals/")
    page.get_by_role("link", name="Genetic health").click()
    expect(page.get_by_role("heading", name="Genetic health")).to_be_visible()
    lines = page.get_by_role("table", name="Lines, how many animals carry them")
    expect(lines.get_by_role("link", name="Saltgrass HAR")).to_be_visible()
    expect(lines.get_by_role("link", name="F-1").first).to_be_visible()
    page.get_by_text("How these are reckoned").first.click()
    expect(page.get_by_text("Lacy 1989, Zoo Biology 8")).to_be_visible()
    axe()
    # The young of K-1 and K-2 are of full sibs.
    years = page.get_by_role("table", name="Inbreeding of clutches by the year they hatched in")
    expect(years.get_by_role("row", name="2026 1 0.25 0.25")).to_be_visible()
    page.get_by_role("link", name=project.name).click()
    expect(page.get_by_text("5 members here")).to_be_visible()
    axe()
    page.get_by_role("link", name="The project").click()
    page.get_by_role("link", name="Their genetic health").click()
    expect(page.get_by_text("5 members here")).to_be_visible()
    # As in a book so large that one would wait: nothing yet, then of a while ago, then newer ones.
    monkeypatch.setattr(keeping, "_takes_long", lambda asked, kept: True)
    monkeypatch.setattr(beside, "begin", lambda name, work, urgent: None)
    asked = keeping.Asked(project.species, project, timezone.localdate())
    cache.clear()
    page.reload()
    expect(page.get_by_role("heading", name="Being worked out")).to_be_visible()
    axe()
    asked.work_out()
    expect(page.get_by_text("5 members here")).to_be_visible()
    sold(owner, Animal.objects.get(code="K-2"))
    page.reload()
    expect(page.get_by_text("5 members were here then")).to_be_visible()
    expect(page.get_by_text("Since then 1 entry has been written")).to_be_visible()
    axe()
    asked.work_out()
    expect(page.get_by_text("4 members here")).to_be_visible()
    expect(page.get_by_text("Since then")).to_have_count(0)


def sold(owner: Account, animal: Animal) -> None:
    with writing(by=owner, what="Sold") as entry:
        animal.status = Status.SOLD
        entry.keep(animal)
