"""Projects to forecast, for the benchmarks."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from fractions import Fraction
from random import Random

from genetics import (
    Animal,
    Forecast,
    ForecastQuestion,
    Goal,
    Locus,
    Population,
    Season,
    SeasonQuestion,
    Solved,
    Trait,
    forecast,
    solve,
)
from genetics.plans.questions import WeightedGoal
from genetics.plans.season import season

__all__ = ["cpu", "forecast", "paired", "two_recessives", "yard"]

POSSIBLE = {"+/+": Fraction(1, 3), "+/m": Fraction(2, 3)}


def two_recessives(places: int | None, uncertain: bool) -> tuple[Solved, ForecastQuestion]:
    """A double visual from two visuals of one gene each, or from four possible carriers of both."""
    loci = tuple(Locus(name, ("+", "m")) for name in "ab")
    traits = tuple(Trait(name, recessive_at=(name.lower(),)) for name in "AB")
    if uncertain:
        both: Mapping[str, Mapping[str, Fraction]] = {"a": POSSIBLE, "b": POSSIBLE}
        animals = tuple(
            Animal(name, sex="female" if name in "FG" else "male", founder=both) for name in "FGMN"
        )
    else:
        animals = (
            Animal("F", sex="female", founder={"a": {"m/m": 1}, "b": {"+/+": 1}}),
            Animal("M", sex="male", founder={"a": {"+/+": 1}, "b": {"m/m": 1}}),
        )
    question = ForecastQuestion(
        Goal(shows={"A": True, "B": True}), {one.id: 3 for one in animals}, 10,
        ((6, Fraction(1, 4)), (8, Fraction(1, 2)), (10, Fraction(1, 4))),
        lays=0.85, lives=0.97, pairs=2, matings=2, places=places,
    )  # fmt: skip
    return solve(Population(loci=loci, traits=traits, animals=animals)), question


def yard() -> tuple[Solved, SeasonQuestion]:
    """Sixty females and forty males, young of twenty founders that may carry three genes."""
    random = Random(1)
    loci = tuple(Locus(name, ("+", "m")) for name in "abc")
    traits = tuple(Trait(name, recessive_at=(name.lower(),)) for name in "ABC")
    said: Mapping[str, Mapping[str, Fraction]] = {"a": POSSIBLE, "b": POSSIBLE, "c": POSSIBLE}
    animals = [Animal(f"G{n}", sex="female", founder=said) for n in range(10)]
    animals += [Animal(f"H{n}", sex="male", founder=said) for n in range(10)]
    females = tuple(f"F{n}" for n in range(60))
    males = tuple(f"M{n}" for n in range(40))
    for names, sex in ((females, "female"), (males, "male")):
        for name in names:
            dam, sire = f"G{random.randrange(10)}", f"H{random.randrange(10)}"
            animals.append(Animal(name, sex=sex, dam=dam, sire=sire))  # type: ignore[arg-type]
    goals = (
        WeightedGoal(Goal(shows={"A": True, "B": True})),
        WeightedGoal(Goal(shows={"C": True})),
    )
    question = SeasonQuestion(
        females, males, goals=goals, eggs=8, matings=3, clutches=30, kinship=0.2
    )
    population = Population(loci=loci, traits=traits, animals=tuple(animals))
    return solve(population), question


def paired(solved: Solved, question: SeasonQuestion) -> Season:
    """The season's pairs."""
    return season(solved, question)


def cpu(action: Callable[[], Forecast]) -> float:
    """Seconds of CPU that an action takes."""
    start = time.process_time()
    action()
    return time.process_time() - start
