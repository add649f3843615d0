"""Many forecasts at once, here or by a worker elsewhere.

    packet = pack([Scenario(population, question), ...])            # bytes
    found = unpack_forecasts(forecast_packet(packet))               # anywhere

A scenario decides its forecast, to the last bit: its runs have the seed of its question.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from genetics.errors import BeyondExact
from genetics.plans.forecast import Forecast, forecast
from genetics.plans.questions import ForecastQuestion
from genetics.population import Population
from genetics.solving import Solved, solve_or_apart
from genetics.subproblems import check_engine


class Scenario(NamedTuple):
    """A forecast that is asked for, and the families that it goes out from."""

    population: Population
    question: ForecastQuestion


def forecasts(scenarios: Iterable[Scenario]) -> Iterator[Forecast | None]:
    """Forecast each, in order; None where exact inference is beyond it.

    Families are solved once for all the scenarios in a row that go out from the same object.

    Raises:
        ImpossibleEvidence: what is known of a scenario's families cannot all be true.
    """
    solved: tuple[Population, Solved] | None = None
    for one in scenarios:
        try:
            if solved is None or solved[0] is not one.population:
                solved = (one.population, solve_or_apart(one.population, exact_only=True))
            yield forecast(solved[1], one.question)
        except BeyondExact:
            yield None


def forecast_packet(packet: bytes, engine: str = "") -> bytes:
    """The forecasts of packed scenarios, packed; `engine` is whose figures are wanted.

    A packet runs what is in it, as pickles do: take none from strangers.

    Raises:
        AnotherEngine: this is not the engine that is wanted.
    """
    check_engine(engine)
    return pickle.dumps(list(forecasts(pickle.loads(packet))), protocol=5)


def unpack_forecasts(packet: bytes) -> list[Forecast | None]:
    """Forecasts that a worker packed, in the order of their scenarios."""
    found: list[Forecast | None] = pickle.loads(packet)
    return found
