"""Who is bred with whom this year: the pairs of greatest worth in all, within the limits.

Each female is bred at most once, each male at most `matings` times, and there are at most
`clutches` pairs.  That is a flow from a source through females and males to a sink, so that the
linear program of `scipy.optimize.milp` (HiGHS) has whole optima, and that an optimum can be proved:
where the network that is left has no cycle of gain, no other set of pairs is worth more (Ahuja,
Magnanti & Orlin, Network Flows, 1993, negative cycle optimality; quoted from memory).  The same
network gives for each pair what would be the best without it: the dearest way round it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from genetics.arrays import Bools2, Floats2
from genetics.couple_goals import goal_chances
from genetics.json_values import JsonObject
from genetics.plans.questions import SeasonQuestion
from genetics.population import Population
from genetics.solving import Solved

SLACK = 1e-12
"""Gain, as a share of the greatest worth, below which a change of pairs is rounding."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """A pair of the plan, its worth, and the best worth in all without it (`None` where fixed)."""

    female: str
    male: str
    worth: float
    next: float | None


@dataclass(frozen=True, slots=True)
class Season:
    """The best plan: its pairs, in the order of the females, and what they are worth in all."""

    pairs: tuple[Chosen, ...]
    worth: float

    def as_json(self) -> JsonObject:
        """The answer as case files have it; `gap` is 0 since the plan is proved to be best."""
        pairs = [
            {"female": one.female, "male": one.male, "worth": one.worth, "next": one.next}
            for one in self.pairs
        ]
        return {"pairs": pairs, "worth": self.worth, "gap": 0}


def season(solved: Solved, question: SeasonQuestion) -> Season:
    """The pairs to breed.

    Raises:
        BeyondExact: goals make the worth, and are too much to be answered exactly.
    """
    worth = pair_worths(solved, question)
    return _best(question, worth, _near_kin(solved.population, question, worth))


def best_pairs(question: SeasonQuestion) -> Season:
    """The same where the worth of pairs is given and who is kin to whom has been looked at."""
    worth = np.array(question.worth, dtype=float).reshape(
        len(question.females), len(question.males)
    )
    return _best(question, worth, np.zeros(worth.shape, dtype=bool))


def _best(question: SeasonQuestion, worth: Floats2, near_kin: Bools2) -> Season:
    if worth.size == 0:
        return Season((), 0.0)
    fixed = _listed(question, question.fixed)
    may = (worth >= 0) & ~_listed(question, question.forbidden) & ~near_kin
    best = _Plan(worth, may | fixed, fixed, question).best()
    chosen = []
    for female, male in np.argwhere(best.taken):
        row, column = int(female), int(male)
        chosen.append(
            Chosen(
                question.females[row],
                question.males[column],
                float(worth[row, column]),
                None if fixed[row, column] else best.without(row, column),
            )
        )
    return Season(tuple(chosen), best.worth)


def pair_worths(solved: Solved, question: SeasonQuestion) -> Floats2:
    """The worth of each female (a row) with each male (a column), given or made of the goals."""
    shape = (len(question.females), len(question.males))
    if question.worth is not None:
        return np.array(question.worth, dtype=float).reshape(shape)
    worth = np.zeros(shape)
    for one in question.goals or ():
        found = goal_chances(solved, question.females, question.males, one.goal, question.eggs or 0)
        worth += float(one.weight) * found.at_least_one
    return worth


def _listed(question: SeasonQuestion, pairs: Sequence[tuple[str, str]]) -> Bools2:
    rows = {name: row for row, name in enumerate(question.females)}
    columns = {name: column for column, name in enumerate(question.males)}
    found = np.zeros((len(rows), len(columns)), dtype=bool)
    for female, male in pairs:
        found[rows[female], columns[male]] = True
    return found


def _near_kin(population: Population, question: SeasonQuestion, worth: Floats2) -> Bools2:
    """Which pairs are nearer of kin than is allowed."""
    if question.kinship is None or worth.size == 0:
        return np.zeros(worth.shape, dtype=bool)
    from genetics.kinship import kinship_pairs
    from genetics.relatives import pedigree

    index = population.animal_index
    pairs = [(index[dam], index[sire]) for dam in question.females for sire in question.males]
    kin = np.array(kinship_pairs(pedigree(population), pairs)).reshape(worth.shape)
    near: Bools2 = kin > float(question.kinship) + SLACK
    return near


class _Plan:
    """The limits of a season, and ways from one set of pairs to another.

    The nodes of the network: a source (0), the females, the males, a sink.  An edge costs what its
    pair is worth, with the sign turned.
    """

    def __init__(
        self, worth: Floats2, may: Bools2, fixed: Bools2, question: SeasonQuestion
    ) -> None:
        self.females, self.males = worth.shape
        self.scale = max(1.0, float(np.abs(worth[may]).max(initial=0.0)))
        self.value, self.may, self.fixed = worth, may, fixed
        self.matings = question.matings
        self.most = self.females if question.clutches is None else question.clutches
        self.taken: Bools2 = np.zeros_like(may)

    @property
    def worth(self) -> float:
        return float(self.value[self.taken].sum())

    def best(self) -> _Plan:
        """The plan with its best pairs."""
        self.taken = self._solved_by_program()
        while True:
            cycle = self._cycle_of_gain()
            if cycle is None:
                self.taken &= (self.value != 0) | self.fixed
                return self
            self._follow(cycle)

    def without(self, female: int, male: int) -> float:
        """The best worth in all where this pair, one of the best plan, is not made."""
        costs = self._left()
        own, other = 1 + female, 1 + self.females + male
        costs[other, own] = np.inf
        return self.worth - float(self.value[female, male]) - self._cheapest(costs, own, other)

    def _solved_by_program(self) -> Bools2:
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import coo_array

        rows, columns = np.nonzero(self.may)
        taken = np.zeros_like(self.may)
        count, everybody = len(rows), self.females + self.males
        if not count:
            return taken
        # A limit for each female, for each male, and for all pairs.
        limit = np.concatenate([rows, self.females + columns, np.full(count, everybody)])
        pair = np.tile(np.arange(count), 3)
        limits = coo_array((np.ones(3 * count), (limit, pair)), shape=(everybody + 1, count))
        most = np.concatenate(
            [np.ones(self.females), np.full(self.males, self.matings), [self.most]]
        )
        found = milp(
            -self.value[rows, columns] / self.scale,
            integrality=np.ones(count),
            bounds=Bounds(self.fixed[rows, columns].astype(float), 1.0),
            constraints=LinearConstraint(limits.tocsr(), ub=most),
            options={"mip_rel_gap": 0.0},
        )
        taken[rows, columns] = np.round(found.x) > 0
        # What the program takes for a gain within its tolerances may be none at all.
        return taken

    def _left(self) -> Floats2:
        """Costs of the ways that are left from node to node, infinite where there is none."""
        size = self.females + self.males + 2
        source, sink = 0, size - 1
        costs = np.full((size, size), np.inf)
        own, other = slice(1, 1 + self.females), slice(1 + self.females, sink)
        open_, back = self.may & ~self.taken, self.taken & ~self.fixed
        costs[own, other] = np.where(open_, -self.value, np.inf)
        costs[other, own] = np.where(back, self.value, np.inf).T
        bred, used = self.taken.any(axis=1), self.taken.sum(axis=0)
        costs[source, own] = np.where(bred, np.inf, 0.0)
        costs[own, source] = np.where(bred, 0.0, np.inf)
        costs[other, sink] = np.where(used < self.matings, 0.0, np.inf)
        costs[sink, other] = np.where(used > 0, 0.0, np.inf)
        # The way back from the sink closes every way into a round.
        costs[sink, source] = 0.0 if self.taken.sum() < self.most else np.inf
        costs[source, sink] = 0.0 if self.taken.any() else np.inf
        return costs

    def _cheapest(self, costs: Floats2, start: int, end: int) -> float:
        """Cost of the cheapest way; there is always one, and no round gains."""
        distance = np.full(len(costs), np.inf)
        distance[start] = 0.0
        for _ in range(len(costs)):
            nearer = np.minimum(distance, (distance[:, None] + costs).min(axis=0))
            if np.array_equal(nearer, distance):
                break
            distance = nearer
        return float(distance[end])

    def _cycle_of_gain(self) -> list[int] | None:
        """Nodes of a round that makes the plan worth more, the first again at the end."""
        costs = self._left()
        size = len(costs)
        distance, before = np.zeros(size), np.full(size, -1)
        for _ in range(size):
            ways = distance[:, None] + costs
            nearest = ways.argmin(axis=0)
            reached = ways[nearest, np.arange(size)]
            better = reached < distance - SLACK * self.scale
            if not better.any():
                return None
            distance = np.where(better, reached, distance)
            before = np.where(better, nearest, before)
        node = int(np.flatnonzero(better)[0])
        for _ in range(size):  # into the round, wherever it was met
            node = int(before[node])
        cycle = [node]
        while len(cycle) == 1 or cycle[-1] != node:
            cycle.append(int(before[cycle[-1]]))
        return cycle[::-1]

    def _follow(self, cycle: Sequence[int]) -> None:
        first_male = 1 + self.females
        sink = first_male + self.males
        for start, end in pairwise(cycle):
            if 0 < start < first_male <= end < sink:
                self.taken[start - 1, end - first_male] = True
            elif 0 < end < first_male <= start < sink:
                self.taken[end - 1, start - first_male] = False
