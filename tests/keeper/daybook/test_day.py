"""An entry says which day it tells of, where it was typed on another."""

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keeper.domain.animals.writes import Arrival, add_animal
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from keeper.models import Account, Animal, Clutch, DaybookEntry, Look, Species
from tests.factories import AnimalFactory, ClutchFactory, SpeciesFactory

CAME = date(2021, 5, 4)


@pytest.fixture
def species(db: None) -> Species:
    return SpeciesFactory.create(name="royal python")


def came(species: Species, by: Account, code: str = "F-014", on: date = CAME) -> DaybookEntry:
    return add_animal(
        arrival=Arrival(
            Animal(species=species, code=code, hatched_on=date(2019, 8, 1), acquired_on=on)
        ),
        by=by,
    )


def test_what_is_typed_years_later_is_of_the_day_that_it_happened(
    owner: Account, species: Species
) -> None:
    entry = came(species, owner)
    assert entry.day == entry.late_of == CAME


def test_what_is_typed_on_its_day_says_no_other(owner: Account, species: Species) -> None:
    assert came(species, owner, on=timezone.localdate()).late_of is None


def test_records_of_several_days_leave_the_entry_without_one(
    owner: Account, species: Species
) -> None:
    with writing(by=owner, what="Looked through the rack") as book:
        for code, day in (("F-1", 3), ("F-2", 4)):
            animal = book.keep(Animal(species=species, code=code))
            book.keep(Look(animal=animal, on=date(2024, 6, day), by=owner))
    assert book.entry.day is None


def test_records_kept_together_give_their_day_as_well(owner: Account, species: Species) -> None:
    with writing(by=owner, what="Came together") as book:
        book.keep_many(Animal(species=species, code=f"F-{n}", acquired_on=CAME) for n in range(3))
    assert book.entry.day == CAME


def test_a_hatch_is_of_the_day_of_hatching(owner: Account) -> None:
    clutch = Clutch.objects.get(pk=ClutchFactory.create(laid_on=date(2024, 6, 1)).pk)
    with writing(by=owner, what="Hatch") as book:
        clutch.hatched_on = date(2024, 8, 1)
        book.keep(clutch)
    assert book.entry.day == date(2024, 8, 1)


def test_a_corrected_day_is_no_event_of_that_day(owner: Account, species: Species) -> None:
    animal = Animal.objects.get(pk=AnimalFactory.create(species=species, hatched_on=CAME).pk)
    with writing(by=owner, what="Changed", reason="a year too late") as book:
        animal.hatched_on = date(2020, 5, 4)
        book.keep(animal)
    assert book.entry.day is None


def test_a_second_change_of_where_it_is_has_its_own_day(owner: Account, species: Species) -> None:
    animal = Animal.objects.get(
        pk=AnimalFactory.create(species=species, status="lent", status_since=CAME).pk
    )
    with writing(by=owner, what="Sold") as book:
        animal.status, animal.status_since = "sold", date(2022, 1, 9)
        book.keep(animal)
    assert book.entry.day == date(2022, 1, 9)


def test_taking_back_is_told_of_the_same_day(owner: Account, species: Species) -> None:
    assert undo(entry=came(species, owner), by=owner).day == CAME


def test_daybook_entry_animal_and_today_say_the_day(
    owner: Account, owner_client: Client, species: Species
) -> None:
    entry = came(species, owner)
    for address in (reverse("daybook"), reverse("home")):
        assert "of 4 May 2021" in owner_client.get(address).content.decode()
    page = owner_client.get(reverse("daybook-entry", args=[entry.pk])).content.decode()
    assert "Tuesday, 4 May 2021; written" in page
