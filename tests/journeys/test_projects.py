"""A project from its goal to a release: what is wanted, who is held back, what pairings give."""

from datetime import timedelta

from django.utils import timezone
from playwright.sync_api import Page, expect

from keeper.domain.projects import writes as projects
from keeper.domain.projects.writes import Requirement
from keeper.models import Account, Member, Project
from tests.journeys.conftest import Axe, OpenAs
from tests.journeys.small_book import SmallBook, small_book


def begun(book: SmallBook, by: Account) -> Project:
    project = Project(species=book.species, name="Double tide")
    parts = [
        Requirement(book.saltgrass.trait, book.saltgrass, "shows"),
        Requirement(book.quillwort.trait, None, "shows"),
    ]
    projects.start_project(project=project, parts=parts, by=by)
    today = timezone.localdate()
    for code, days in (("K-1", None), ("K-2", None), ("R-1", 0), ("R-2", 60), ("R-3", 60)):
        member = Member(
            project=project,
            animal=book.animals[code],
            holdback=days is not None,
            reason="out of the first pair" if days is None else "one of the best of the clutch",
            since=today - timedelta(days=30),
            review_on=None if days is None else today + timedelta(days=days),
        )
        projects.join(member=member, by=by)
    return project


def test_a_project_is_begun_and_a_hatchling_held_back(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    book = small_book(owner)
    open_as(owner, "/projects/")
    axe()
    page.get_by_role("link", name="Begin a project").click()
    page.get_by_label("Name", exact=True).fill("Double tide")
    page.get_by_label("Part 1: gene").select_option(label="Saltgrass HAR (Harvesk)")
    page.get_by_label("Part 2: gene").select_option(label="Quillwort, any line")
    page.get_by_role("button", name="One more row").click()
    expect(page.get_by_label("Part 4: gene")).to_be_visible()
    expect(page.get_by_label("Name", exact=True)).to_have_value("Double tide")
    axe()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", name="Double tide", level=1)).to_be_visible()
    expect(
        page.get_by_text("One animal that shows Saltgrass HAR and shows Quillwort.")
    ).to_be_visible()
    axe()

    page.get_by_role("link", name="Hold an animal back").click()
    page.get_by_label("Animal", exact=True).fill("r-1")
    page.get_by_label("Why this one").fill("visual, and its sire may carry the other")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Say when to look at this holdback again.").last).to_be_visible()
    expect(page.get_by_label("Animal", exact=True)).to_have_value("r-1")
    axe()
    page.get_by_label("Look at it again on").fill("2099-03-01")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Held back R-1 for Double tide.")).to_be_visible()
    assert Member.objects.get().animal == book.animals["R-1"]


def test_members_and_pairings_are_ranked(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    project = begun(small_book(owner), owner)
    open_as(owner, f"/projects/{project.pk}/")
    expect(page.get_by_text("Look at this one again:")).to_be_visible()
    # Worked out after the page has come, without being asked for.
    first = page.locator("table.pairs").first.locator("tbody tr").first
    expect(first).to_contain_text("R-1 × K-2")
    expect(page.locator("table.pairs").first.locator("tbody tr")).to_have_count(6)
    axe()


def test_a_holdback_is_looked_at_again_and_released(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    project = begun(small_book(owner), owner)
    open_as(owner, f"/projects/{project.pk}/")
    page.get_by_role("link", name="Look at R-1 another day").click()
    axe()
    page.get_by_label("Look again on").fill("2099-03-01")
    page.get_by_label("Why").fill("not shed yet")
    page.get_by_role("button", name="Move the day").click()
    expect(page.get_by_text("Moved the review of R-1 to 1 March 2099.")).to_be_visible()
    expect(page.get_by_text("Look at this one again:")).to_have_count(0)

    page.get_by_role("link", name="Release R-2").click()
    page.get_by_label("Why").fill("a male, and not visual")
    page.get_by_role("button", name="Release it").click()
    expect(page.get_by_text("a male, and not visual").first).to_be_visible()
    axe()
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("link", name="Release R-2")).to_be_visible()

    page.get_by_role("link", name="Close", exact=True).click()
    axe()
    page.get_by_label("Why").fill("given up")
    page.get_by_role("button", name="Close it").click()
    expect(page.get_by_role("link", name="Reopen")).to_be_visible()
