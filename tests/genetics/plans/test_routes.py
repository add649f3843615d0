"""Routes to a goal: against every route there is on small cases, and with their arithmetic."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from genetics.casefile import answer_case, read_case
from genetics.errors import BeyondExact
from genetics.plans import steps
from genetics.plans.questions import RoutesQuestion
from genetics.plans.routes import routes
from genetics.population import Goal
from genetics.solving import solve
from tests.genetics import cases
from tests.genetics.case_draws import Draw, all_keys, pick, pick_some, sometimes
from tests.genetics.plans.twin_routes import twin_routes
from tests.genetics.small_cases import HET, POSSIBLE_HET, VISUAL, case, dam, sire
from tests.genetics.twin_genome import FEMALE, MALE, SEXES, Case, Genome, number
from tests.genetics.twin_worlds import is_possible, known_sexes

some = settings(
    max_examples=8,
    deadline=None,
    derandomize=True,
    database=None,
    print_blob=False,
    suppress_health_check=list(HealthCheck),
)
fewer = settings(some, max_examples=4)
TWO: dict[str, Any] = {
    "loci": [{"id": "a", "alleles": ["+", "a"]}, {"id": "b", "alleles": ["+", "b"]}],
    "traits": [{"id": "A", "recessive_at": ["a"]}, {"id": "B", "recessive_at": ["b"]}],
}


def asked(given: Case, **question: Any) -> list[dict[str, Any]]:
    """The routes of one question."""
    answer = answer_case({**given, "ask": {"routes": [question]}})
    return list(answer["routes"][0])


def two_visuals() -> Case:
    """A female that shows A alone and a male that shows B alone."""
    return {
        **case(
            dam({"a": {"a/a": 1}, "b": {"+/+": 1}}), sire({"a": {"+/+": 1}, "b": {"b/b": 1}})
        ),
        **TWO,
    }  # fmt: skip


# ---- by hand ---------------------------------------------------------------------------------


def test_two_visuals_reach_both_through_their_double_hets() -> None:
    goal = {"shows": {"A": True, "B": True}}
    (found,) = asked(two_visuals(), goal=goal, animals=["D", "S"])
    # All young are double hets.  Of eight, one of each sex is there but for all of one sex:
    # 1 - 2 · (1/2)^8 = 127/128.  Brother by sister gives 1/16, of eight one with 1 - (15/16)^8.
    last = 1 - (15 / 16) ** 8
    assert found["steps"] == [
        {
            "dam": "D", "sire": "S", "shows": {"A": False, "B": False}, "sex": "both",
            "chance": pytest.approx(1, abs=1e-12),
            "clutch": pytest.approx(127 / 128, abs=1e-12), "known": True,
        },
        {
            "dam": "k1", "sire": "k1", "shows": {"A": True, "B": True}, "sex": "any",
            "chance": pytest.approx(1 / 16, abs=1e-12),
            "clutch": pytest.approx(last, abs=1e-12), "known": True,
        },
    ]  # fmt: skip
    assert found["generations"] == 2
    assert found["seasons"] == pytest.approx(128 / 127 + 3 + 1 / last, abs=1e-12)


def test_what_is_kept_tells_of_its_parents() -> None:
    # Of a 66 % het by a het a visual comes with 2/3 · 1/4 = 1/6; once there is one, the dam is a
    # het for sure, so that the visual's brother by her gives 1/2.
    question = {"goal": {"shows": {"Saltgrass": True}}, "animals": ["D", "S"], "eggs": 2}
    found = asked(case(dam(POSSIBLE_HET), sire(HET)), **question)
    first, back = found[0], next(
        one for one in found
        if [step["dam"] for step in one["steps"]] == ["D", "D"]
        and one["steps"][0]["shows"] == {"Saltgrass": True}
    )  # fmt: skip
    assert first["generations"] == 1
    assert first["steps"][0]["chance"] == pytest.approx(1 / 6, abs=1e-12)
    # Parents are shared by a clutch: 2/3 · (1 - (3/4)^2) = 7/24, not 1 - (5/6)^2 = 11/36.
    assert first["seasons"] == pytest.approx(24 / 7, abs=1e-12)
    assert [step["sex"] for step in back["steps"]] == ["male", "any"]
    # A male visual: 2/3 · (1 - (7/8)^2) = 5/32.  Then 1 - (1/2)^2 = 3/4.
    assert back["steps"][0]["clutch"] == pytest.approx(5 / 32, abs=1e-12)
    assert back["steps"][1]["chance"] == pytest.approx(1 / 2, abs=1e-12)
    assert back["seasons"] == pytest.approx(32 / 5 + 3 + 4 / 3, abs=1e-12)


def test_a_look_of_several_genotypes_is_not_known() -> None:
    found = asked(
        case(dam(HET), sire(VISUAL)), goal={"shows": {"Saltgrass": False}}, animals=["D", "S"],
        generations=1,
    )  # fmt: skip
    # Of a het by a visual those that do not show are hets.
    assert [one["steps"][0]["known"] for one in found] == [True]
    found = asked(
        case(dam(HET), sire(HET)), goal={"shows": {"Saltgrass": False}}, animals=["D", "S"],
        generations=1,
    )  # fmt: skip
    assert [one["steps"][0]["known"] for one in found] == [False]


def test_a_goal_may_name_genotypes_and_a_sex() -> None:
    goal = {"genotypes": {"sg": ["+/m"]}, "sex": "female"}
    (found,) = asked(
        case(dam(HET), sire(VISUAL)), goal=goal, animals=["D", "S"], generations=1, eggs=1
    )
    (step,) = found["steps"]
    # A half are hets, a half of these females; with no trait to be seen all look alike.
    assert step["sex"] == "female"
    assert step["shows"] == {}
    assert step["chance"] == pytest.approx(1 / 4, abs=1e-12)
    assert step["clutch"] == pytest.approx(1 / 4, abs=1e-12)
    assert step["known"] is False


def test_animals_of_unknown_sex_and_hopeless_goals_have_no_routes() -> None:
    goal = {"shows": {"Saltgrass": True}}
    unknown = case(dam(VISUAL), {"id": "S", "founder": VISUAL})
    assert asked(unknown, goal=goal, animals=["D", "S"]) == []
    hopeless = case(dam({"sg": {"+/+": 1}}), sire({"sg": {"+/+": 1}}))
    assert asked(hopeless, goal=goal, animals=["D", "S"], generations=3) == []


def test_there_are_ten_at_most_and_the_best_first() -> None:
    females = [{**dam(HET), "id": f"F{i}"} for i in range(4)]
    males = [{**sire(HET), "id": f"M{i}"} for i in range(4)]
    given = case(*females, *males)
    names = [one["id"] for one in given["animals"]]
    found = asked(given, goal={"shows": {"Saltgrass": True}}, animals=names, generations=3)
    seasons = [one["seasons"] for one in found]
    # A clutch of two hets gives a visual with 1 - (3/4)^8: no second generation is as soon.
    assert seasons == [pytest.approx(1 / (1 - 0.75**8), abs=1e-12)] * 10
    assert {(one["steps"][0]["dam"], one["steps"][0]["sire"]) for one in found} <= {
        (dam["id"], sire["id"]) for dam in females for sire in males
    }


def test_too_large_a_question_is_refused_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(steps, "MOST_COUPLES", 1)
    solved = solve(read_case(two_visuals()).population)
    question = RoutesQuestion(Goal(shows={"A": True, "B": True}), ("D", "S"))
    with pytest.raises(BeyondExact) as refused:
        routes(solved, question)
    assert str(refused.value) == "more than 1 couples would have to be weighed"


@pytest.mark.parametrize("seed", [0, 3, 5, 7])
def test_cutting_loses_no_route(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With bounds that say no more than what is possible at all, the best are the same."""
    random = Random(seed)
    chances = (0, 1, "2/3", "1/20")  # of one copy

    def founder() -> dict[str, Any]:
        said: dict[str, Any] = {}
        for one in ("a", "b"):
            p = number(random.choice(chances))
            het = {f"+/{one}": str(p), "+/+": str(1 - p)}
            said[one] = {f"{one}/{one}": 1} if random.random() < 0.25 else het
        return said

    animals = [
        {"id": name, "sex": sex, "founder": founder()}
        for name, sex in (("F", "female"), ("M", "male"), ("N", "male"))
    ]
    rates = [{"female": 0.1, "male": 0.2}]
    linked = {"linkage": [{"loci": ["a", "b"], "recombination": rates}]} if seed % 2 else {}
    solved = solve(read_case({**case(*animals), **TWO, **linked}).population)
    goal = Goal(shows={"A": random.random() < 0.7, "B": True})
    question = RoutesQuestion(goal, ("F", "M", "N"), 3, mature=random.choice((0, 3)))
    found = routes(solved, question)
    crossed, goal_clutch = steps.Breeding.crossed, steps.Breeding.goal_clutch

    def certain(breeding: steps.Breeding, dam: int, sire: int) -> steps.Crossed:
        bounds = crossed(breeding, dam, sire)
        return bounds._replace(clutch=(bounds.clutch > 0).astype(float))

    def certain_goal(breeding: steps.Breeding, dam: int, sire: int) -> float:
        return float(goal_clutch(breeding, dam, sire) > 0)

    monkeypatch.setattr(steps.Breeding, "crossed", certain)
    monkeypatch.setattr(steps.Breeding, "goal_clutch", certain_goal)
    every = routes(solved, question)
    assert found
    assert [one.seasons for one in found] == pytest.approx([one.seasons for one in every])
    assert [len(one.steps) for one in found] == [len(one.steps) for one in every]


