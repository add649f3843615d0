"""Ways to a goal, the plan that one becomes, and where its steps stand."""

from datetime import date
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused
from keeper.domain.inference import Way
from keeper.domain.projects import plans
from keeper.domain.projects.offered import offer
from keeper.domain.projects.plans import way_words
from keeper.domain.projects.writes import close_project
from keeper.models import Account, Plan, PlannedPairing, PlanStep
from keeper.pages.projects.ways import sign
from tests.keeper.projects.planning import TODAY, TwoGenes, with_its_goal


@pytest.fixture
def book(owner: Account) -> TwoGenes:
    return TwoGenes(owner, sex_determination="ZW")


def best(book: TwoGenes, *animals: m.Animal) -> Way:
    found = inference.ways(book.project, animals, generations=2, eggs=8, mature=3)
    return found.ways[0]


def chosen(book: TwoGenes) -> Plan:
    way = best(book, *book.visuals())
    words = {step.number: way_words(step) for step in way.steps}
    plans.choose_way(
        project=book.project, way=way, on=date(2026, 10, 1), eggs=8, words=words, by=book.by
    )
    plan: Plan = Plan.objects.live().get()
    return plan


def test_two_visuals_lead_by_double_hets(book: TwoGenes) -> None:
    way = best(book, *book.visuals())
    first, last = way.steps
    # All young of two visuals of different recessive genes carry both; two of these give 1 in 16.
    assert (first.chance, first.known, first.sex) == (1.0, True, "both")
    assert last.chance == pytest.approx(1 / 16)
    # 1 - (15/16)^46 = 94.9 %, ^47 = 95.2 %.
    assert last.needed == 47
    # One of each sex among eight: 1 - 2 (1/2)^8; then 1 / (1 - (15/16)^8), and three to grow.
    seasons = 1 / (1 - 2 * 0.5**8) + 3 + 1 / (1 - (15 / 16) ** 8)
    assert way.seasons == pytest.approx(seasons)
    assert way_words(first) == "one of each sex that shows none of it"
    assert way_words(last) == "the goal: one that meets it"


def test_nobody_who_carries_it_leads_nowhere_but_a_bought_one_may(book: TwoGenes) -> None:
    dam = book.founder("F1", "female", "visual")
    sire = book.founder("M1", "male", "visual")
    found = inference.ways(book.project, [dam, sire], generations=2, eggs=8, mature=3)
    assert found.ways == ()
    # Nobody here has the other gene: the bought one brings it.
    found = inference.ways(
        book.project, [dam, sire], generations=2, eggs=8, mature=3,
        bought=offer(with_its_goal(book), "male"),
    )  # fmt: skip
    assert found.ways[0].steps[0].sire.animal is None
    book.founder("X", "male", "visual", line=book.second)
    dam2 = book.founder("F2", "female", "visual", line=book.second)
    found = inference.ways(
        book.project,
        [dam, dam2],
        generations=1,
        eggs=8,
        mature=3,
        bought=offer(with_its_goal(book), "male"),
    )
    # A bought double het with a visual of one gene alone never shows both in one generation.
    assert found.ways == ()
    found = inference.ways(
        book.project,
        [dam, dam2],
        generations=2,
        eggs=8,
        mature=3,
        bought=offer(with_its_goal(book), "male"),
    )
    assert found.ways
    assert all(parent.animal != sire.pk for step in found.ways[0].steps for parent in (step.sire,))


def test_a_chosen_way_is_the_plan(book: TwoGenes) -> None:
    plan = chosen(book)
    steps = list(PlanStep.objects.live().filter(plan=plan))
    assert [(str(one.dam or one.dam_of), one.sex) for one in steps] == [
        ("F1", "both"),
        (f"step 1 of the {plan}", "any"),
    ]
    state = plans.plan_states([book.project], TODAY)[book.project.pk]
    assert [one.state for one in state.steps] == [plans.READY, plans.WAITING]
    assert state.steps[1].waits_for == "what step 1 keeps and what step 1 keeps"


def test_steps_follow_what_is_bred_and_held_back(book: TwoGenes) -> None:
    chosen(book)
    dam, sire = (m.Animal.objects.get(code=code) for code in ("F1", "M1"))
    clutch = book.clutch("C1", dam, sire)
    m.Clutch.objects.filter(pk=clutch.pk).update(laid_on=date(2026, 10, 5))

    def states() -> list[str]:
        found = plans.plan_states([book.project], TODAY)[book.project.pk]
        return [one.state for one in found.steps]

    assert states() == [plans.BRED, plans.WAITING]
    book.member(book.hatchling("K1", clutch, "female"), review=date(2027, 5, 1))
    assert states() == [plans.BRED, plans.WAITING]
    book.member(book.hatchling("K2", clutch, "male"), review=date(2027, 5, 1))
    assert states() == [plans.KEPT, plans.WAITING]
    found = plans.plan_states([book.project], TODAY)[book.project.pk]
    assert found.steps[1].waits_for == "K1, K2 to grow, 2028"
    later = plans.plan_states([book.project], date(2029, 6, 1))[book.project.pk]
    assert later.steps[1].state == plans.READY


