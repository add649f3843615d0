"""Forecasts without a die: where nobody has anything to choose, the chances can be added up.

That is so where one male and few enough females are all that ever breed: no young is mature before
the seasons end, no place is short and no death changes who is paired with whom.  Then hatchlings
that meet the goal are counts of independent clutches given the parents' genotypes, and the answer
is their mixture over what the parents are jointly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from genetics.arrays import Floats1
from genetics.clutch_size import FixedClutch
from genetics.plans.forecast.hand import Hand
from genetics.plans.forecast.policy import worth
from genetics.plans.forecast.simulate import clutch_sizes
from genetics.plans.questions import ForecastQuestion
from genetics.population import Population

MOST_ROWS = 200_000
"""Joint genotypes of the animals at hand that are added up."""
MOST_WANTED = 1_000
"""Hatchlings counted one by one."""


@dataclass(frozen=True)
class Breeders:
    """All that ever breed: positions of dams, with their first seasons, and of their sire."""

    dams: tuple[int, ...]
    since: tuple[int, ...]
    sire: int


def in_closed_form(hand: Hand, question: ForecastQuestion, found: Breeders) -> Floats1 | None:
    """The chance that the goal is reached in each season or earlier; `None` if that is too much.

    `found` are those who breed, see `breeders`.
    """
    if not hand.listed or hand.rows() > MOST_ROWS or question.wanted > MOST_WANTED:
        return None
    genotypes, weight = hand.every()
    near, _ = worth(hand.genome)
    chances = near[genotypes[:, found.dams], genotypes[:, [found.sire]]]
    kinds, kind = np.unique(chances, axis=0, return_inverse=True)
    weights = np.bincount(kind.reshape(-1), weight, minlength=len(kinds))
    total = np.zeros(question.seasons)
    for row, share in zip(kinds, weights, strict=True):
        total += share * _reached(question, found, row)
    capped: Floats1 = np.minimum(total / weights.sum(), 1.0)
    return capped


def breeders(population: Population, question: ForecastQuestion) -> Breeders | None:
    """Who breeds, where nobody can choose; no dams where nobody ever does; `None` else."""
    sexes = [population.sexes[population.animal_index[one]] for one in question.animals]
    mature = {"female": question.mature_female, "male": question.mature_male}
    ready = {
        position: max(1, 1 + least - question.animals[one])
        for position, (one, sex) in enumerate(zip(question.animals, sexes, strict=True))
        if (least := mature.get(sex, min(mature.values()))) - question.animals[one]
        < question.seasons
    }
    sires = [i for i in ready if sexes[i] != "female"]
    dams = [i for i in ready if sexes[i] != "male"]
    idle = not (question.pairs and question.matings and question.clutches and question.lays)
    if idle or not sires or not dams:
        return Breeders((), (), -1)
    if "unknown" in (sexes[i] for i in ready) or len(sires) > 1:
        return None
    since = tuple(max(ready[i], ready[sires[0]]) for i in dams)
    if _chooses(question, len(sexes), since):
        return None
    return Breeders(tuple(dams), since, sires[0])


def _chooses(question: ForecastQuestion, at_hand: int, since: tuple[int, ...]) -> bool:
    """Whether the keeper of some dams and one sire could do one thing or another."""
    first = min(since)
    youngest = min(question.mature_female, question.mature_male)
    young_breed = first + max(1, youngest) <= question.seasons
    enough = question.places is None or question.places >= at_hand
    short = not (question.places is None or (enough and first == question.seasons))
    if question.seasons == 1:
        short = False
    crowded = len(since) > min(question.pairs, question.matings)
    mortal = question.lives < 1 and len(since) > 1
    return young_breed or short or crowded or mortal


def _reached(question: ForecastQuestion, found: Breeders, chances: Floats1) -> Floats1:
    """By season, the chance that enough have hatched, of dams whose young meet it with these."""
    wanted = question.wanted
    seasons = [_season(question, float(c)) for c in chances]
    both_live = float(question.lives) ** 2
    alive, dead = _none_yet(wanted), np.zeros(wanted)
    reached = []
    for season in range(1, question.seasons + 1):
        if season > 1:
            dead = dead + (1.0 - both_live) * alive
            alive = both_live * alive
        for counts, since in zip(seasons, found.since, strict=True):
            if season >= since:
                alive = _added(alive, counts)
        reached.append(1.0 - alive.sum() - dead.sum())
    return np.maximum.accumulate(np.maximum(reached, 0.0))


def _none_yet(wanted: int) -> Floats1:
    found = np.zeros(wanted)
    found[0] = 1.0
    return found


def _added(counts: Floats1, more: Floats1) -> Floats1:
    """Chances of sums below the number wanted."""
    total: Floats1 = np.convolve(counts, more)[: len(counts)]
    return total


def _season(question: ForecastQuestion, chance: float) -> Floats1:
    """Chances of 0, 1, … hatchlings of a dam's season that meet the goal, below those wanted."""
    sizes, cumulative = clutch_sizes(question)
    shares = np.diff(cumulative, prepend=0.0)
    clutch = np.zeros(question.wanted)
    for size, share in zip(sizes.tolist(), shares.tolist(), strict=True):
        hatched = FixedClutch(size, chance)
        for met in range(min(size, question.wanted - 1) + 1):
            clutch[met] += share * float(hatched.pmf(met))
    lays = float(question.lays)
    clutch = lays * clutch
    clutch[0] += 1.0 - lays
    total = _none_yet(question.wanted)
    for _ in range(question.clutches):
        total = _added(total, clutch)
    return total