# ---- against every route ---------------------------------------------------------------------


def question_on(draw: Draw, given: Case, generations: int) -> dict[str, Any] | None:
    """A question that the case allows, if it has animals of both sexes."""
    genome, sexes = Genome(given), known_sexes(given)
    hand = {sex: [who for who, known in sexes.items() if known == sex] for sex in SEXES}
    if not hand[FEMALE] or not hand[MALE]:
        return None
    few = generations == 3
    names = [trait["id"] for trait in given["traits"]]
    goal: dict[str, Any] = {
        "shows": {name: not sometimes(draw) for name in pick_some(draw, names, 1 if few else 2)}
    }
    if sometimes(draw, 3):
        loci = pick_some(draw, list(genome.alleles), 1)
        goal["genotypes"] = {lc: pick_some(draw, all_keys(genome, lc)[::-1], 3) for lc in loci}
    if sometimes(draw, 3):
        goal["sex"] = pick(draw, SEXES)
    return {
        "goal": goal,
        "animals": pick_some(draw, hand[FEMALE], 1 if few else 2) + pick_some(draw, hand[MALE], 1),
        "generations": generations,
        "eggs": pick(draw, (8, 1, 3)),
        "mature": pick(draw, (3, 1, 0)),
    }


Crosses = dict[Any, dict[str, Any]]


