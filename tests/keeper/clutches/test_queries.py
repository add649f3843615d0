"""Pages of clutches ask the database as often for three items as for one."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from keeper import models as m
from tests.factories import AnimalFactory, ClutchFactory, LineFactory, SpeciesFactory, TraitFactory


def asked_by(client: Client, address: str) -> int:
    with CaptureQueriesContext(connection) as seen:
        assert client.get(address).status_code == 200
    return len(seen)


@pytest.fixture
def species(db: None) -> m.Species:
    return SpeciesFactory.create()


def clutch_of(species: m.Species) -> m.Clutch:
    dam = AnimalFactory.create(species=species, sex="female")
    clutch = ClutchFactory.create(dam=dam, laid_on="2026-01-01", hatched_on="2026-03-01")
    sire = AnimalFactory.create(species=species, sex="male")
    m.CandidateSire.objects.create(clutch=clutch, sire=sire)
    return clutch


def hatch(clutch: m.Clutch, trait: m.Trait) -> None:
    """Add a candidate, a row with a recorded hatchling, standings and an entry."""
    sire = AnimalFactory.create(species=clutch.species, sex="male")
    m.CandidateSire.objects.create(clutch=clutch, sire=sire)
    row = m.HatchRow.objects.create(clutch=clutch, count=2)
    m.RowSighting.objects.create(row=row, trait=trait, seen=True)
    AnimalFactory.create(species=clutch.species, clutch=clutch, hatch_row=row)
    entry = m.DaybookEntry.objects.create(what="hatched")
    m.Standing.objects.create(
        animal=sire, trait=trait, two=0, one=1, none=0, word="proven", entry=entry
    )


def test_list_of_clutches(owner_client: Client, species: m.Species) -> None:
    clutch_of(species)
    one = asked_by(owner_client, reverse("clutches"))
    clutch_of(species)
    clutch_of(species)
    assert asked_by(owner_client, reverse("clutches")) == one


@pytest.mark.parametrize("name", ["clutches-one", "clutches-edit"])
def test_page_of_a_clutch(owner_client: Client, species: m.Species, name: str) -> None:
    clutch = clutch_of(species)
    traits = [TraitFactory.create(species=species) for _ in range(3)]
    for trait in traits:
        LineFactory.create(trait=trait)
    hatch(clutch, traits[0])
    address = reverse(name, args=[clutch.pk])
    asked_by(owner_client, address)
    one = asked_by(owner_client, address)
    hatch(clutch, traits[1])
    hatch(clutch, traits[2])
    assert asked_by(owner_client, address) == one


def test_hatch_day(owner_client: Client, species: m.Species) -> None:
    clutch = clutch_of(species)
    trait = TraitFactory.create(species=species)
    LineFactory.create(trait=trait)
    address = reverse("clutches-hatch", args=[clutch.pk])

    def add_row(seen: bool) -> None:
        row = m.HatchRow.objects.create(clutch=clutch, count=2)
        m.RowSighting.objects.create(row=row, trait=trait, seen=seen)
        AnimalFactory.create(species=species, clutch=clutch, hatch_row=row)

    add_row(False)
    asked_by(owner_client, address)
    one = asked_by(owner_client, address)
    add_row(False)
    add_row(False)
    assert asked_by(owner_client, address) == one
