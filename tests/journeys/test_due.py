"""What is due: a chore is added, closed, put off for many and undone; the calendar's address."""

import re
from datetime import timedelta

from django.test import Client
from django.utils import timezone
from playwright.sync_api import Page, expect

from keeper import models as m
from tests.factories import AnimalFactory, ClutchFactory
from tests.journeys.conftest import Axe, OpenAs, fits


def test_what_is_due_is_closed_put_off_and_undone(
    page: Page, open_as: OpenAs, owner: m.Account, axe: Axe
) -> None:
    day = timezone.localdate()
    animal = AnimalFactory.create(code="B-07", place="Rack B · 7")
    ClutchFactory.create(code="26-01", laid_on=day - timedelta(days=60))
    m.Quarantine.objects.create(animal=animal, on=day - timedelta(days=60), until=day)
    open_as(owner, "/")
    page.get_by_role("link", name="Due", exact=True).click()
    axe()
    page.get_by_role("link", name="Add a chore").click()
    page.get_by_label("What is to be done").fill("Mend the thermostat")
    page.get_by_label("For the animal").fill("B-7")
    axe()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("No animal has the code “B-7”").first).to_be_visible()
    page.get_by_label("For the animal").fill("b-07")
    page.get_by_role("button", name="Save").click()
    rack = page.get_by_role("region", name="Rack B")
    expect(rack.get_by_text("Mend the thermostat")).to_be_visible()
    assert fits(page)
    axe()
    page.get_by_role("button", name="Done today: Mend the thermostat of B-07").click()
    expect(rack.get_by_text("Mend the thermostat")).to_have_count(0)
    page.get_by_role("button", name="Undo").click()
    expect(rack.get_by_text("Mend the thermostat")).to_be_visible()
    for named in (re.compile("^Mark: end of quarantine"), re.compile("^Mark: hatch")):
        page.get_by_role("checkbox", name=named).check()
    page.get_by_label("Put off until").fill((day + timedelta(days=4)).isoformat())
    page.get_by_role("button", name="Put off").click()
    later = page.get_by_role("region", name="Put off")
    expect(later.get_by_role("listitem")).to_have_count(2)
    axe()
    page.get_by_role("link", name="By person").click()
    expect(page.get_by_role("region", name="Whoever is there")).to_be_visible()
    axe()
    # What was put off is not on Today either.
    page.goto("/")
    expect(page.get_by_text("Going to hatch")).to_have_count(0)


def test_the_address_of_a_calendar_is_told_once_and_can_be_switched_off(
    page: Page, open_as: OpenAs, owner: m.Account, axe: Axe
) -> None:
    AnimalFactory.create(place="Rack B · 7")
    open_as(owner, "/me/calendar/")
    axe()
    page.get_by_role("button", name="Make its address").click()
    link = page.get_by_label("The address: it is shown this once").input_value()
    assert fits(page)
    axe()
    path = "/calendar/" + link.rpartition("/")[2]
    assert Client().get(path).status_code == 200
    page.get_by_role("button", name="Switch it off").click()
    expect(page.get_by_text("Your calendar is off")).to_be_visible()
    assert Client().get(path).status_code == 404
