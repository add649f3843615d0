"""Projects to forecast, for the benchmarks."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from fractions import Fraction

from genetics import (
    Animal,
    Forecast,
    ForecastQuestion,
    Goal,
    Locus,
    Population,
    Solved,
    Trait,
    forecast,
    solve,
)

__all__ = ["cpu", "forecast", "two_recessives"]

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


def cpu(action: Callable[[], Forecast]) -> float:
    """Seconds of CPU that an action takes."""
    start = time.process_time()
    action()
    return time.process_time() - start
