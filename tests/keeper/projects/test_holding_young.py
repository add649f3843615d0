"""Several hatchlings held back at once, straight from the hatch."""

from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.projects import writes as projects
from keeper.domain.projects.writes import Requirement
from tests.factories import AnimalFactory, ClutchFactory, LineFactory


@pytest.fixture
def clutch(db: None) -> m.Clutch:
    return ClutchFactory.create(code="26-01")


@pytest.fixture
def project(clutch: m.Clutch, owner: m.Account) -> m.Project:
    line = LineFactory.create(trait__species=clutch.species)
    made = m.Project(species=clutch.species, name="Pale tide", wanted=2, sex="female")
    goal = [Requirement(line.trait, line, m.Need.SHOWS)]
    projects.start_project(project=made, parts=goal, by=owner)
    return made


def young(clutch: m.Clutch, code: str, **more: Any) -> m.Animal:
    return AnimalFactory.create(species=clutch.species, clutch=clutch, code=code, **more)


def post(client: Client, clutch: m.Clutch, *chosen: m.Animal, **typed: Any) -> Any:
    data = {
        "young": [one.pk for one in chosen], "since": "2026-06-01", "review_on": "2027-06-01",
        "reason": "Broad stripe.", **typed,
    }  # fmt: skip
    return client.post(reverse("projects-hold-young", args=[clutch.pk]), data)


def test_several_are_held_back_in_one_entry(
    owner_client: Client, clutch: m.Clutch, project: m.Project
) -> None:
    one, two, other = (young(clutch, f"26-01-0{n}") for n in (1, 2, 3))
    answer = post(owner_client, clutch, one, two, project=project.pk)
    assert answer["Location"].startswith(reverse("projects-one", args=[project.pk]))
    held = m.Member.objects.order_by("animal__code")
    assert [(row.animal, row.reason, row.holdback, row.review_on) for row in held] == [
        (one, "Broad stripe.", True, date(2027, 6, 1)),
        (two, "Broad stripe.", True, date(2027, 6, 1)),
    ]
    entry = m.DaybookEntry.objects.latest("pk")
    assert entry.what == "Held back for Pale tide: 26-01-01, 26-01-02"
    assert other not in {row.animal for row in held}


def test_sent_twice_it_is_written_once(
    owner_client: Client, clutch: m.Clutch, project: m.Project
) -> None:
    one = young(clutch, "26-01-01")
    sent = [post(owner_client, clutch, one, project=project.pk, once="a" * 32) for _ in "12"]
    assert sent[0]["Location"] == sent[1]["Location"]
    assert m.Member.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "field"), [({"young": []}, "young"), ({"reason": ""}, "reason"),
                         ({"review_on": ""}, "review_on"), ({"project": ""}, "project")],
)  # fmt: skip
def test_what_is_missing_is_asked_for_with_the_rest_kept(
    owner_client: Client, clutch: m.Clutch, project: m.Project, typed: dict[str, Any], field: str
) -> None:
    one = young(clutch, "26-01-01")
    answer = post(owner_client, clutch, one, **{"project": project.pk, **typed})
    assert list(answer.context["form"].errors) == [field]
    assert not m.Member.objects.exists()


def test_one_that_is_in_it_already_refuses_all(
    owner_client: Client, clutch: m.Clutch, project: m.Project
) -> None:
    one, two = young(clutch, "26-01-01"), young(clutch, "26-01-02")
    post(owner_client, clutch, two, project=project.pk)
    answer = post(owner_client, clutch, one, two, project=project.pk)
    assert answer.status_code == 200 and answer.context["form"].errors
    assert [row.animal for row in m.Member.objects.all()] == [two]


def test_those_of_other_clutches_or_gone_are_not_offered(
    owner_client: Client, clutch: m.Clutch, project: m.Project
) -> None:
    here, sold = young(clutch, "26-01-01"), young(clutch, "26-01-02", status="sold")
    AnimalFactory.create(species=clutch.species, code="F-9")
    page = owner_client.get(reverse("projects-hold-young", args=[clutch.pk]))
    assert list(page.context["form"].fields["young"].queryset) == [here]
    assert list(post(owner_client, clutch, sold, project=project.pk).context["form"].errors) == [
        "young"
    ]
