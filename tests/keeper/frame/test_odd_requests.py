"""Addresses that no page of ours links to are answered, whichever database is asked."""

import pytest
from django.test import Client

from tests.factories import AnimalFactory

pytestmark = pytest.mark.django_db

# PostgreSQL takes no zero byte in a text, and its numbers end earlier than an address can.
NUL, HUGE = "A%00", "9" * 24


def test_odd_code_goes_to_the_animal_it_names_without_its_zero_byte(owner_client: Client) -> None:
    animal = AnimalFactory.create(code="A")
    answer = owner_client.get(f"/animals/?go=1&q={NUL}")
    assert (answer.status_code, answer.headers["Location"]) == (302, f"/animals/{animal.pk}/")


@pytest.mark.parametrize(
    "address",
    [
        f"/animals/?q={NUL}&place={NUL}",
        f"/animals/?sort={NUL}&species={HUGE}&line={HUGE}",
        f"/animals/export.csv?q={NUL}",
        f"/clutches/?q={NUL}&order={NUL}&season={HUGE}&page={HUGE}",
        f"/clutches/pick/?sex=female&field=dam&dam={NUL}",
        f"/clutches/pairing/?dam={HUGE}&sire={NUL}&eggs={HUGE}",
        f"/clutches/new/?dam={NUL}&sire={HUGE}",
        f"/daybook/?by={HUGE}&page={HUGE}",
        f"/daybook/?moved={HUGE}",
        f"/projects/hold/?animal={HUGE}&project={NUL}",
        f"/projects/?moved={HUGE}",
        f"/register/contacts/?q={NUL}&page={NUL}",
    ],
)
def test_odd_requests_are_answered(owner_client: Client, address: str) -> None:
    AnimalFactory.create(code="A")
    assert owner_client.get(address).status_code == 200


@pytest.mark.parametrize("address", ["/animals/{}/", "/clutches/{}/", "/daybook/{}/"])
def test_odd_numbers_name_nothing(owner_client: Client, address: str) -> None:
    assert owner_client.get(address.format(HUGE)).status_code == 404
