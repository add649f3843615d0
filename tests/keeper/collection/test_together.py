"""Status, place and review day of several animals at once."""

from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.book.writing import writing
from tests.factories import AnimalFactory, SpeciesFactory
from tests.keeper.counting import queries_of

PAGE = "/animals/together/"


@pytest.fixture
def animals(owner: m.Account) -> list[m.Animal]:
    species = SpeciesFactory.create()
    with writing(by=owner, what="Added") as book:
        return [
            book.keep(m.Animal(species=species, code=f"F-{n}", place="Rack 1")) for n in range(3)
        ]


def post(client: Client, *chosen: m.Animal, **typed: Any) -> Any:
    return client.post(PAGE, {"animals": [one.pk for one in chosen], **typed})


def now(animals: list[m.Animal]) -> list[tuple[str, Any, str]]:
    for one in animals:
        one.refresh_from_db()
    return [(one.status, one.status_since, one.place) for one in animals]


def test_those_ticked_are_changed_in_one_entry_and_undone_together(
    owner_client: Client, animals: list[m.Animal]
) -> None:
    answer = post(owner_client, *animals[:2], status="sold", since="2026-05-01", reason="Fair")
    day = date(2026, 5, 1)
    kept = ("kept", None, "Rack 1")
    assert now(animals) == [("sold", day, "Rack 1"), ("sold", day, "Rack 1"), kept]
    entry = m.DaybookEntry.objects.latest("pk")
    assert (entry.what, entry.reason) == ("Changed status of F-0, F-1", "Fair")
    assert answer["Location"].startswith(reverse("daybook-entry", args=[entry.pk]))
    owner_client.post(reverse("daybook-undo", args=[entry.pk]))
    assert now(animals) == [kept] * 3


def test_an_empty_field_leaves_it_as_it_is(owner_client: Client, animals: list[m.Animal]) -> None:
    post(owner_client, *animals, place="Rack 2 · 2")
    assert now(animals) == [("kept", None, "Rack 2 · 2")] * 3


def test_review_day_of_holdbacks_moves(owner_client: Client, animals: list[m.Animal]) -> None:
    project = m.Project.objects.create(species=animals[0].species, name="Pale tide")
    day = date(2026, 6, 1)
    for one in animals[:2]:
        m.Member.objects.create(
            project=project, animal=one, holdback=True, reason="stripe", since=day, review_on=day
        )
    assert post(owner_client, *animals[:2], review_on="2027-03-01").status_code == 302
    assert {one.review_on for one in m.Member.objects.all()} == {date(2027, 3, 1)}
    answer = post(owner_client, *animals, review_on="2027-04-01")
    assert answer.context["form"].non_field_errors() == [
        "F-2 is held back for no project: there is no day to look again. Leave it out."
    ]
    assert {one.review_on for one in m.Member.objects.all()} == {date(2027, 3, 1)}


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({}, "status"), ({"since": "2026-05-01"}, "status"),
        ({"status": "sold", "since": "2199-05-01"}, "since"), ({"status": "eaten"}, "status"),
        ({"animals": [], "place": "Rack 2"}, "animals"),
        ({"animals": ["9" * 40], "place": "Rack 2"}, "animals"),
    ],
)  # fmt: skip
def test_what_is_not_in_order_is_asked_for_again(
    owner_client: Client, animals: list[m.Animal], typed: dict[str, Any], field: str
) -> None:
    answer = post(owner_client, *animals, **{"reason": "Kept <as> typed", **typed})
    assert list(answer.context["form"].errors) == [field]
    assert "Kept &lt;as&gt; typed" in answer.content.decode()
    assert m.DaybookEntry.objects.count() == 1


def test_what_others_changed_meanwhile_is_not_written_over(
    owner_client: Client, owner: m.Account, animals: list[m.Animal]
) -> None:
    text = owner_client.get(PAGE).content.decode()
    made_from = text.split('name="made_from" value="')[1].split('"')[0]
    other = m.Animal.objects.get(pk=animals[1].pk)
    with writing(by=owner, what="Moved") as book:
        other.place = "Rack 9"
        book.keep(other)
    answer = post(owner_client, *animals, place="Rack 2", made_from=made_from)
    assert answer.status_code == 200
    assert [place for _, _, place in now(animals)] == ["Rack 1", "Rack 9", "Rack 1"]


def test_sent_twice_it_is_written_once(owner_client: Client, animals: list[m.Animal]) -> None:
    for _ in "12":
        post(owner_client, *animals, place="Rack 2", once="b" * 32)
    assert m.DaybookEntry.objects.count() == 2  # with the one that added them


def test_only_what_the_list_shows_is_offered(owner_client: Client, animals: list[m.Animal]) -> None:
    page = owner_client.get(PAGE, {"q": "F-1"})
    assert list(page.context["form"].fields["animals"].queryset) == [animals[1]]
    assert f"{PAGE}?q=F-1" in owner_client.get("/animals/?q=F-1").content.decode()


def test_it_costs_as_many_queries_for_many_as_for_few(
    owner_client: Client, animals: list[m.Animal]
) -> None:
    few = queries_of(lambda: owner_client.get(PAGE))
    for number in range(9):
        AnimalFactory.create(species=animals[0].species, code=f"M-{number}")
    assert queries_of(lambda: owner_client.get(PAGE)) == few
