"""Today's page: what needs somebody, what was written last, and the first steps of a new book."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries
from pytest_django.asserts import assertContains, assertNotContains

from keeper.domain.accounts import starting
from keeper.domain.today import queries as reads
from keeper.models import (
    Account,
    Animal,
    Clutch,
    DaybookEntry,
    HatchRow,
    Member,
    Project,
    StandingChange,
    Word,
)
from tests.factories import (
    AnimalFactory,
    ClutchFactory,
    LineFactory,
    SpeciesFactory,
    TraitFactory,
)
from tests.keeper.collection.rows import dispute, standing

pytestmark = pytest.mark.django_db

TODAY = timezone.localdate()


def days(number: int) -> date:
    return TODAY + timedelta(days=number)


def clutch_due_in(number: int, **more: object) -> Clutch:
    """A clutch of a species of 60 days, due so many days from today."""
    return ClutchFactory.create(laid_on=days(number - 60), **more)


def holdback(*, closed_on: date | None = None, **more: Any) -> Member:
    animal = AnimalFactory.create()
    project = Project.objects.create(
        species=animal.species, name=f"Project {animal.code}", closed_on=closed_on
    )
    values = {"reason": "the darkest", "since": TODAY, "review_on": TODAY} | more
    return Member.objects.create(project=project, animal=animal, **values)


def test_clutches_due_are_those_near_their_day_and_not_hatched() -> None:
    soon, late, today = clutch_due_in(5), clutch_due_in(-3), clutch_due_in(0)
    clutch_due_in(40)
    clutch_due_in(5, hatched_on=TODAY)
    clutch_due_in(5, eggs=4, slugs=3, lost=1)
    clutch_due_in(5, withdrawn_at=timezone.now())
    ClutchFactory.create()
    assert [(one.clutch, one.on) for one in reads.clutches_due(TODAY)] == [
        (late, days(-3)),
        (today, days(0)),
        (soon, days(5)),
    ]


def test_the_day_of_hatching_is_the_species_own() -> None:
    species = SpeciesFactory.create(incubation_days=90)
    dam = AnimalFactory.create(species=species, sex="female")
    clutch_due_in(10, dam=dam)
    assert reads.clutches_due(TODAY) == []
    assert [one.on for one in reads.clutches_due(days(25))] == [days(40)]


def test_clutches_unlogged_are_those_with_eggs_nobody_accounts_for() -> None:
    def hatched(**more: object) -> Clutch:
        return ClutchFactory.create(hatched_on=TODAY, **more)

    nothing, some, all_of_them = hatched(), hatched(eggs=8, slugs=1), hatched(eggs=3, lost=1)
    HatchRow.objects.create(clutch=some, count=4)
    HatchRow.objects.create(clutch=some, count=2, withdrawn_at=timezone.now())
    HatchRow.objects.create(clutch=all_of_them, count=2)
    HatchRow.objects.create(clutch=hatched(), count=2)
    found = [(one.clutch, one.missing) for one in reads.clutches_unlogged()]
    assert found == [(nothing, None), (some, 3)]


def test_reviews_due_are_live_holdbacks_whose_day_has_come() -> None:
    due = holdback(review_on=days(-2))
    today = holdback()
    holdback(review_on=days(1))
    holdback(released_on=TODAY)
    holdback(withdrawn_at=timezone.now())
    holdback(closed_on=TODAY)
    assert list(reads.reviews_due(TODAY)) == [due, today]


def test_the_page_shows_what_needs_somebody(owner_client: Client, owner: Account) -> None:
    animal = AnimalFactory.create(code="F-014", species__name="Royal python")
    trait = TraitFactory.create(species=animal.species)
    standing(animal, trait, 0.5, dispute=dispute(animal, "Saltgrass seen on H-1"))
    late = clutch_due_in(-2, code="26-01", eggs=7)
    clutch_due_in(1, code="26-02")
    part = ClutchFactory.create(code="26-03", hatched_on=TODAY, eggs=2, slugs=1)
    member = holdback(reason="the darkest of five")
    page = owner_client.get("/")
    for text in (
        "Saltgrass seen on H-1",
        "F-014</a>: disputed",
        "due 2 days ago",
        "due tomorrow",
        "1 egg not accounted for",
        "the darkest of five",
        f'aria-label="Log it: the hatch of {late.code}"',
        f'aria-label="Go on with the hatch of {part.code}"',
        member.project.name,
    ):
        assertContains(page, text)
    assertNotContains(page, "Nothing waits for you")


def test_a_closed_dispute_needs_nobody(helper_client: Client) -> None:
    found = dispute(AnimalFactory.create())
    found.closed = found.opened
    found.save()
    assertContains(helper_client.get("/"), "Nothing waits for you")


def test_the_page_shows_the_last_entries_and_what_they_moved(
    owner_client: Client, owner: Account
) -> None:
    line = LineFactory.create()
    animal = AnimalFactory.create(species=line.trait.species)
    for number in range(10):
        entry = DaybookEntry.objects.create(by=owner, what=f"entry {number}")
    for _ in range(2):
        StandingChange.objects.create(
            entry=entry, animal=animal, trait=line.trait, word=Word.PROVEN, two=0, none=0
        )
    page = owner_client.get("/")
    assertContains(page, "2 figures moved", count=1)
    assertContains(page, "entry 2<")
    assertNotContains(page, "entry 1<")


def test_the_page_costs_as_many_queries_for_three_as_for_one(
    owner_client: Client, owner: Account, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    def fill(number: int) -> None:
        animal = AnimalFactory.create()
        trait = TraitFactory.create(species=animal.species)
        standing(animal, trait, 0.5, dispute=dispute(animal, f"record {number}"))
        clutch_due_in(3)
        ClutchFactory.create(hatched_on=TODAY)
        holdback()
        DaybookEntry.objects.create(by=owner, what="something")

    fill(1)
    owner_client.get("/")
    with django_assert_num_queries(20) as one:
        owner_client.get("/")
    number = len(one)
    fill(2)
    fill(3)
    owner_client.get("/")  # what is kept until the next entry
    with django_assert_num_queries(number):
        owner_client.get("/")


def test_log_a_hatch_opens_the_clutch_that_is_due(owner_client: Client) -> None:
    def leads_to() -> str:
        text = owner_client.get("/").content.decode()
        return text[: text.index('">Log a hatch')].rpartition('href="')[2]

    AnimalFactory.create()
    assert leads_to() == "/clutches/"
    clutch_due_in(-2000)
    assert leads_to() == "/clutches/"
    later, due = clutch_due_in(5), clutch_due_in(-1)
    assert leads_to() == f"/clutches/{due.pk}/hatch/"
    due.hatched_on = TODAY
    due.save()
    assert leads_to() == f"/clutches/{later.pk}/hatch/"


def test_an_empty_book_says_what_to_do_first(owner_client: Client) -> None:
    page = owner_client.get("/")
    assertContains(page, "Nothing is written in this book yet")
    assertContains(page, '<a href="/register/species/new/">Set up a species</a>')
    assertNotContains(page, "Log a hatch")
    LineFactory.create()
    page = owner_client.get("/")
    assertContains(page, "<s>Set up a species</s>")
    assertContains(page, "<s>Set up the traits")
    Animal.objects.create(species=SpeciesFactory.create(), code="F-1")
    page = owner_client.get("/")
    assertNotContains(page, "Nothing is written in this book yet")
    assertContains(page, "Log a hatch")


@pytest.mark.parametrize(("who", "offered"), [("owner", 1), ("helper", 0)])
def test_an_empty_book_offers_the_example_to_its_owner(
    owner_client: Client,
    helper_client: Client,
    monkeypatch: pytest.MonkeyPatch,
    who: str,
    offered: int,
) -> None:
    monkeypatch.setattr(starting, "example_may_be_loaded", lambda: True)
    client = owner_client if who == "owner" else helper_client
    assertContains(client.get("/"), "load the example collection", count=offered)
