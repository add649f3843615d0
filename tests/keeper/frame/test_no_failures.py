"""What once ended in a failure of the server is answered, or refused with what was typed."""

from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.animals.photos import add_photo
from keeper.domain.book.writing import writing
from tests.factories import AnimalFactory, TraitFactory
from tests.keeper.books import Book
from tests.keeper.world import picture

# Numbers that no database keeps: one more than 64 bits hold, and many more.
BEYOND = [str(2**63), "9" * 40]


@pytest.fixture
def family(owner: m.Account) -> tuple[m.Animal, m.Animal, m.Animal]:
    """A dam and a sire with a clutch, and a hatchling of it."""
    book = Book(owner)
    dam, sire = book.founder("F-1", "female"), book.founder("M-1", "male")
    return dam, sire, book.young("K-1", book.clutch("C-1", dam, sire, normal=2))


def _typed(animal: m.Animal, **changed: str) -> dict[str, str]:
    kept = {"code": animal.code, "species": str(animal.species_id), "sex": animal.sex}
    clutch = {"clutch_code": animal.clutch.code} if animal.clutch else {}
    return {**kept, **clutch, "status": "kept", **changed}


@pytest.mark.parametrize("sex", ["female", "male", "unknown"])
def test_sex_of_a_parent_stays_while_it_is_one(
    owner_client: Client, family: tuple[m.Animal, m.Animal, m.Animal], sex: str
) -> None:
    for animal, parent in zip(family, ("dam", "sire"), strict=False):
        if animal.sex == sex:
            continue
        page = reverse("animals-edit", args=[animal.pk])
        answer = owner_client.post(page, _typed(animal, sex=sex, notes="Probed twice."))
        assert answer.status_code == 200
        assert answer.context["form"].errors == {
            "sex": [
                f"{animal.code} is recorded as the {parent} of clutch C-1. "
                "Correct the parents there first."
            ]
        }
        assert "Probed twice." in answer.content.decode()


def test_sex_of_a_stated_parent_stays_too(owner_client: Client) -> None:
    dam = AnimalFactory.create(code="F-1", sex="female")
    AnimalFactory.create(code="K-1", species=dam.species, dam=dam)
    answer = owner_client.post(reverse("animals-edit", args=[dam.pk]), _typed(dam, sex="male"))
    assert answer.context["form"].errors["sex"] == [
        "F-1 is recorded as the dam of K-1. Correct the parents there first."
    ]


def test_sex_is_free_once_the_clutch_is_withdrawn(
    owner_client: Client, family: tuple[m.Animal, m.Animal, m.Animal]
) -> None:
    sire = family[1]
    m.CandidateSire.objects.update(withdrawn_at="2026-06-01T12:00Z")
    answer = owner_client.post(reverse("animals-edit", args=[sire.pk]), _typed(sire, sex="unknown"))
    assert answer.status_code == 302


def test_parent_of_an_animal_of_a_clutch_is_asked_of_the_clutch(
    owner_client: Client, family: tuple[m.Animal, m.Animal, m.Animal]
) -> None:
    dam, _, young = family
    page = reverse("animals-edit", args=[young.pk])
    answer = owner_client.post(page, _typed(young, dam=dam.code))
    assert answer.status_code == 200
    assert answer.context["form"].errors == {
        "clutch_code": ["Its clutch names its parents; leave these empty."]
    }
    assert 'value="F-1"' in answer.content.decode()


@pytest.mark.parametrize("number", BEYOND)
@pytest.mark.parametrize("field", ["seen", "unsure", "unseen"])
def test_traits_by_numbers_beyond_the_database_are_none(
    owner_client: Client, field: str, number: str
) -> None:
    animal = AnimalFactory.create()
    page = reverse("animals-observe", args=[animal.pk])
    answer = owner_client.post(page, {field: [number], "scope": "part", "on": "2026-06-01"})
    assert answer.status_code == 200
    assert field in answer.context["form"].errors


@pytest.mark.parametrize("number", BEYOND)
def test_traits_hidden_by_such_numbers_are_none(owner_client: Client, number: str) -> None:
    trait = TraitFactory.create()
    TraitFactory.create(species=trait.species)
    answer = owner_client.post(
        reverse("register-trait-edit", args=[trait.pk]), {"name": "Sedge", "hides": [number]}
    )
    assert answer.status_code == 200
    assert "hides" in answer.context["page"].forms[0].errors


def test_addresses_by_such_numbers_lead_nowhere(owner_client: Client) -> None:
    animal = AnimalFactory.create()
    for number in BEYOND:
        for page in (f"/animals/{number}/change/", f"/animals/{animal.pk}/grounds/{number}/"):
            assert owner_client.get(page).status_code == 404


@pytest.mark.parametrize("back", ["9" * 40, "nowhere", "//elsewhere.example/"])
def test_a_way_back_that_is_no_address_leads_home(owner_client: Client, back: str) -> None:
    answer = owner_client.post(reverse("theme"), {"theme": "dark", "back": back})
    assert answer.headers["Location"] == reverse("home")


@pytest.mark.parametrize("size", ["", "?size=small"])
def test_photo_whose_file_is_gone_is_not_there(
    owner_client: Client, owner: m.Account, settings: Any, tmp_path: Path, size: str
) -> None:
    settings.MEDIA_ROOT = tmp_path
    animal = AnimalFactory.create()
    add_photo(animal=animal, upload=picture(), by=owner)
    photo = m.Photo.objects.get()
    Path(photo.image.path).unlink()
    assert owner_client.get(reverse("animals-picture", args=[photo.pk]) + size).status_code == 404
    assert owner_client.get(reverse("animals-one", args=[animal.pk])).status_code == 200


def test_photo_whose_file_is_gone_is_withdrawn_captioned_and_restored(
    owner: m.Account, settings: Any, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    add_photo(animal=AnimalFactory.create(), upload=picture(), by=owner)
    Path(m.Photo.objects.get().image.path).unlink()
    photo = m.Photo.objects.get()
    with writing(by=owner, what="Withdrew") as book:
        book.withdraw(photo, reason="blurred")
    photo = m.Photo.objects.get()
    photo.caption = "In her tub"
    with writing(by=owner, what="Restored") as book:
        book.restore(photo)
        book.keep(photo)
    kept = m.Photo.objects.get()
    assert (kept.is_withdrawn, kept.caption, kept.width > 0) == (False, "In her tub", True)
