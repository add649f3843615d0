"""A project's years ahead on a phone: its ways, its outlook, the season, whom to hold back."""

from datetime import date

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from keeper import models as m
from keeper.domain.season.writes import season_of
from keeper.models import Account, Member, PlannedPairing
from tests.journeys.conftest import Axe, OpenAs
from tests.keeper.projects.planning import TwoGenes


@pytest.mark.parametrize("screen", ["phone"], indirect=True)
def test_a_way_is_chosen_and_its_step_planned(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    book = TwoGenes(owner, sex_determination="ZW")
    book.visuals()
    open_as(owner, f"/projects/{book.project.pk}/")
    page.get_by_role("link", name="Look at the ways to the goal").click()
    expect(page.get_by_text("what step 1 keeps × what step 1 keeps").first).to_be_visible()
    axe()
    page.get_by_role("button", name="Choose this way (1)").click()
    expect(page.get_by_text("Chose a way for Pale tide").first).to_be_visible()
    expect(page.get_by_text("Can be bred now:")).to_be_visible()
    axe()
    # What can be bred stands on Today until it is planned.
    page.goto(page.url.split("/projects/")[0] + "/")
    expect(page.get_by_role("heading", name="Steps of plans that can be bred")).to_be_visible()
    axe()
    page.get_by_role("link", name="Pale tide", exact=True).click()
    page.get_by_role("link", name="plan F1 × M1").click()
    expect(page.get_by_label("Dam", exact=True)).to_have_value("F1")
    page.get_by_label("Why these two").fill("the first step")
    axe()
    page.get_by_role("button", name="Plan it").click()
    expect(page.get_by_text("Planned 1 pairing").first).to_be_visible()
    assert PlannedPairing.objects.get().season == season_of(timezone.localdate())
    page.get_by_role("link", name="F1 × M1").click()
    axe()
    page.get_by_label("Why it is given up").fill("she does not eat")
    page.get_by_role("button", name="Give it up").click()
    expect(page.get_by_text("No pairing is planned yet.")).to_be_visible()


@pytest.mark.parametrize("screen", ["phone"], indirect=True)
def test_the_outlook_tells_what_would_help(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    book = TwoGenes(owner, sex_determination="ZW")
    book.visuals()
    open_as(owner, f"/projects/{book.project.pk}/")
    page.get_by_role("link", name="When it is reached").click()
    expect(page.get_by_role("heading", name="What would help most")).to_be_visible(timeout=60_000)
    changes = page.locator("#changes li")
    # Each is compared by itself, one after another, while the page can be used.
    expect(page.get_by_text("compare", exact=True)).to_have_count(0, timeout=120_000)
    expect(changes.filter(has_text="A grown female bought")).to_contain_text(" by ")
    axe()
    page.get_by_role("link", name="One more pair a season").click()
    expect(page.get_by_role("columnheader", name="One more pair a season")).to_be_visible()
    axe()


@pytest.mark.parametrize("screen", ["phone"], indirect=True)
def test_the_best_pairs_are_worked_out_and_planned(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    book = TwoGenes(owner, sex_determination="ZW")
    book.visuals()
    book.founder("F2", "female", "visual")
    open_as(owner, "/projects/")
    page.get_by_role("link", name="This season’s pairs").click()
    axe()
    page.get_by_role("button", name="Work out the best pairs").click()
    expect(page.get_by_role("link", name="F1 × M1", exact=True)).to_be_visible(timeout=60_000)
    expect(page.get_by_text("No other choice within these limits is worth more.")).to_be_visible()
    axe()
    page.get_by_role("link", name="Not these two (F1 × M1)").click()
    expect(page.get_by_role("link", name="F1 × M1", exact=True)).to_have_count(0)
    expect(page.get_by_text("Not wanted:")).to_be_visible()
    axe()
    page.get_by_role("button", name="Plan these 1 pairing").click()
    expect(page.get_by_text("Planned 1 pairing").first).to_be_visible()
    assert str(PlannedPairing.objects.get().dam) == "F2"


@pytest.mark.parametrize("screen", ["phone"], indirect=True)
def test_hatchlings_are_held_back_in_one_tap(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    book = TwoGenes(owner, sex_determination="ZW")
    dam, sire = book.visuals()
    clutch = book.clutch("C1", dam, sire, normal=4)
    m.Clutch.objects.filter(pk=clutch.pk).update(
        laid_on=date(2026, 4, 1), hatched_on=date(2026, 6, 1)
    )
    for number, sex in enumerate(("female", "male", "female"), start=1):
        book.hatchling(f"K{number}", clutch, sex)
    open_as(owner, f"/clutches/{clutch.pk}/")
    expect(page.get_by_text("Keep ", exact=False).first).to_be_visible(timeout=120_000)
    axe()
    page.get_by_role("button", name="back for Pale tide").click()
    expect(page.get_by_text("Held back for Pale tide:").first).to_be_visible()
    assert Member.objects.filter(holdback=True).count() >= 1
