"""A whole way: put together, lock, ovulation, shed, laid, candled, pip, hatched, first meals."""

from datetime import date, timedelta

from django.utils import timezone
from playwright.sync_api import Page, expect

from keeper import models as m
from keeper.models import Account
from tests.factories import AnimalFactory, SpeciesFactory
from tests.journeys.conftest import Axe, OpenAs, fits, settled

TODAY = timezone.localdate()


def ago(days: int) -> str:
    return (TODAY - timedelta(days=days)).isoformat()


def note(page: Page, step: str, days: int, **fields: str) -> None:
    """Fill in the day, and tap the step."""
    page.get_by_label("Day", exact=True).first.fill(ago(days))
    for label, value in fields.items():
        page.get_by_label(label, exact=True).fill(value)
    page.get_by_role("button", name=step, exact=True).click()
    expect(page.locator(".way-list")).to_contain_text(words(ago(days)))


def words(day: str) -> str:
    return f"{date.fromisoformat(day):%-d %B %Y}"


def test_a_clutch_goes_its_whole_way(page: Page, owner: Account, open_as: OpenAs, axe: Axe) -> None:
    species = SpeciesFactory.create(incubation_days=60, alone_known=True)
    dam = AnimalFactory.create(species=species, code="F-1", sex="female")
    AnimalFactory.create(species=species, code="M-1", sex="male")
    open_as(owner, f"/animals/{dam.pk}/")
    page.get_by_role("link", name="Lock, ovulation …").click()
    expect(page.get_by_text("Nothing is noted since she last laid.")).to_be_visible()
    axe()
    note(page, "Put together", 180, Male="M-1")
    expect(page.get_by_label("Male", exact=True)).to_have_value("M-1")
    note(page, "Lock", 178)
    note(page, "Ovulation", 140)
    expect(page.locator(".way-list")).to_contain_text("common practice, no source")
    note(page, "Shed before laying", 120)
    settled(page)
    assert fits(page)
    axe()
    page.get_by_role("link", name="She laid").click()
    page.get_by_label("If laid on", exact=True).fill(ago(90))
    page.get_by_role("button", name="Propose anew").click()
    expect(page.get_by_text("1 lock seen, each weighs 4")).to_be_visible()
    expect(page.get_by_label("Share of the first")).to_have_value("99.5 %")
    settled(page)
    assert fits(page)
    axe()
    page.get_by_label("Eggs", exact=True).fill("3")
    page.get_by_role("button", name="Save the clutch").click()
    expect(page.get_by_role("heading", name="Who sired it")).to_be_visible()
    axe()
    page.get_by_role("link", name="Note a step").click()
    note(page, "Candled", 80, Fertile="3", Lost="1")
    note(page, "First pip", 31)
    axe()
    page.get_by_role("link", name="Log the hatch").click()
    hatch(page)
    page.get_by_role("link", name="Note a step").click()
    young = page.locator("#young")
    young.get_by_label("Day", exact=True).fill(ago(16))
    young.get_by_role("button", name="First meal").click()
    expect(page.locator(".way-list")).to_contain_text("2 without a record")
    settled(page)
    assert fits(page)
    axe()
    assert m.Clutch.objects.get().lost == 1
    assert m.StandingChange.objects.count() == 0


def hatch(page: Page) -> None:
    """Two of the three hatched, and look normal."""
    page.get_by_label("Hatched on").fill(ago(30))
    page.get_by_label("sex not known", exact=True).first.fill("2")
    page.get_by_label("A whole look: nothing else of the register was there").check()
    page.get_by_role("button", name="Save the hatch").click()
    expect(page.get_by_role("link", name="Add to the hatch")).to_be_visible()