def test_a_clutch_laid_before_does_not_count(book: TwoGenes) -> None:
    dam, sire = book.visuals()
    clutch = book.clutch("C1", dam, sire)
    m.Clutch.objects.filter(pk=clutch.pk).update(laid_on=date(2025, 5, 5))
    way = best(book, dam, sire)
    words = {step.number: "one" for step in way.steps}
    plans.choose_way(
        project=book.project, way=way, on=date(2026, 10, 1), eggs=8, words=words, by=book.by
    )
    state = plans.plan_states([book.project], TODAY)[book.project.pk]
    assert state.steps[0].state == plans.READY


def test_ready_steps_are_offered_until_they_are_planned(book: TwoGenes) -> None:
    chosen(book)
    (one,) = plans.steps_ready(TODAY)
    assert (one.dams[0].code, one.sires[0].code) == ("F1", "M1")
    pairing = PlannedPairing(season=2027, dam=one.dams[0], sire=one.sires[0], reason="step 1")
    pairing.save()
    assert plans.steps_ready(TODAY) == []


def test_another_way_takes_the_place_and_can_be_undone(book: TwoGenes) -> None:
    plan = chosen(book)
    way = best(book, *(m.Animal.objects.get(code=code) for code in ("F1", "M1")))
    words = {step.number: "one" for step in way.steps}
    entry = plans.choose_way(
        project=book.project, way=way, on=TODAY, eggs=8, words=words, by=book.by
    )
    assert Plan.objects.live().get() != plan
    undo(entry=entry, by=book.by)
    assert Plan.objects.live().get() == plan
    assert PlanStep.objects.live().count() == 2


def test_a_plan_is_given_up_once(book: TwoGenes) -> None:
    plan = chosen(book)
    plans.give_up_plan(plan=plan, reason="the market turned", by=book.by)
    assert not Plan.objects.live().exists() and not PlanStep.objects.live().exists()
    with pytest.raises(Refused):
        plans.give_up_plan(plan=plan, reason="again", by=book.by)


def test_no_way_is_chosen_for_a_closed_project_or_with_who_is_gone(book: TwoGenes) -> None:
    dam, sire = book.visuals()
    way = best(book, dam, sire)
    words = {step.number: "one" for step in way.steps}
    given: dict[str, Any] = {"project": book.project, "way": way, "on": TODAY, "eggs": 8}
    m.Animal.objects.filter(pk=dam.pk).update(status=m.Status.SOLD)
    with pytest.raises(Refused):
        plans.choose_way(**given, words=words, by=book.by)
    m.Animal.objects.filter(pk=dam.pk).update(status=m.Status.KEPT)
    close_project(project=book.project, on=TODAY, reason="reached", by=book.by)
    with pytest.raises(Refused):
        plans.choose_way(**given, words=words, by=book.by)
    assert not Plan.objects.exists()


def test_page_shows_ways_and_takes_one(client: Client, book: TwoGenes) -> None:
    client.force_login(book.by)
    dam, sire = book.visuals()
    address = reverse("projects-ways", args=[book.project.pk])
    page = client.get(address).content.decode()
    assert "F1 × M1" in page and "what step 1 keeps × what step 1 keeps" in page
    assert "6 % of hatchlings" in page and "47 hatchlings for 95 %" in page
    stale = client.post(address, {"way": "1x2:any:+"})
    assert "The book has changed since" in stale.content.decode()
    cards = client.get(address).context["cards"]
    assert client.post(address, {"way": cards[0].sign}).status_code == 302
    project = client.get(reverse("projects-one", args=[book.project.pk])).content.decode()
    assert "Can be bred now:" in project and "Waits for" in project
    plan = Plan.objects.get()
    give_up = reverse("projects-plan-give-up", args=[plan.pk])
    assert client.get(give_up).status_code == 200
    assert client.post(give_up, {"reason": "no room"}).status_code == 302
    odd = client.get(f"{address}?animals={dam.pk}&animals={sire.pk}&generations=9")
    assert odd.context["form"].errors.keys() == {"generations"}
    assert sign(best(book, dam, sire)) == cards[0].sign


def test_queries_of_plans_do_not_grow(book: TwoGenes) -> None:
    chosen(book)

    def count() -> int:
        with CaptureQueriesContext(connection) as found:
            plans.plan_states([book.project], TODAY)
        return len(found)

    few = count()
    clutch = book.clutch("C1", *(m.Animal.objects.get(code=code) for code in ("F1", "M1")))
    for number in range(4):
        book.member(book.hatchling(f"K{number}", clutch, "female"), review=date(2027, 5, 1))
    assert count() <= few + 1
