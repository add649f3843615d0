"""Goals of many couples at once are those of each couple alone, on random cases."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from genetics import read_case, solve
from genetics.casefile import answer_case
from genetics.couple_goals import goal_chances
from genetics.errors import ImpossibleEvidence
from genetics.pair_tables import _Reader
from tests.genetics import cases
from tests.genetics.twin_genome import Case
from tests.genetics.twin_worlds import known_sexes

EGGS = 8
drawn = settings(
    max_examples=30, deadline=None, derandomize=True, database=None,
    suppress_health_check=list(HealthCheck),
)  # fmt: skip


def compare(case: Case) -> int:
    """Compare every couple of recorded sexes, and return how many there were."""
    asked_for = case.get("ask", {}).get("offspring", [])
    goals = [question["goal"] for question in asked_for if question.get("goal")]
    goals += [{"shows": {trait["id"]: True}} for trait in case["traits"][:1]]
    sexes = known_sexes(case)
    dams = [who for who, sex in sexes.items() if sex == "female"][:3]
    sires = [who for who, sex in sexes.items() if sex == "male"][:3]
    if not goals or not dams or not sires:
        return 0
    asked: dict[str, Any] = copy.deepcopy(case)
    asked["ask"] = {
        "offspring": [
            {"dam": dam, "sire": sire, "goal": goals[0], "eggs": [EGGS]}
            for dam in dams
            for sire in sires
        ]
    }
    read = read_case(asked)
    try:
        solved = solve(read.population)
    except ImpossibleEvidence:
        return 0
    goal = read.ask.offspring[0].goal
    assert goal is not None
    found = goal_chances(solved, dams, sires, goal, EGGS)
    one_by_one = iter(answer_case(asked)["offspring"])
    for row in range(len(dams)):
        for column in range(len(sires)):
            told = next(one_by_one)
            assert found.one[row, column] == pytest.approx(told["goal"], abs=1e-11)
            each = told["at_least_one"][str(EGGS)]
            assert found.at_least_one[row, column] == pytest.approx(each, abs=1e-11)
    return len(dams) * len(sires)


@drawn
@given(cases.mixed_cases())
def test_as_each_couple_alone(case: Case) -> None:
    compare(case)


@drawn
@given(cases.sex_linked_cases())
def test_as_each_couple_alone_on_sex_chromosomes(case: Case) -> None:
    compare(case)


@drawn
@given(cases.masked_lines_cases())
def test_as_each_couple_alone_where_lines_may_be_one(case: Case) -> None:
    compare(case)


def couple_of_hets() -> Case:
    """Brother and sister, each a possible het, and a cousin of neither."""
    het = {"sg": {"+/+": "1/3", "+/har": "2/3"}}
    return {
        "loci": [{"id": "sg", "alleles": ["+", "har"]}, {"id": "pa", "alleles": ["+", "p"]}],
        "traits": [
            {"id": "Saltgrass", "shown_by": [{"sg": ["har/har"]}]},
            {"id": "Pale", "shown_by": [{"pa": ["p/p"]}], "hides": ["Saltgrass"]},
        ],
        "animals": [
            {"id": "F", "sex": "female", "founder": het | {"pa": {"+/p": 1}}},
            {"id": "M", "sex": "male", "founder": het | {"pa": {"+/p": 1}}},
            {"id": "K", "sex": "female", "dam": "F", "sire": "M", "shows": {"Saltgrass": False}},
            {"id": "L", "sex": "male", "dam": "F", "sire": "M", "shows": {"Pale": False}},
        ],
        "ask": {"offspring": [{"dam": "F", "sire": "M", "goal": {"shows": {"Saltgrass": True}}}]},
    }


def test_where_floats_cannot_hold_a_chance(monkeypatch: pytest.MonkeyPatch) -> None:
    assert compare(couple_of_hets()) == 4
    monkeypatch.setattr(_Reader, "tables", lambda self, data: None)
    assert compare(couple_of_hets()) == 4


def test_nothing_asked_is_certain() -> None:
    case = couple_of_hets()
    solved = solve(read_case(case).population)
    from genetics.population import Goal

    found = goal_chances(solved, ["F", "K"], ["M"], Goal(), EGGS)
    assert found.one.tolist() == [[1.0], [1.0]]
    female = goal_chances(solved, ["F"], ["M"], Goal(sex="female"), 1)
    assert female.at_least_one.tolist() == [[0.5]]


@drawn
@given(cases.mixed_cases())
def test_bits_are_those_of_each_test_mating(case: Case) -> None:
    from genetics import CarrierQuestion, TestQuestion, matings, test_bits
    from genetics.keys import genotype_keys

    sexes = known_sexes(case)
    dams = [who for who, sex in sexes.items() if sex == "female"][:2]
    sires = [who for who, sex in sexes.items() if sex == "male"][:2]
    if not dams or not sires or not case["traits"]:
        return
    population = read_case({**case, "ask": {}}).population
    try:
        solved = solve(population)
    except ImpossibleEvidence:
        return
    locus = population.loci[-1]
    keys = genotype_keys(locus, population.sex_determination, "female")[1:3]
    if not keys:
        return
    trait = population.traits[0].id
    asked = CarrierQuestion("dam", locus.id, tuple(keys), trait, 4)
    found = test_bits(solved, dams, sires, asked)
    for row, dam in enumerate(dams):
        question = TestQuestion(dam, {locus.id: tuple(keys)}, tuple(sires), (4,), trait, 0.99)
        for column, one in enumerate(matings(solved, question)):
            assert found[row, column] == pytest.approx(one.bits[4], abs=1e-9)


def test_bits_by_hand() -> None:
    # A half het with a visual, one egg: shows it in a quarter of all; H(1/2) - 3/4 H(1/3) bits.
    from math import log2

    from genetics import CarrierQuestion, test_bits

    case = {
        "loci": [{"id": "sg", "alleles": ["+", "har"]}],
        "traits": [{"id": "Saltgrass", "shown_by": [{"sg": ["har/har"]}]}],
        "animals": [
            {"id": "F", "sex": "female", "founder": {"sg": {"+/+": 0.5, "+/har": 0.5}}},
            {"id": "M", "sex": "male", "founder": {"sg": {"har/har": 1}}},
        ],
    }
    solved = solve(read_case(case).population)
    question = CarrierQuestion("dam", "sg", ("+/har",), "Saltgrass", 1)
    left = -(1 / 3 * log2(1 / 3) + 2 / 3 * log2(2 / 3))
    assert test_bits(solved, ["F"], ["M"], question)[0, 0] == pytest.approx(1 - 3 / 4 * left)
