"""A chance as it is typed: 66 is 66 %, 1 and below is asked, nothing is one half of a doubt."""

from fractions import Fraction
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.models import read_chance
from keeper.pages.frame.fields import ChanceInput
from tests.factories import AnimalFactory, LineFactory, TraitFactory


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("66", "33/50"), ("12,5", "1/8"), ("100", "1"), ("66 %", "33/50"), ("0.5 %", "1/200"),
        ("2/3", "2/3"), ("0", "0"), ("1/1", "1"),
    ],
)  # fmt: skip
def test_chance_is_read_as_it_is_meant(typed: str, meant: str) -> None:
    assert ChanceInput().clean(typed) == Fraction(meant)


@pytest.mark.parametrize("typed", ["101", "3/2", "-1", "half"])
def test_what_is_no_chance_is_refused(typed: str) -> None:
    with pytest.raises(ValidationError):
        ChanceInput().clean(typed)


@pytest.mark.parametrize(
    ("typed", "offered"),
    [("1", ("100 %", "1 %")), ("0.5", ("50 %", "0.5 %")), ("0,66", ("66 %", "0.66 %"))],
)
def test_one_and_below_is_asked(typed: str, offered: tuple[str, str]) -> None:
    with pytest.raises(ValidationError) as asked:
        ChanceInput().clean(typed)
    assert asked.value.messages == [f"Do you mean {offered[0]} or {offered[1]}?"]


def test_what_is_written_in_fixtures_is_a_share() -> None:
    assert [read_chance("1"), read_chance("0.5")] == [Fraction(1), Fraction(1, 2)]


def test_what_was_meant_is_taken_with_one_tap(owner_client: Client) -> None:
    animal = AnimalFactory.create()
    trait = TraitFactory.create(species=animal.species, name="Saltgrass")
    LineFactory.create(trait=trait, code="HAR")
    page = reverse("animals-statement-new", args=[animal.pk])
    typed = {"trait": trait.pk, "claim": "possible", "chance": "0.5"}
    shown = owner_client.post(page, typed).content.decode()
    assert "Do you mean 50 % or 0.5 %?" in shown
    assert 'name="instead" value="chance=50+%25">Save it with 50 %</button>' in shown
    answer = owner_client.post(page, {**typed, "instead": "chance=50+%25"})
    assert answer.status_code == 302
    assert m.Statement.objects.get().chance == Fraction(1, 2)


def _doubted(client: Client, **typed: str) -> Any:
    """Add a line beside another one: at a locus of its own, and nobody is sure."""
    line = m.Line.objects.get(code="HAR")
    place = {f"place-{name}": value for name, value in (("place", "open"), *typed.items())}
    place["place-chromosome"] = "autosome"
    return client.post(
        reverse("register-line-new", args=[line.trait_id]),
        {"code": "PEL", "name": "Pelnaw", "background": "0", **place},
    )


@pytest.mark.parametrize("typed", ["", "25"])
def test_empty_chance_where_nobody_is_sure_is_one_half(owner_client: Client, typed: str) -> None:
    line = LineFactory.create(code="HAR")
    answer = _doubted(owner_client, **{f"pair-{line.pk}": typed})
    assert answer.status_code == 302
    assert m.OpenPair.objects.get().prior == Fraction(typed or 50) / 100


def test_starting_chance_left_empty_is_one_half(owner_client: Client) -> None:
    line = LineFactory.create(code="HAR")
    _doubted(owner_client, **{f"pair-{line.pk}": "25"})
    pair = m.OpenPair.objects.get()
    page = reverse("register-pair-weigh", args=[pair.pk])
    shown = owner_client.post(page, {"prior": ""})
    if shown.status_code == 200:  # what it moves is looked at first
        owner_client.post(page, {"prior": "", "seen": shown.context["page"].preview.digest})
    pair.refresh_from_db()
    assert pair.prior == Fraction(1, 2)
