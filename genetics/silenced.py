"""A book without an animal and its descendants, at one locus, on the arrays of the solved book.

What `genetics.remainder` does by records, for every book: here what those who are gone tell is
taken off the weights, and the network is solved anew.  It is the way for books of moderate size
at an autosomal locus that nothing hangs on; there laying the records out again costs more than
solving them.
"""

from __future__ import annotations

from collections.abc import Set
from dataclasses import replace

import numpy as np

from genetics.arrays import Bools1, Floats1
from genetics.model import Model, settle
from genetics.network import build_network, solve_network
from genetics.solving import Solved

MOST = 5000
"""Individuals of a book from which on a remainder is put together instead."""


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

    def without(self, gone: Set[int], above: Set[int], asked: list[int]) -> list[Floats1]:
        """The chances of the states of some animals.

        Args:
            gone: positions of the animal and of its descendants that do not stay.
            above: positions of its ancestors, which are not taken to be certain.
            asked: positions of the animals.
        """
        people, k = self.model.people, self.k
        silent = np.zeros(people.size, dtype=bool)
        silent[list(gone)] = True
        child = people.dam >= 0
        # Whoever hatched of one that is gone stays without parents, or is gone with it.
        cut = silent | (child & (silent[people.dam] | silent[people.sire]))
        held = self.certain & ~silent
        held[list(above)] = False
        weights = self.model.own[k].copy()
        weights[cut] = 1.0
        weights[held] *= self.possible[held]
        left = replace(
            self.model,
            people=replace(
                people, dam=np.where(cut, -1, people.dam), sire=np.where(cut, -1, people.sire)
            ),
            weights=[weights if at == k else one for at, one in enumerate(self.model.weights)],
            present=[
                one & ~cut if at == k else one for at, one in enumerate(self.model.present)
            ],
            factors=[], aux={}, hanging={}, constant=0.0,
        )  # fmt: skip
        settle(left, k)
        result = solve_network(build_network(left, [k], [], []), self.solved.limit)
        return [result.posterior[k][i] for i in asked]
