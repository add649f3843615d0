"""Clutch sizes, fertility, hatch rates: what counts, and how sure it is."""

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.figures.rates import clutches_of, rates
from tests.factories import AnimalFactory
from tests.keeper.counting import queries_of

pytestmark = pytest.mark.django_db


def clutch(
    dam: m.Animal, code: str, eggs: int | None, slugs: int, lost: int, young: int
) -> m.Clutch:
    one = m.Clutch.objects.create(
        species=dam.species,
        code=code,
        dam=dam,
        laid_on="2025-03-01",
        eggs=eggs,
        slugs=slugs,
        lost=lost,
    )
    if young:
        m.HatchRow.objects.create(clutch=one, count=young)
    return one


def test_eggs_still_in_the_box_count_for_no_hatch_rate() -> None:
    dam = AnimalFactory.create(code="F-1", sex="female")
    first = clutch(dam, "C-1", 8, 2, 1, 5)
    clutch(dam, "C-2", 6, 0, 0, 0)
    clutch(dam, "C-3", None, 0, 0, 4)
    m.Incubation.objects.create(clutch=first, since="2025-03-01", box="B 1", place="North")
    (row,) = rates(clutches_of(dam.species), "dam")
    assert (row.name, row.clutches, row.sizes, row.median) == ("F-1", 3, (6, 8), 7)
    assert (row.fertile.part, row.fertile.whole) == (12, 14)
    assert (row.hatched.part, row.hatched.whole, row.done) == (5, 6, 1)
    # Clopper and Pearson, 5 of 6: the bounds are quantiles of Beta(5, 2) and Beta(6, 1).
    assert row.hatched.interval == pytest.approx((0.3588, 0.9958), abs=1e-4)
    assert [one.name for one in rates(clutches_of(dam.species), "incubator")] == [
        "North",
        "no incubator noted",
    ]
    assert [one.name for one in rates(clutches_of(dam.species), "sire")] == ["sire not recorded"]


def test_the_page_says_the_numbers_and_asks_as_often_for_many(owner_client: Client) -> None:
    address = reverse("clutches-figures")
    assert "No clutch yet" in owner_client.get(address).content.decode()
    dam = AnimalFactory.create(code="F-1", sex="female")
    clutch(dam, "C-1", 8, 2, 1, 5)
    page = owner_client.get(address, {"by": "dam"}).content.decode()
    assert "5 of 6" in page
    assert "35 % to over 99 %" in page
    few = queries_of(lambda: owner_client.get(address))
    for number in range(2, 5):
        clutch(dam, f"C-{number}", 8, 0, 0, 8)
    assert queries_of(lambda: owner_client.get(address)) == few
