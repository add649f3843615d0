"""Seasons played out run by run; see `genetics.plans.forecast.policy` for who decides how."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from genetics.arrays import Floats1, Floats2, Ints1, Ints2, Ints3
from genetics.compiled import loops
from genetics.kernels.protocols import ForecastLoops, Mind, Pen, Rates, Rules, Scratch
from genetics.kernels.typed import FORECAST
from genetics.plans.forecast.genome import Genome
from genetics.plans.forecast.hand import Hand
from genetics.plans.forecast.policy import roomy, spare, worth
from genetics.plans.forecast.random_numbers import Stream
from genetics.plans.questions import ForecastQuestion

MOST_KINDS = 2**13
"""Beliefs told apart; when there are half as many at the end of a run, they are forgotten."""
NOTED = 2**16
"""Pairs, and clutches, of which it is noted what they are worth or tell."""
ROOM = 2**22
"""Cells of one table of kinds or clutches, where genotypes or looks are many."""
MOST_GROUPS = 400
"""Animals of one sex, age and kind are a group; further ones are not told apart."""
SEASON_OF_WORK = 500.0
"""About what a season of one run costs, in the units of `genetics.compiled`."""


@dataclass(frozen=True)
class Played:
    """What became of every run.

    Attributes:
        reached: the season in which the goal was reached, 0 for none.
        trails: by run and season, what had been seen and what had been decided, each as one
            number; empty unless asked for.
        kinds: how many kinds of animals there were, since they were last forgotten.
    """

    reached: Ints1
    trails: Ints3
    kinds: int


def play(
    hand: Hand, question: ForecastQuestion, stream: Stream, drawn: tuple[Ints2, Ints2],
    trails: bool = False,
) -> Played:  # fmt: skip
    """Play every run.

    Args:
        hand: what the animals at hand may carry, which their keeper knows.
        question: the rules.
        stream: of the random numbers.
        drawn: genotypes and sexes of the animals at hand by run, which decide what hatches.
        trails: whether to note what was seen and decided.

    Raises:
        BeyondExact: see `genetics.plans.forecast.policy.worth`.
    """
    genotypes, sexes = drawn
    runs = len(genotypes)
    table = Table(hand, question)
    run = loops(FORECAST, runs * question.seasons * SEASON_OF_WORK)
    kinds = table.kinds(run, genotypes, sexes)
    ages = np.array([question.animals[one] for one in hand.animals], dtype=np.int64)
    reached = np.zeros(runs, dtype=np.int64)
    noted = np.zeros((runs if trails else 0, question.seasons, 2), dtype=np.int64)
    run.run_all(
        hand.genome.packed(), table.mind, table.rules, table.rates,
        (genotypes, kinds, sexes, ages), table.pen, table.room, stream.under("seasons").key,
        reached, noted,
    )  # fmt: skip
    return Played(reached, noted, int(table.mind[4][0]))


class Table:
    """The rules, and the arrays that the loops work on."""

    def __init__(self, hand: Hand, question: ForecastQuestion) -> None:
        genome, at_hand = hand.genome, len(hand.animals)
        self.hand = hand
        apart = 2 if genome.sexed else 1
        limit, often = question.places, spare(question.pairs)
        places = at_hand + roomy(question.pairs)
        if limit is not None:
            places = min(places, limit)
        most = max(places, at_hand)
        pairs = min(question.pairs, most)
        self.rules: Rules = (
            question.wanted, question.seasons, question.mature_female, question.mature_male,
            pairs, question.matings, places, question.clutches, often,
            genome.looks, apart, at_hand if limit is None else 0,
        )  # fmt: skip
        sizes, cumulative = clutch_sizes(question)
        lays = float(question.lays)
        mean = float(np.diff(cumulative, prepend=0.0) @ sizes) * lays * question.clutches
        self.rates: Rates = (sizes, cumulative, lays, float(question.lives), mean)
        young = min(int(sizes.max()), often * 2 * genome.looks)
        slots = most + pairs * question.clutches * young
        groups = min(slots, MOST_GROUPS)
        wide = max(groups, most)
        self.pen: Pen = _pen(slots, 2 * genome.looks)
        categories = apart * genome.looks
        self.room: Scratch = (
            np.zeros((3, wide, wide)), np.zeros((pairs, 2), dtype=np.int64),
            np.zeros(categories, dtype=np.int64), np.zeros((4, genome.size)),
            np.zeros(2 + categories, dtype=np.int64), np.zeros(3, dtype=np.int64),
            np.zeros((4, slots), dtype=np.int64),
        )  # fmt: skip
        self.mind: Mind = _mind(genome, categories, *worth(genome))

    def kinds(self, run: ForecastLoops, genotypes: Ints2, sexes: Ints2) -> Ints2:
        """What is known of each animal at hand in each run, by its sex and look."""
        genome = self.hand.genome
        found = np.zeros(genotypes.shape, dtype=np.int64)
        for animal in range(genotypes.shape[1]):
            known = self.hand.known(animal)
            seen = sexes[:, animal] * genome.looks + genome.look[genotypes[:, animal]]
            for one in np.unique(seen).tolist():
                sex, look = divmod(one, genome.looks)
                belief = known * genome.can_be(sex) * (genome.look == look)
                found[seen == one, animal] = run.kind_of(self.mind, belief)
        self.mind[4][1] = self.mind[4][0]
        return found


def clutch_sizes(question: ForecastQuestion) -> tuple[Ints1, Floats1]:
    """Sizes of a clutch that can be, and the chance of each or one before it."""
    rows = sorted((size, float(p)) for size, p in question.clutch if p > 0)
    cumulative = np.cumsum([p for _, p in rows])
    sizes = np.array([size for size, _ in rows], dtype=np.int64)
    return sizes, cumulative / cumulative[-1]


def _pen(slots: int, categories: int) -> Pen:
    def room(size: int) -> Ints1:
        return np.zeros(size, dtype=np.int64)

    return (
        room(slots), room(slots), room(slots), room(slots), room(slots), room(slots),
        room(slots), room(categories), room(slots),
    )  # fmt: skip


def _mind(genome: Genome, categories: int, near: Floats2, far: Floats2) -> Mind:
    kinds = min(MOST_KINDS, ROOM // genome.size)
    clutches = min(NOTED, ROOM // (2 + categories))
    return (
        np.zeros((kinds, genome.size)), np.zeros(NOTED), np.zeros(NOTED),
        np.full(4 * kinds, -1, dtype=np.int64), np.zeros(2, dtype=np.int64), near, far,
        np.full(NOTED, -1, dtype=np.int64), np.zeros((2, genome.size)),
        np.full(clutches, -1, dtype=np.int64), np.zeros((clutches, 2 + categories), dtype=np.int64),
    )  # fmt: skip
