"""What is pointed out: losses by their thresholds, refusals beyond the usual, quarantines."""

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.husbandry.pointed_out import (
    pointed_out,
    pointed_out_of,
    season_of,
    usual_refusals,
)
from keeper.domain.husbandry.queries import percent_lost
from tests.factories import AccountFactory, AnimalFactory, ClutchFactory, SpeciesFactory
from tests.keeper.counting import queries_of

pytestmark = pytest.mark.django_db
TODAY = date(2026, 7, 20)


@pytest.fixture(autouse=True)
def nothing_kept() -> None:
    """Rows made past the daybook are seen all the same."""
    cache.clear()


def weigh(animal: m.Animal, *weights: tuple[int, float]) -> None:
    """Days before today, and grams."""
    for ago, grams in weights:
        m.Weight.objects.create(
            animal=animal, on=TODAY - timedelta(days=ago), grams=Decimal(str(grams))
        )


def meals(animal: m.Animal, outcomes: str, end: date = TODAY) -> None:
    """A meal a week up to a day: t taken, r refused, o offered."""
    words = {"t": "taken", "r": "refused", "o": "offered"}
    for back, one in enumerate(reversed(outcomes)):
        m.Meal.objects.create(
            animal=animal, on=end - timedelta(weeks=back), prey="rat", outcome=words[one]
        )


@pytest.mark.parametrize(("grams", "told"), [(900.0, []), (899.9, [11]), (850.0, [15])])
def test_a_loss_beyond_ten_percent_is_pointed_out_and_no_less(
    grams: float, told: list[int]
) -> None:
    animal = AnimalFactory.create()
    weigh(animal, (60, 1000.0), (1, grams))
    assert [one.percent for one in pointed_out(TODAY).lost] == told


def test_a_loss_rounds_up() -> None:
    assert percent_lost(Decimal(1000), Decimal("899.9")) == 11
    assert percent_lost(Decimal(1000), Decimal(900)) == 10
    assert percent_lost(Decimal(1000), Decimal(1100)) == 0


def test_the_heaviest_of_long_ago_does_not_count() -> None:
    animal = AnimalFactory.create()
    weigh(animal, (100, 1000.0), (50, 850.0), (1, 840.0))
    assert pointed_out(TODAY).lost == ()


def test_a_dam_that_laid_has_a_threshold_of_her_own() -> None:
    dam = AnimalFactory.create(sex="female")
    weigh(dam, (60, 1000.0), (1, 700.0))
    assert [one.threshold for one in pointed_out_of(dam, TODAY).lost] == [10]
    ClutchFactory.create(dam=dam, species=dam.species, laid_on=TODAY - timedelta(days=20))
    assert pointed_out_of(dam, TODAY).lost == ()
    weigh(dam, (0, 640.0))
    found = pointed_out_of(dam, TODAY).lost[0]
    assert (found.laid, found.threshold, found.percent) == (True, 35, 36)


def test_whoever_does_not_live_here_is_left_out() -> None:
    animal = AnimalFactory.create(status="sold")
    weigh(animal, (60, 1000.0), (1, 500.0))
    meals(animal, "rrrrrrrrr")
    assert not pointed_out(TODAY)


def test_refusals_beyond_the_plain_number_until_there_are_enough_rows() -> None:
    animal = AnimalFactory.create()
    meals(animal, "trrrrr")
    assert pointed_out_of(animal, TODAY).refusing == ()
    meals(animal, "r", TODAY - timedelta(days=1))
    found = pointed_out_of(animal, TODAY).refusing[0]
    assert (found.number, found.usual.most, found.usual.own) == (6, 5, False)


def test_a_meal_that_nobody_looked_after_neither_ends_nor_lengthens_a_run() -> None:
    animal = AnimalFactory.create()
    meals(animal, "trrroorrr")
    assert pointed_out_of(animal, TODAY).refusing[0].number == 6


def test_what_is_usual_comes_from_own_rows_of_species_sex_and_season() -> None:
    species = SpeciesFactory.create()
    males = [AnimalFactory.create(species=species, sex="male") for _ in range(20)]
    for animal in males[:19]:
        meals(animal, "rrt", date(2026, 7, 13))
    # One run of four: 19 of 20 are at most two.
    meals(males[19], "rrrrt", date(2026, 7, 19))
    found = usual_refusals(males[0], TODAY)
    assert (found.most, found.runs, found.own) == (2, 20, True)
    last = AnimalFactory.create(species=species, sex="male")
    meals(last, "trrr")
    shown = pointed_out_of(last, TODAY).refusing[0]
    assert (shown.number, shown.season) == (3, "June to August")
    # Of the other sex nothing is known yet.
    female = AnimalFactory.create(species=species, sex="female")
    assert usual_refusals(female, TODAY).own is False


def test_seasons_are_three_months() -> None:
    assert season_of(date(2026, 12, 1))[0] == (12, 1, 2)
    assert season_of(date(2026, 2, 28))[0] == (12, 1, 2)
    assert season_of(date(2026, 3, 1))[0] == (3, 4, 5)
    assert season_of(date(2026, 11, 30))[0] == (9, 10, 11)


def test_a_quarantine_is_spoken_of_when_its_day_has_come_until_it_ended() -> None:
    animal = AnimalFactory.create()
    row = m.Quarantine.objects.create(animal=animal, on=TODAY - timedelta(days=60), until=TODAY)
    assert pointed_out_of(animal, TODAY - timedelta(days=1)).quarantines == ()
    assert pointed_out_of(animal, TODAY).quarantines == (row,)
    row.ended_on = TODAY
    row.save()
    assert pointed_out_of(animal, TODAY).quarantines == ()


def test_queries_do_not_grow_with_what_is_pointed_out() -> None:
    species = SpeciesFactory.create()

    def one() -> None:
        animal = AnimalFactory.create(species=species, sex="male")
        weigh(animal, (60, 1000.0), (1, 500.0))
        meals(animal, "rrrrrrrrr")

    one()
    pointed_out(TODAY)
    first = queries_of(lambda: pointed_out(TODAY + timedelta(days=1)))
    for _ in range(2):
        one()
    assert queries_of(lambda: pointed_out(TODAY + timedelta(days=2))) == first


def test_the_thresholds_are_asked_on_the_page_of_the_species() -> None:
    client = Client()
    client.force_login(
        AccountFactory.create(role="owner"), backend="django.contrib.auth.backends.ModelBackend"
    )
    species = SpeciesFactory.create()
    page = client.get(reverse("register-species-edit", args=[species.pk])).content.decode()
    for name, value in (("loss_percent", 10), ("loss_laid_percent", 35), ("refusals_usual", 5)):
        assert re.search(rf'name="{name}" value="{value}"', page)
