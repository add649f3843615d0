"""The parents of childless animals at one locus, by dividing out what these show.

With b(d, s) the belief in the genotypes of an animal's parents and m(d, s) = Σ_x P(x | d, s) λ(x)
the chance of what it shows, they have d and s without it with chance ∝ b(d, s) / m(d, s).  Where
its look excludes what nothing else does that is 0 / 0, and the rest of the book is to be solved.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence

import numpy as np

from genetics.arrays import Floats2, Floats3, Ints1
from genetics.descent import Descent
from genetics.network import Folded
from genetics.solving import Solved

AT_ONCE = 2**20
"""Cells of couples' tables that are worked on at once."""


class Division:
    """What parents have without one of their young, at a locus in a space of its own."""

    def __init__(self, solved: Solved, descent: Descent) -> None:
        self.descent = descent
        self.k = k = descent.k
        self.model = solved.worlds[0].model
        self.folded: Folded
        self.folded, self._cells = solved.worlds[0].group_of[k].couples[k]
        self._couple = dict(
            zip(self.folded.children.tolist(), self.folded.couple.tolist(), strict=True)
        )
        self._young: dict[int, list[int]] = defaultdict(list)
        for child, couple in self._couple.items():
            self._young[couple].append(child)
        # Couple → what its young leave room for, and how many of them just that.
        self._rooms: dict[int, Counter[int]] = {}

    def reaches(self, i: int) -> bool:
        """Whether all that the look of a childless animal excludes is excluded without it."""
        couple = self._couple.get(i)
        if couple is None:
            return False
        if couple not in self._rooms:
            self._rooms[couple] = Counter(map(self.descent.room, self._young[couple]))
        rooms, mine = self._rooms[couple], self.descent.room(i)
        if rooms[mine] > 1:
            return True
        left = self.descent.couples(i)
        for other in rooms:
            if other != mine:
                left &= other
        return not left & ~mine

    def without(self, young: Sequence[int]) -> tuple[Floats2, Floats2]:
        """The chances of the states of the dam and of the sire of each of some animals.

        In proportion: their sum is not one.
        """
        size = self.model.spaces[self.k].size
        step = max(1, AT_ONCE // size**2)
        parts = [
            self._without(np.array(young[at : at + step], dtype=np.int64))
            for at in range(0, len(young), step)
        ]
        dams, sires = zip(*parts, strict=True)
        return np.concatenate(dams), np.concatenate(sires)

    def _without(self, young: Ints1) -> tuple[Floats2, Floats2]:
        table, weight = self.model.spaces[self.k].table, self.model.weights[self.k]
        shown = np.einsum("dsx,nx->nds", table, weight[young])
        belief = self._belief([self._couple[i] for i in young.tolist()])
        left = np.divide(belief, shown, out=np.zeros(belief.shape), where=shown > 0)
        return left.sum(axis=2), left.sum(axis=1)

    def _belief(self, couples: list[int]) -> Floats3:
        """Belief in the states of the dam and sire of some couples."""
        possible = self.model.weights[self.k] > 0
        dam, sire = possible[self.folded.dam[couples]], possible[self.folded.sire[couples]]
        there = dam[:, :, None] & sire[:, None, :]
        first, end = self.folded.at[couples], self.folded.at[np.array(couples) + 1]
        size = self.model.spaces[self.k].size
        belief = np.zeros((len(couples), size, size))
        belief[there] = self._cells[
            np.concatenate([np.arange(*span) for span in zip(first, end, strict=True)])
        ]
        return belief
