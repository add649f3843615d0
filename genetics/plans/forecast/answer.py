"""A forecast: chances by season, with their errors, and the seasons that keepers ask for."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from genetics.arrays import Floats1, Ints1
from genetics.json_values import JsonObject
from genetics.plans.forecast.closed import breeders, in_closed_form
from genetics.plans.forecast.genome import genome
from genetics.plans.forecast.hand import at_hand
from genetics.plans.forecast.random_numbers import Stream
from genetics.plans.forecast.simulate import play
from genetics.plans.questions import ForecastQuestion
from genetics.population import Population
from genetics.sampling import CHAINS
from genetics.solving import Solved


@dataclass(frozen=True, slots=True)
class Reached:
    """The chance that a goal is reached in a season or earlier, and its standard error."""

    p: float
    se: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """When a goal will be reached.

    Attributes:
        reached: by season.
        first: by season, the chance that it is reached in this one; what is left of 1 is that it
            is not reached.
        median, tenth, ninetieth: the first season in which it is reached with a chance of a
            half, a tenth, nine tenths; `None` where that is not within the seasons.
        exact: whether the chances were added up, not played out.
        runs: how many runs were played, 0 where none was.
        counts: by season, the runs in which it was reached in this one; empty where none was
            played.
        by_run: the season in which it was reached in each run, 0 for none. Runs of one seed share
            their random numbers as far as they can, so that two questions are compared run by run.
    """

    reached: tuple[Reached, ...]
    median: int | None
    tenth: int | None
    ninetieth: int | None
    exact: bool
    first: tuple[float, ...]
    runs: int = 0
    counts: tuple[int, ...] = ()
    by_run: Ints1 | None = field(default=None, compare=False)

    def as_json(self) -> JsonObject:
        """The contract's answer to one question."""
        return {
            "reached": [{"p": one.p, "se": one.se} for one in self.reached],
            "median": self.median,
            "tenth": self.tenth,
            "ninetieth": self.ninetieth,
            "exact": self.exact,
        }


def forecast_query(
    population: Population, question: ForecastQuestion
) -> tuple[tuple[str, str], ...]:
    """The (animal, locus) pairs whose joint posterior must be asked of `solve`: none.

    `forecast` works it out by itself, at all loci that matter at once, in a table or, where that
    is too large, by drawing through the clique tree.  Asked of `solve`, a table too large would
    turn the answers to all other questions of a case into sampled ones.
    """
    return ()


def forecast(solved: Solved, question: ForecastQuestion) -> Forecast:
    """Answer a forecast on a solved population, solved with or without its `forecast_query`.

    Standard errors are those of a share of independent runs, (x + 1)(n - x + 1)/(n + 2)² over
    n + 3 and the root of it: the spread of what the share may be after x of n, which is never 0.
    Seasons in which nothing can have hatched yet are certain.  Where the book is too large for
    exact inference and what animals carry was drawn in chains, it is at least that of the mean of
    the chains.

    Raises:
        BeyondExact: the goal turns on too many genotypes to be told apart, or the book is too
            large even for the engine's sampler.
    """
    if solved.exact and any(np.isnan(world.log_evidence) for world in solved.worlds):
        solved = solved.asked(())  # grown by records: its tables are those of before
    breeding = breeders(solved.population, question)
    if breeding is not None and not breeding.dams:
        return _stated(np.zeros(question.seasons), np.zeros(question.seasons), True, 0, ())
    animals = tuple(question.animals)
    stream = Stream.of(question.seed)
    known = genome(solved, question.goal, animals, question.females)
    hand = at_hand(solved, known, animals, question.runs, stream.under("hand"))
    exact = None if breeding is None else in_closed_form(hand, question, breeding)
    if exact is not None:
        return _stated(exact, np.zeros(len(exact)), True, 0, ())
    drawn = hand.drawn(question.runs, stream.under("hand"))
    played = play(hand, question, stream, drawn)
    return _counted(question, played.reached, hand.sampled)


def _counted(question: ForecastQuestion, reached: Ints1, sampled: bool) -> Forecast:
    runs = question.runs
    counts = np.bincount(reached, minlength=question.seasons + 1)[1:]
    met = np.cumsum(counts)
    spread = np.sqrt((met + 1.0) * (runs - met + 1.0) / (runs + 3.0)) / (runs + 2.0)
    if sampled:
        chains = np.array_split(reached, CHAINS)
        seasons = np.arange(1, question.seasons + 1)
        shares = [((one[:, None] > 0) & (one[:, None] <= seasons)).mean(axis=0) for one in chains]
        spread = np.maximum(spread, np.std(shares, axis=0, ddof=1) / CHAINS**0.5)
    spread[: _idle(question)] = 0.0
    stated = _stated(met / runs, spread, False, runs, tuple(counts.tolist()))
    return replace(stated, by_run=reached)


def _idle(question: ForecastQuestion) -> int:
    """Seasons, from the first, in which nobody at hand can be mature."""
    least = min(question.mature_female, question.mature_male)
    return max(0, min(least - age for age in question.animals.values()))


def _stated(p: Floats1, se: Floats1, exact: bool, runs: int, counts: tuple[int, ...]) -> Forecast:
    def first(share: float) -> int | None:
        seasons = np.flatnonzero(p >= share)
        return int(seasons[0]) + 1 if len(seasons) else None

    return Forecast(
        tuple(Reached(float(a), float(b)) for a, b in zip(p, se, strict=True)),
        first(0.5), first(0.1), first(0.9), exact,
        tuple(float(step) for step in np.diff(p, prepend=0.0)), runs, counts,
    )  # fmt: skip
