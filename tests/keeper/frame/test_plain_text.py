"""Names and codes hold no letter that nobody sees, and none that turns others round."""

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.accounts.writes import add_helper
from keeper.domain.book.writing import writing
from keeper.models.plain_text import alphabets, looks_like, visible
from tests.factories import AnimalFactory, ContactFactory, SpeciesFactory

_TURNED = "There is a sign in this that turns the direction of writing and cannot be seen. "


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("\ufeffF-014", "F-014"),
        ("F\u200b-0\u00ad14", "F-014"),
        ("F-\u200d014", "F-014"),
        ("F-\u3164014", "F-014"),
        ("Zoe\u0308", "Zo\u00eb"),
        ("\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645",) * 2,
        ("two\nlines",) * 2,
    ],
)
def test_letters_that_cannot_be_seen_are_taken_out(typed: str, kept: str) -> None:
    assert visible(typed) == kept


def test_every_record_is_kept_without_them(owner: m.Account) -> None:
    species = SpeciesFactory.create()
    with writing(by=owner, what="Names") as book:
        kept: list[m.Record] = [
            book.keep(m.Contact(name="\ufeffAnsel of Pelnaw")),
            book.keep(m.Animal(species=species, code="F-\u200b01", name="Gr\u200dey")),
            book.keep(m.Clutch(species=species, code="\u206026-01")),
        ]
    assert [str(one) for one in kept] == ["Ansel of Pelnaw", "F-01", "26-01"]
    assert m.Animal.objects.get().name == "Grey"


def test_a_name_of_nothing_but_unseen_letters_is_none(owner: m.Account) -> None:
    with (
        pytest.raises(ValidationError, match="cannot be blank"),
        writing(by=owner, what="A contact") as book,
    ):
        book.keep(m.Contact(name="\ufeff\u200b"))


@pytest.mark.parametrize("sign", "\u202e\u2066\u200f\u061c")
def test_signs_that_turn_the_direction_are_refused_with_what_was_typed(
    owner_client: Client, sign: str
) -> None:
    contact = ContactFactory.create(name="Ansel")
    answer = owner_client.post(
        reverse("register-contact-edit", args=[contact.pk]),
        {"name": f"An{sign}sel", "reliability": "100 %"},
    )
    assert answer.status_code == 200
    assert _TURNED in answer.content.decode()
    contact.refresh_from_db()
    assert contact.name == "Ansel"


def test_accounts_are_named_so_too(owner: m.Account) -> None:
    made = add_helper(name="\ufeffTobin", password="a plain long password", by=owner)
    assert (made.name, made.login_name) == ("Tobin", "tobin")


def test_a_pasted_code_is_found(owner_client: Client) -> None:
    animal = AnimalFactory.create(code="F-014")
    answer = owner_client.get("/animals/", {"go": "1", "q": "\ufeffF-014\u200b"})
    assert answer.headers["Location"] == f"/animals/{animal.pk}/"


def test_codes_that_look_alike_are_told() -> None:
    assert looks_like("\u0410\u041d-014") == looks_like("ah-014")
    assert looks_like("F-014") != looks_like("E-014")
    assert (alphabets("F\u0410-01"), alphabets("26-01")) == (["Cyrillic", "Latin"], [])
