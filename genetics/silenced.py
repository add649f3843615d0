"""A book without an animal and its descendants, at one locus, on the arrays of the solved book.

What `genetics.remainder` does by records, for every book: here what those who are gone tell is
taken off the weights of whoever an open way leads to from the animals asked about, and the network
of these is solved anew, those of many questions side by side.  It is the way at an autosomal locus
that nothing hangs on; there laying the records out again costs more than solving them.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from functools import cached_property
from typing import NamedTuple

import numpy as np

from genetics.arrays import Bools1, Floats1, Floats2, Ints1
from genetics.compiled import loops
from genetics.individuals import Individuals
from genetics.kernels.typed import ELIMINATION
from genetics.model import Model, settle, trios
from genetics.network import build_network, solve_network
from genetics.solving import Solved
from genetics.spaces import EITHER

MOST = 100_000
"""Individuals of a book from which on a remainder is put together instead."""

AT_ONCE = 20_000
"""Individuals from which on remainders are solved before more are put beside them."""


class Silence(NamedTuple):
    """A question: what some animals have without one of them.

    Attributes:
        gone: positions of the animal and of its descendants that do not stay.
        above: positions of its ancestors, which are not taken to be certain.
        asked: positions of the animals.
    """

    gone: Set[int]
    above: Set[int]
    asked: Sequence[int]


class Silenced:
    """The book at one locus, to be solved without one animal after the other."""

    def __init__(self, solved: Solved, k: int) -> None:
        self.solved, self.k = solved, k
        self.model: Model = solved.worlds[0].model
        found = solved.worlds[0].group_of[k].posterior[k] > 0
        self.possible = np.ones(self.model.weights[k].shape, dtype=bool)
        self.possible[: len(found), : found.shape[1]] = found
        self.certain: Bools1 = self.possible.sum(axis=1) == 1

    @staticmethod
    def fits(solved: Solved, k: int) -> bool:
        """Whether the locus of a space can be solved so."""
        model = solved.worlds[0].model
        space, people = model.spaces[k], model.people
        hanging = [node for factor in model.factors for node in factor.scope]
        return (
            solved.exact
            and people.size <= MOST
            and len(space.loci) == 1
            and not space.sex_linked
            and not people.draws
            and not people.nobody
            and not people.begins
            and not people.population.columns.told
            and all(survival == 1 for survival in space.survival)
            and not any(node[0] == "g" and node[1] == k for node in hanging)
        )

    def without(self, questions: Sequence[Silence]) -> list[list[Floats1]]:
        """The chances of the states of the animals asked for, question by question."""
        found: list[list[Floats1]] = []
        waiting: list[_Part] = []
        for number, one in enumerate(questions):
            waiting.append(self._part(one))
            many = sum(len(part.dam) for part in waiting)
            if many >= AT_ONCE or number == len(questions) - 1:
                found += self._solved(waiting)
                waiting = []
        return found

    def _solved(self, parts: Sequence[_Part]) -> list[list[Floats1]]:
        """Solve parts side by side."""
        left, first = _laid(self.model, self.k, parts)
        settle(left, self.k)
        result = solve_network(build_network(left, [self.k], [], []), self.solved.limit)
        chances = result.posterior[self.k]
        return [
            [chances[at + i] for i in part.asked]
            for at, part in zip(first.tolist(), parts, strict=True)
        ]

    @cached_property
    def _graph(self) -> tuple[Ints1, Ints1]:
        """Who is of one family: compressed rows."""
        people, children = self.model.people, trios(self.model, self.k)
        families = np.stack([children, people.dam[children], people.sire[children]], axis=1)
        run = loops(ELIMINATION, people.size * 10)
        starts = np.arange(0, families.size + 1, 3, dtype=np.int64)
        return run.interaction(starts, families.reshape(-1), people.size)

    def _part(self, asked: Silence) -> _Part:
        """What an open way leads to from the animals asked about, those who are gone left out."""
        people, k = self.model.people, self.k
        silent = np.zeros(people.size, dtype=bool)
        silent[list(asked.gone)] = True
        held = self.certain.copy()
        held[list(asked.above)] = False
        run = loops(ELIMINATION, people.size * 10)
        marks = run.open_way(np.array(asked.asked), held | silent, *self._graph)
        at = np.flatnonzero((marks > 0) & ~silent)
        dam, sire = people.dam[at], people.sire[at]
        # Whoever hatched of one that is gone stays without parents.
        cut = (dam >= 0) & (silent[dam] | silent[sire])
        inside = marks == 1
        bred = (dam >= 0) & ~cut & (inside[at] | inside[dam] | inside[sire])
        weight = self.model.own[k][at]
        weight[cut] = 1.0
        weight[held[at]] *= self.possible[at[held[at]]]
        place = np.zeros(people.size, dtype=np.int64)
        place[at] = np.arange(len(at))
        return _Part(
            dam=np.where(bred, place[dam], -1),
            sire=np.where(bred, place[sire], -1),
            number=people.count[at],
            weight=weight,
            present=self.model.present[k][at] & ~cut,
            asked=place[list(asked.asked)].tolist(),
        )


class _Part(NamedTuple):
    """Some individuals with their parents among them, and the positions of those asked about."""

    dam: Ints1
    sire: Ints1
    number: Ints1
    weight: Floats2
    present: Bools1
    asked: list[int]


def _laid(model: Model, k: int, parts: Sequence[_Part]) -> tuple[Model, Ints1]:
    """A model of parts side by side, which has nothing of other spaces; where each part begins."""
    sizes = np.array([len(part.dam) for part in parts])
    first = np.cumsum(sizes) - sizes
    of = np.repeat(first, sizes)
    dam, sire = (
        np.concatenate([getattr(part, role) for part in parts]) for role in ("dam", "sire")
    )
    size = len(of)
    people = Individuals(
        model.people.population,
        recorded=size,
        dam=np.where(dam < 0, -1, dam + of),
        sire=np.where(sire < 0, -1, sire + of),
        sex=np.full(size, EITHER, dtype=np.int8),
        count=np.concatenate([part.number for part in parts]),
        drawn=np.zeros(size, dtype=np.bool_),
        tally=np.zeros(size, dtype=np.bool_),
    )
    left = Model(people, model.spaces, model.looks)
    left.weights = [np.zeros((0, 0)) for _ in model.spaces]
    left.present = [np.zeros(0, dtype=np.bool_) for _ in model.spaces]
    left.weights[k] = np.concatenate([part.weight for part in parts])
    left.present[k] = np.concatenate([part.present for part in parts])
    return left, first
