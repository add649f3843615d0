"""Rounds: one entry with all rows, exceptions, what each had last, whoever fed already."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keeper import models as m
from keeper.domain.book.refusing import Refused
from keeper.domain.book.undoing import undo
from keeper.domain.husbandry import writes as care
from keeper.domain.husbandry.writes import Fed
from keeper.pages.husbandry.forms import read_weight
from tests.factories import AccountFactory, AnimalFactory, SpeciesFactory
from tests.keeper.counting import queries_of
from tests.keeper.sent import filled

pytestmark = pytest.mark.django_db


def rack(number: int) -> list[m.Animal]:
    species = SpeciesFactory.create()
    return [
        AnimalFactory.create(species=species, code=f"A-{one}", place=f"Rack B · {one}")
        for one in range(1, number + 1)
    ]


def fed(animals: list[m.Animal], outcome: m.Outcome = m.Outcome.TAKEN) -> list[Fed]:
    return [Fed(one, outcome) for one in animals]


def token(page: str) -> str:
    found = re.search(r'name="once" value="([^"]+)"', page)
    assert found is not None
    return found[1]


def sent(animals: list[m.Animal], once: str, **more: str) -> dict[str, str]:
    today = timezone.localdate().isoformat()
    each = {f"meal-{one.pk}": "taken" for one in animals}
    return {"prey": "rat", "grams": "40", "on": today, "once": once, **each, **more}


ROUND = "/animals/round/?within=Rack+B"


def test_a_round_is_one_entry_with_a_row_an_animal_and_undone_whole(owner: m.Account) -> None:
    animals = rack(3)
    told = [*fed(animals[:2]), Fed(animals[2], m.Outcome.REFUSED)]
    day = timezone.localdate()
    entry = care.feed(fed=told, where="Rack B", prey="rat", grams=40, on=day, by=owner)
    assert entry.what == "Fed Rack B: 2 took, 1 refused"
    rows = m.Meal.objects.order_by("animal__code").values_list("animal__code", "outcome")
    assert list(rows) == [("A-1", "taken"), ("A-2", "taken"), ("A-3", "refused")]
    undo(entry=entry, by=owner)
    assert not m.Meal.objects.live().exists()


def test_a_round_costs_as_many_queries_for_ten_as_for_three(owner: m.Account) -> None:
    few, day = rack(3), timezone.localdate()
    many = [AnimalFactory.create(species=few[0].species, code=f"B-{n}") for n in range(10)]

    def feed(animals: list[m.Animal]) -> int:
        return queries_of(
            lambda: care.feed(fed=fed(animals), where="here", prey="rat", grams=4, on=day, by=owner)
        )

    feed(few[:1])
    assert feed(few[1:]) == feed(many)


def test_each_has_what_it_had_last_where_nothing_is_said(owner: m.Account) -> None:
    animals, day = rack(2), timezone.localdate()
    for animal, prey in zip(animals, ("mouse", "rat"), strict=True):
        meal = m.Meal(animal=animal, on=day - timedelta(days=7), prey=prey, grams=9)
        care.note(records=[meal], animal=animal, by=owner)
    care.feed(fed=fed(animals), where="Rack B", prey="", grams=None, on=day, by=owner)
    last = m.Meal.objects.filter(on=day).order_by("animal__code")
    assert list(last.values_list("prey", "grams")) == [("mouse", 9), ("rat", 9)]


def test_whoever_had_no_meal_yet_is_named(owner: m.Account) -> None:
    with pytest.raises(Refused, match="Of A-1 no earlier meal is in the book"):
        care.feed(
            fed=fed(rack(1)), where="x", prey="", grams=None, on=timezone.localdate(), by=owner
        )
    assert not m.DaybookEntry.objects.exists()


def test_the_page_presets_took_for_all_in_their_order(owner_client: Client) -> None:
    rack(11)
    page = owner_client.get(ROUND).content.decode()
    codes = re.findall(r'class="fare-code">([^<]+)<', page)
    assert codes == [f"A-{one}" for one in range(1, 12)]
    assert len(re.findall(r'value="taken"[^>]* checked', page)) == 11


def test_a_round_twice_sent_is_written_once(owner_client: Client) -> None:
    animals = rack(3)
    form = sent(animals, token(owner_client.get(ROUND).content.decode()))
    form[f"meal-{animals[1].pk}"] = "refused"
    form[f"meal-{animals[2].pk}"] = "none"
    assert owner_client.post(ROUND, form).status_code == 302
    assert owner_client.post(ROUND, form).status_code == 302
    assert list(m.Meal.objects.order_by("pk").values_list("outcome", flat=True)) == [
        "taken",
        "refused",
    ]


def test_two_who_feed_one_rack_on_one_day_are_asked(owner_client: Client) -> None:
    animals = rack(3)
    tobin = AccountFactory.create(name="Tobin")
    day = timezone.localdate()
    care.feed(fed=fed(animals[:2]), where="B", prey="rat", grams=4, on=day, by=tobin)
    once = token(owner_client.get(ROUND).content.decode())
    asked = owner_client.post(ROUND, sent(animals, once)).content.decode()
    found = re.search(r"Tobin wrote meals for 2 of these today[^<]+", asked)
    assert found is not None
    assert m.Meal.objects.count() == 2
    key = re.search(r'name="insist" value="([^"]+)"', asked)
    assert key is not None
    assert owner_client.post(ROUND, sent(animals, once, insist=key[1])).status_code == 302
    assert m.Meal.objects.count() == 5


def test_whoever_was_moved_meanwhile_stays_in_the_form_that_shows_it(owner_client: Client) -> None:
    animals = rack(2)
    once = token(owner_client.get(ROUND).content.decode())
    m.Animal.objects.filter(pk=animals[1].pk).update(place="Rack C · 1")
    assert owner_client.post(ROUND, sent(animals, once)).status_code == 302
    assert m.Meal.objects.count() == 2


def test_one_by_one_writes_meal_and_weight_and_goes_on(owner_client: Client) -> None:
    animals = rack(2)
    address = f"{reverse('animals-round-each')}?within=Rack+B&animal={animals[0].pk}"
    page = owner_client.get(address).content.decode()
    assert 'inputmode="decimal"' in page
    form = {"meal": "taken", "prey": "rat", "grams": "40", "weight": "17 oz"}
    answer = owner_client.post(address, form | {"once": token(page)})
    assert f"animal={animals[1].pk}" in answer["Location"]
    assert m.Weight.objects.get().grams == Decimal("481.9")
    assert m.Meal.objects.get().prey == "rat"
    assert m.DaybookEntry.objects.count() == 1
    # Nothing noted of the last: nothing is written, and the round is where it began.
    last = f"{reverse('animals-round-each')}?within=Rack+B&animal={animals[1].pk}"
    done = owner_client.post(
        last, {"meal": "none", "once": token(owner_client.get(last).content.decode())}
    )
    assert done["Location"] == ROUND
    assert m.DaybookEntry.objects.count() == 1


def test_a_form_of_one_that_was_moved_is_written_all_the_same(owner_client: Client) -> None:
    animals = rack(2)
    address = f"{reverse('animals-round-each')}?within=Rack+B"
    page = owner_client.get(address).content.decode()
    found = re.search(r'class="each measure" method="post" action="([^"]+)"', page)
    assert found is not None
    m.Animal.objects.update(place="Rack C · 1")
    form = {"meal": "none", "weight": "480", "once": token(page)}
    assert owner_client.post(found[1].replace("&amp;", "&"), form).status_code == 302
    assert m.Weight.objects.get().animal == animals[0]


def test_weights_are_read_as_scales_and_people_write_them() -> None:
    read = {one: read_weight(one) for one in ("480", "480,5", "1.2 kg", "1 oz", "3 ounces")}
    assert read == {
        "480": Decimal("480.0"),
        "480,5": Decimal("480.5"),
        "1.2 kg": Decimal("1200.0"),
        "1 oz": Decimal("28.3"),
        "3 ounces": Decimal("85.0"),
    }


def test_pages_of_a_round_ask_no_more_for_more_animals(owner_client: Client) -> None:
    rack(3)
    first = queries_of(lambda: owner_client.get(ROUND))
    species = m.Species.objects.get()
    for number in range(20, 30):
        AnimalFactory.create(species=species, code=f"A-{number}", place=f"Rack B · {number}")
    assert queries_of(lambda: owner_client.get(ROUND)) == first


@pytest.mark.parametrize(
    "kind", ["meal", "weight", "shed", "cleaning", "health", "treatment", "quarantine"]
)
def test_what_is_noted_begins_with_today(owner_client: Client, kind: str) -> None:
    (animal,) = rack(1)
    page = reverse("animals-husbandry-new", args=[animal.pk, kind])
    assert filled(owner_client, page)["on"] == timezone.localdate().isoformat()


def test_a_meal_begins_with_what_it_had_last(owner_client: Client, owner: m.Account) -> None:
    (animal,) = rack(1)
    week_ago = timezone.localdate() - timedelta(7)
    care.feed(fed=fed([animal]), where="A-1", prey="rat", grams=40, on=week_ago, by=owner)
    form = filled(owner_client, reverse("animals-husbandry-new", args=[animal.pk, "meal"]))
    assert (form["prey"], form["grams"]) == ("rat", "40")
