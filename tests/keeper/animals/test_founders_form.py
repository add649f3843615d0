"""The form of a founder: a code suggested, a visual said once, the rest folded."""

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.animals.founder_codes import next_codes
from tests.factories import AnimalFactory, ClutchFactory, LineFactory

pytestmark = pytest.mark.django_db


def test_codes_go_on_from_those_in_the_book() -> None:
    assert next_codes() == ["F-001", "M-001"]
    for code in ("F-013", "F-014", "M-3", "Grey"):
        AnimalFactory.create(code=code)
    clutch = ClutchFactory.create()
    AnimalFactory.create(code="f-015", clutch=clutch, species=clutch.species)
    made = m.Animal.objects.get(code__startswith="A-")  # the dam of that clutch
    after = f"A-{int(made.code[2:]) + 1:03}"
    assert next_codes() == ["F-016", after, "M-4"]


def post(client: Client, line: m.Line, **typed: Any) -> Any:
    rows = {"said-TOTAL_FORMS": "1", "seen-TOTAL_FORMS": "1",
            "said-INITIAL_FORMS": "0", "seen-INITIAL_FORMS": "0"}  # fmt: skip
    said = {"said-0-line": line.pk, "said-0-claim": "visual", "seen-0-seen": "yes"}
    animal = {"code": "F-1", "species": line.trait.species_id, "sex": "female", "status": "kept"}
    return client.post(
        reverse("animals-new"), {**rows, **said, **animal, "look-scope": "part", **typed}
    )


@pytest.mark.parametrize(("typed", "seen"), [({"look-visual_seen": "on"}, ["yes"]), ({}, [])])
def test_a_visual_is_said_once(
    owner_client: Client, typed: dict[str, str], seen: list[str]
) -> None:
    line = LineFactory.create()
    assert post(owner_client, line, **typed).status_code == 302
    assert [one.claim for one in m.Statement.objects.all()] == ["visual"]
    looks = m.Observation.objects.all()
    assert [(one.trait, one.seen) for one in looks] == [(line.trait, one) for one in seen]


def test_what_was_seen_of_it_goes_before(owner_client: Client) -> None:
    line = LineFactory.create()
    typed = {"look-visual_seen": "on", "seen-0-trait": line.trait_id, "seen-0-seen": "unsure"}
    assert post(owner_client, line, **typed).status_code == 302
    assert [one.seen for one in m.Observation.objects.all()] == ["unsure"]


def test_what_is_folded_is_open_where_something_stands_in_it(owner_client: Client) -> None:
    line = LineFactory.create()

    def open_parts(answer: Any) -> list[str]:
        found = re.findall(
            r'<details class="rows" open><summary>(.*?)</summary>', answer.content.decode()
        )
        return [str(one) for one in found]

    assert open_parts(owner_client.get(reverse("animals-new"))) == []
    assert open_parts(post(owner_client, line, code="")) == []
    for typed, part in (
        ({"papers-says": "Het."}, "Its papers"),
        ({"sire": "nobody"}, "Parents that are in the book"),
        ({"place": "Rack 1"}, "Name, place, status, notes"),
        ({"look-scope": "whole"}, "What else is seen on it, and how far you looked"),
    ):
        assert open_parts(post(owner_client, line, code="", **typed)) == [part]
