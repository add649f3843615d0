"""Places: the tree, what is free, moving, naming anew, entering what is only written."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.book.refusing import Refused
from keeper.domain.book.undoing import undo
from keeper.domain.places import queries as reads
from keeper.domain.places import writes as places
from tests.factories import AnimalFactory, SpeciesFactory
from tests.keeper.counting import queries_of

pytestmark = pytest.mark.django_db


def rack(owner: m.Account, parts: int = 12) -> m.Place:
    place = m.Place(name="Rack 7", kind="rack")
    places.add_place(place=place, parts=parts, by=owner)
    return place


def test_a_rack_has_numbered_tubs_that_hold_one_each(owner: m.Account) -> None:
    rack(owner)
    (spot,) = reads.tree()
    assert [one.place.name for one in spot.parts][-2:] == ["Rack 7 · 11", "Rack 7 · 12"]
    assert (spot.holds, spot.count, spot.free, spot.is_over) == (12, 0, 12, False)
    AnimalFactory.create(place="Rack 7 · 2")
    (spot,) = reads.tree()
    assert (spot.count, spot.free, spot.parts[1].free) == (1, 11, 0)


def test_moving_beyond_what_a_place_holds_is_asked(owner_client: Client, owner: m.Account) -> None:
    place = rack(owner, 2)
    one = AnimalFactory.create(code="A-1", place="Rack 7 · 1")
    AnimalFactory.create(code="A-2", place="Rack 7 · 2", species=one.species)
    address = reverse("animals-places-one", args=[place.pk])
    page = owner_client.get(address).content.decode()
    once = re.search(r'name="once" value="([^"]+)"', page)
    assert once is not None
    form = {"animals": str(one.pk), "to": "Rack 7 · 2", "once": once[1]}
    asked = owner_client.post(address, form).content.decode()
    assert "Rack 7 · 2 holds 1 animal; 2 would be in it. Is that so?" in asked
    assert m.Animal.objects.get(pk=one.pk).place == "Rack 7 · 1"
    key = re.search(r'name="insist" value="([^"]+)"', asked)
    assert key is not None
    assert owner_client.post(address, form | {"insist": key[1]}).status_code == 302
    assert m.Animal.objects.get(pk=one.pk).place == "Rack 7 · 2"
    (spot,) = reads.tree()
    assert spot.parts[1].is_over
    assert 'class="over"' in owner_client.get(address).content.decode()


def test_a_new_name_goes_to_everybody_in_it_and_back(owner: m.Account) -> None:
    animal = AnimalFactory.create(place="Rack 7 · 1")
    rack(owner, 1)
    tub = m.Place.objects.get(name="Rack 7 · 1")
    tub.name = "Rack 7 · A"
    entry = places.change_place(place=tub, by=owner)
    assert m.Animal.objects.get(pk=animal.pk).place == "Rack 7 · A"
    undo(entry=entry, by=owner)
    assert m.Animal.objects.get(pk=animal.pk).place == "Rack 7 · 1"
    assert m.Place.objects.get(pk=tub.pk).name == "Rack 7 · 1"


def test_what_is_only_written_becomes_racks_and_tubs(owner: m.Account) -> None:
    species = SpeciesFactory.create()
    for number, name in enumerate(("Rack 1 · 10", "Rack 1 · 9", "Shed", "")):
        AnimalFactory.create(species=species, code=f"A-{number}", place=name)
    before = sorted(m.Animal.objects.values_list("code", "place"))
    assert [(one.rack, one.names) for one in reads.written_only()] == [
        ("Rack 1", ("Rack 1 · 9", "Rack 1 · 10")),
        ("Shed", ("Shed",)),
    ]
    entry = places.enter_written(by=owner)
    assert entry.what == "Entered 4 places as they are written"
    assert reads.written_only() == []
    names = [spot.place.name for root in reads.tree() for spot in root.walk()]
    assert names == ["Rack 1", "Rack 1 · 9", "Rack 1 · 10", "Shed"]
    assert sorted(m.Animal.objects.values_list("code", "place")) == before
    assert reads.nowhere() == 1


def test_a_place_is_not_within_itself(owner: m.Account) -> None:
    place = rack(owner, 1)
    place.within = m.Place.objects.get(name="Rack 7 · 1")
    with pytest.raises(Exception, match="would be a part of itself"):
        places.change_place(place=place, by=owner)


def test_a_place_with_parts_is_not_withdrawn(owner: m.Account) -> None:
    with pytest.raises(Refused, match="rests on what would be withdrawn"):
        places.withdraw_place(place=rack(owner, 1), by=owner, reason="gone")


def test_pages_ask_no_more_for_more_places(owner_client: Client, owner: m.Account) -> None:
    address = reverse("animals-places-one", args=[rack(owner, 3).pk])
    species = SpeciesFactory.create()
    AnimalFactory.create(species=species, place="Rack 7 · 1")
    pages = [reverse("animals-places"), address]
    first = [queries_of(lambda page=page: owner_client.get(page)) for page in pages]  # type: ignore[misc]
    places.add_place(place=m.Place(name="Rack 8", kind="rack"), parts=9, by=owner)
    for number in (1, 2, 3):
        AnimalFactory.create(species=species, place=f"Rack 7 · {number}")
    assert [queries_of(lambda page=page: owner_client.get(page)) for page in pages] == first  # type: ignore[misc]


def test_a_place_is_withdrawn_on_its_own_page(owner_client: Client, owner: m.Account) -> None:
    rack(owner, 1)
    tub = m.Place.objects.get(name="Rack 7 · 1")
    animal = AnimalFactory.create(place=tub.name)
    address = reverse("animals-places-withdraw", args=[tub.pk])
    once = re.search(r'name="once" value="([^"]+)"', owner_client.get(address).content.decode())
    assert once is not None
    answer = owner_client.post(address, {"reason": "broken", "once": once[1]})
    assert answer.status_code == 302
    assert m.Place.objects.get(pk=tub.pk).is_withdrawn
    assert m.Animal.objects.get(pk=animal.pk).place == "Rack 7 · 1"
