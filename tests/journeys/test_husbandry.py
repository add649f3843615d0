"""A round with exceptions, weighing one by one, a refusal pointed out, a move."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.cache import cache
from django.utils import timezone
from playwright.sync_api import Page, expect

from keeper import models as m
from tests.factories import AnimalFactory, SpeciesFactory
from tests.journeys.conftest import Axe, OpenAs, fits

SIZE = 30


@pytest.fixture
def rack(owner: m.Account) -> list[m.Animal]:
    """Thirty animals in a rack, one tub free; each was fed and weighed before."""
    cache.clear()
    species = SpeciesFactory.create(name="Royal python")
    place = m.Place.objects.create(name="Rack B", kind="rack")
    animals = []
    for number in range(1, SIZE + 1):
        name = f"Rack B · {number}"
        m.Place.objects.create(name=name, within=place, holds=1, position=number)
        animals.append(AnimalFactory.create(species=species, code=f"B-{number:02}", place=name))
    m.Place.objects.create(name="Rack B · 31", within=place, holds=1, position=31)
    day = timezone.localdate()
    for one in animals:
        m.Meal.objects.create(animal=one, on=day - timedelta(days=14), prey="rat", grams=60)
        m.Weight.objects.create(animal=one, on=day - timedelta(days=30), grams=Decimal(1480))
    for week in range(1, 6):
        m.Meal.objects.create(
            animal=animals[4], on=day - timedelta(days=week), prey="rat", outcome="refused"
        )
    return animals


def test_a_round_takes_three_taps_and_one_an_exception(
    page: Page, open_as: OpenAs, owner: m.Account, rack: list[m.Animal], axe: Axe
) -> None:
    taps = 0

    def tap(role: str, name: str) -> None:
        nonlocal taps
        taps += 1
        page.get_by_role(role, name=name, exact=True).first.click()  # type: ignore[arg-type]

    open_as(owner, "/")
    tap("link", "Round")
    tap("link", "Rack B")
    expect(page.get_by_role("button", name="Save the round")).to_be_visible()
    assert fits(page)
    axe()
    exceptions = {4: "refused", 9: "refused", 20: "left", 29: "not offered"}
    for number, word in exceptions.items():
        taps += 1
        meal = page.get_by_role("group", name=f"B-{number + 1:02}")
        meal.locator("label", has_text=word).last.click()
    tap("button", "Save the round")
    expect(page.get_by_text("Fed Rack B: 26 took, 2 refused, 1 left with it")).to_be_visible()
    assert taps == 3 + len(exceptions)
    today = m.Meal.objects.filter(on=timezone.localdate())
    assert today.count() == SIZE - 1
    # The sixth refusal in a row of one is pointed out.
    page.goto("/")
    care = page.get_by_role("region", name="Weights, meals, quarantine")
    expect(care.get_by_text("refused 6 times in a row")).to_be_visible()
    expect(care.get_by_text("ask a qualified reptile veterinarian")).to_be_visible()
    axe()


def test_weighing_goes_from_one_to_the_next_and_a_loss_is_pointed_out(
    page: Page, open_as: OpenAs, owner: m.Account, rack: list[m.Animal], axe: Axe
) -> None:
    place = m.Place.objects.get(name="Rack B")
    open_as(owner, f"/animals/round/each/?place={place.pk}")
    expect(page.get_by_text("1480 g")).to_be_visible()
    page.get_by_label("Weight (g)").fill("1310")
    assert fits(page)
    axe()
    page.get_by_role("button", name="Save, on to B-02").click()
    expect(page.get_by_role("heading", name="B-02")).to_be_visible()
    page.get_by_label("Weight (g)").fill("1490")
    page.get_by_role("button", name="Save, on to B-03").click()
    expect(page.get_by_role("heading", name="B-03")).to_be_visible()
    assert m.Weight.objects.filter(on=timezone.localdate()).count() == 2
    page.goto(f"/animals/{rack[0].pk}/husbandry/?of=weight")
    expect(page.get_by_text("Lost 12 % of its weight")).to_be_visible()
    assert fits(page)
    axe()


def test_a_move_by_the_picture_of_a_rack(
    page: Page, open_as: OpenAs, owner: m.Account, rack: list[m.Animal], axe: Axe
) -> None:
    place = m.Place.objects.get(name="Rack B")
    open_as(owner, f"/animals/places/{place.pk}/")
    expect(page.get_by_text("1 of 31 free").first).to_be_visible()
    expect(page.get_by_role("link", name=re.compile(r"^31\s*free$"))).to_be_visible()
    assert fits(page)
    axe()
    page.get_by_text("Move who is here").click()
    page.get_by_label("B-07").check()
    page.get_by_label("To", exact=True).fill("Rack B · 31")
    page.get_by_role("button", name="Move them").click()
    expect(page.get_by_role("link", name=re.compile(r"^31\s*B-07$"))).to_be_visible()
    assert m.Animal.objects.get(code="B-07").place == "Rack B · 31"