def crosses(route: dict[str, Any]) -> Crosses:
    """Steps by what they are, however the steps of a generation are ordered."""
    found: Crosses = {}
    names: dict[str, Any] = {}
    for place, step in enumerate(route["steps"], start=1):
        parents = (names.get(step[role], step[role]) for role in ("dam", "sire"))
        key = (*parents, tuple(sorted(step["shows"].items())))
        names[f"k{place}"] = key
        found[key] = {name: step[name] for name in ("sex", "chance", "clutch", "known")}
    return found


def agrees(found: list[dict[str, Any]], every: list[dict[str, Any]]) -> None:
    """Compare the ten best with all: as good, each with the right figures, and none twice."""
    assert len(found) == min(10, len(every))
    by_steps = {frozenset(crosses(route)): route for route in every}
    assert len(by_steps) == len(every)
    assert len({frozenset(crosses(route)) for route in found}) == len(found)
    for route, best in zip(found, every, strict=False):
        assert route["seasons"] == pytest.approx(best["seasons"], abs=1e-8, rel=1e-9)
        assert len(route["steps"]) == len(best["steps"])
        same = by_steps[frozenset(crosses(route))]
        assert route["generations"] == same["generations"]
        assert route["seasons"] == pytest.approx(same["seasons"], abs=1e-9, rel=1e-9)
        ours, theirs = crosses(route), crosses(same)
        for key, figures in theirs.items():
            assert ours[key] == pytest.approx(figures, abs=1e-9)


KINDS = [name for name in cases.STRATEGIES if name != "contradictory"]


def compare(kind: str, generations: int, data: st.DataObject) -> None:
    """Ask a random question of a random case, and list every route there is."""
    given = data.draw(cases.STRATEGIES[kind])
    question = question_on(data.draw, given, generations)
    assume(question is not None and is_possible(given))
    assert question is not None
    agrees(asked(given, **question), twin_routes(given, question))


@pytest.mark.parametrize("kind", KINDS)
@some
@given(st.data())
def test_two_generations_agree_with_every_route(kind: str, data: st.DataObject) -> None:
    compare(kind, 2, data)


# To list every route of three generations takes the twin minutes where the kind is richer.
@pytest.mark.parametrize("kind", ["sex_linked", "clutch"])
@fewer
@given(st.data())
def test_three_generations_agree_with_every_route(kind: str, data: st.DataObject) -> None:
    compare(kind, 3, data)


def test_hatchlings_for_95_percent_by_hand() -> None:
    # Two hets give a visual in a quarter: 1 - (3/4)^10 = 94.4 %, ^11 = 95.8 %. A 2/3 het with a
    # het gives one in at most two thirds of all cases, however many hatch.
    from genetics import RoutesQuestion, read_case, routes, solve

    het = {"sg": {"+/har": 1}}
    case = {
        "loci": [{"id": "sg", "alleles": ["+", "har"]}],
        "traits": [{"id": "Saltgrass", "shown_by": [{"sg": ["har/har"]}]}],
        "animals": [
            {"id": "F1", "sex": "female", "founder": het},
            {"id": "F2", "sex": "female", "founder": {"sg": {"+/+": "1/3", "+/har": "2/3"}}},
            {"id": "M1", "sex": "male", "founder": het},
        ],
    }
    population = read_case(case).population
    from genetics import Goal

    question = RoutesQuestion(Goal({"Saltgrass": True}), ("F1", "F2", "M1"), generations=1)
    needed = {
        route.steps[0].dam: route.steps[0].needed for route in routes(solve(population), question)
    }
    assert needed == {"F1": 11, "F2": None}
