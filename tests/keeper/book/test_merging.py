"""Two people change one record: fields apart are merged, one field is asked about."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keeper.domain.animals.writes import change_animal
from keeper.domain.book.merging import Overtaken
from keeper.domain.book.refusing import NothingChanged, Refused
from keeper.domain.book.writing import writing
from keeper.models import Account, Animal, DaybookEntry, Species
from tests.factories import SpeciesFactory
from tests.keeper.sent import hidden_in, opened


@pytest.fixture
def python(db: None) -> Species:
    return SpeciesFactory.create(name="royal python")


@pytest.fixture
def animal(python: Species, owner: Account) -> Animal:
    with writing(by=owner, what="Added F-1") as book:
        return book.keep(Animal(species=python, code="F-1", sex="female", place="Rack 1"))


def typed(animal: Animal, **changed: Any) -> dict[str, Any]:
    whole = {"code": animal.code, "species": animal.species_id, "sex": animal.sex}
    return whole | {"place": animal.place, "status": animal.status, "reason": ""} | changed


def edit(animal: Animal) -> str:
    return reverse("animals-edit", args=[animal.pk])


def test_the_second_of_two_tabs_leaves_the_fields_of_the_first(
    owner_client: Client, helper_client: Client, animal: Animal
) -> None:
    address = edit(animal)
    first, second = opened(owner_client, address), opened(helper_client, address)
    owner_client.post(address, typed(animal, place="Rack 2") | first)
    answer = helper_client.post(address, typed(animal, name="Ember") | second)
    animal.refresh_from_db()
    assert (animal.place, animal.name) == ("Rack 2", "Ember")
    assert DaybookEntry.objects.latest("pk").what == "Changed name of F-1"
    page = helper_client.get(answer.headers["Location"]).content.decode()
    assert "Mara changed place from Rack 1 to Rack 2. That was kept." in page


def test_what_collides_is_shown_and_kept_as_it_was_typed(
    owner_client: Client, helper_client: Client, animal: Animal
) -> None:
    address = edit(animal)
    first, second = opened(owner_client, address), opened(helper_client, address)
    owner_client.post(address, typed(animal, place="Rack 2", name="Ember") | first)
    shown = helper_client.post(address, typed(animal, place="Rack 3") | second)
    page = shown.content.decode()
    assert shown.status_code == 200
    assert "Mara changed place from Rack 1 to Rack 2; you typed Rack 3." in page
    assert 'value="Rack 3"' in page
    animal.refresh_from_db()
    assert animal.place == "Rack 2"

    # Saved once more, knowingly, what was typed stands; what was not typed stays Mara's.
    helper_client.post(address, typed(animal, place="Rack 3", name="") | hidden_in(page))
    animal.refresh_from_db()
    assert (animal.place, animal.name) == ("Rack 3", "Ember")


def test_what_changed_once_more_is_asked_once_more(
    owner_client: Client, helper_client: Client, owner: Account, animal: Animal
) -> None:
    address = edit(animal)
    second = opened(helper_client, address)
    owner_client.post(address, typed(animal, place="Rack 2") | opened(owner_client, address))
    page = helper_client.post(address, typed(animal, place="Rack 3") | second).content.decode()
    now = Animal.objects.get(pk=animal.pk)
    now.place = "Rack 9"
    change_animal(animal=now, by=owner)
    page = helper_client.post(
        address, typed(animal, place="Rack 3") | hidden_in(page)
    ).content.decode()
    assert "Mara changed place from Rack 1 to Rack 9; you typed Rack 3." in page


def test_a_form_with_an_error_still_says_what_it_was_made_from(
    owner_client: Client, helper_client: Client, animal: Animal
) -> None:
    address = edit(animal)
    second = opened(helper_client, address)
    owner_client.post(address, typed(animal, name="Ember") | opened(owner_client, address))
    wrong = typed(animal, place="Rack 3", name="", hatched_on="no day") | second
    page = helper_client.post(address, wrong).content.decode()
    helper_client.post(address, typed(animal, place="Rack 3", name="") | hidden_in(page))
    animal.refresh_from_db()
    assert (animal.place, animal.name) == ("Rack 3", "Ember")


def test_what_was_read_before_another_wrote_does_not_put_it_back(
    owner: Account, helper: Account, animal: Animal
) -> None:
    mine, theirs = Animal.objects.get(pk=animal.pk), Animal.objects.get(pk=animal.pk)
    theirs.place = "Rack 2"
    change_animal(animal=theirs, by=helper)
    mine.name = "Ember"
    change_animal(animal=mine, by=owner)
    animal.refresh_from_db()
    assert (animal.place, animal.name) == ("Rack 2", "Ember")
    mine, theirs = Animal.objects.get(pk=animal.pk), Animal.objects.get(pk=animal.pk)
    theirs.place = "Rack 4"
    change_animal(animal=theirs, by=helper)
    mine.place = "Rack 5"
    with pytest.raises(Overtaken):
        change_animal(animal=mine, by=owner)


def test_nothing_changed_is_not_written(
    owner_client: Client, owner: Account, animal: Animal
) -> None:
    entries = DaybookEntry.objects.count()
    address = edit(animal)
    answer = owner_client.post(address, typed(animal) | opened(owner_client, address))
    assert "Nothing was changed" in answer.content.decode()
    with pytest.raises(NothingChanged):
        change_animal(animal=Animal.objects.get(pk=animal.pk), by=owner)
    assert DaybookEntry.objects.count() == entries


def test_a_hatch_year_that_was_changed_is_named(owner: Account, animal: Animal) -> None:
    animal.hatched_year = 2019
    assert change_animal(animal=animal, by=owner).what == "Changed hatched year of F-1"


@pytest.mark.parametrize("odd", ["x", "animal.1", "animal.999.1", "nothing.1.1", "animal.1.1.1.1"])
def test_versions_that_are_none_harm_nothing(
    owner_client: Client, animal: Animal, odd: str
) -> None:
    address = edit(animal)
    form = typed(animal, place="Rack 2") | opened(owner_client, address) | {"made_from": odd}
    assert owner_client.post(address, form).status_code == 302


def test_withdrawing_twice_is_refused(owner: Account, animal: Animal) -> None:
    stale = Animal.objects.get(pk=animal.pk)
    with writing(by=owner, what="Withdrew") as book:
        book.withdraw(animal, reason="a slip")
    with pytest.raises(Refused) as refused, writing(by=owner, what="Withdrew") as book:
        book.withdraw(stale, reason="again")
    assert str(refused.value) == "F-1 was withdrawn already: nothing is left to do."
