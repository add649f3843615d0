"""Kinds of couples told apart by a goal alone give what all kinds together give."""

import pytest

from genetics.clutch_size import at_least_one
from genetics.couple import couple_query, goal_kinds, goal_query
from genetics.couple_goals import goal_chances
from genetics.crosses import couple_chances
from genetics.population import (
    Animal,
    Goal,
    Interval,
    Linkage,
    Locus,
    OffspringQuestion,
    Population,
    Trait,
    Viability,
)
from genetics.solving import solve

MAYBE = {"+/+": 0.25, "+/a": 0.5, "a/a": 0.25}


def book() -> Population:
    """Two linked genes, one that hides another look, one on the X that kills some sons."""
    loci = ("p", "q", "h", "other")
    x = Locus("x", ("+", "a"), chromosome="X")
    founders = dict.fromkeys(loci, MAYBE)
    return Population(
        (*(Locus(name, ("+", "a")) for name in loci), x),
        (
            Animal("grandam", "female", founder={**founders, "x": MAYBE}),
            Animal("grandsire", "male", founder={**founders, "x": {"+/Y": 0.5, "a/Y": 0.5}}),
            Animal("dam", "female", dam="grandam", sire="grandsire"),
            Animal("sire", "male", dam="grandam", sire="grandsire"),
        ),
        traits=(
            Trait("P", recessive_at=("p",)),
            Trait("Q", recessive_at=("q",)),
            Trait("H", recessive_at=("h",), hides=("P",)),
            Trait("Other", recessive_at=("other",)),
            Trait("X", shown_by=({"x": ("a/a", "a/Y")},)),
        ),
        linkage=(Linkage(("p", "q"), (Interval(female=0.1, male=0.2),)),),
        viability=(Viability("x", "a/Y", 0.5),),
        sex_determination="XY",
    )


@pytest.mark.parametrize(
    "goal",
    [
        Goal(shows={"P": True}),
        Goal(shows={"P": True, "Q": True}),
        Goal(shows={"P": True, "X": True}, sex="male"),
        Goal(shows={"Q": False, "Other": True}, sex="female"),
        Goal(genotypes={"p": ("+/a",)}, shows={"H": True}),
        Goal(sex="male"),
    ],
)
def test_goal_kinds_average_to_what_all_kinds_give(goal: Goal) -> None:
    population = book()
    question = OffspringQuestion("dam", "sire", goal=goal)
    every = couple_chances(
        solve(population, queries=[couple_query(population, question)]), question
    )
    own = goal_kinds(solve(population, queries=[goal_query(population, question)]), question)
    assert len(own) <= len(every)
    assert sum(weight for weight, _ in own) == pytest.approx(1)
    for eggs in (1, 5, 20):
        assert at_least_one(own, eggs) == pytest.approx(at_least_one(every, eggs), abs=1e-12)
    matrix = goal_chances(solve(population), ["dam"], ["sire"], goal, 5)
    assert matrix.one[0, 0] == pytest.approx(at_least_one(own, 1), abs=1e-12)
    assert matrix.at_least_one[0, 0] == pytest.approx(at_least_one(own, 5), abs=1e-12)


def test_goal_kinds_need_a_goal() -> None:
    population = book()
    question = OffspringQuestion("dam", "sire")
    with pytest.raises(ValueError, match="the question has no goal"):
        goal_kinds(solve(population, queries=[couple_query(population, question)]), question)
