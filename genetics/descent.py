"""What individuals can have by their own records and by their ancestors, descendants aside.

A set of states is a whole number here, with bit s for state s, so that what an animal can have is
met with what its parents can give by one operation.  Few different sets occur in a book, and what
two of them give is worked out once.
"""

from __future__ import annotations

import numpy as np

from genetics.arrays import Bools2, Positions1
from genetics.solving import Solved

States = int
"""A set of states: bit s is set where it has state s."""
Couples = int
"""A set of states of a dam and a sire: bit d · size + s."""


class Descent:
    """What each individual can have in a space by its own records and by its ancestors."""

    def __init__(self, solved: Solved, k: int) -> None:
        self.model = solved.worlds[0].model
        self.k = k
        self.space = self.model.spaces[k]
        self._born: list[bool] = self.model.born[k].tolist()
        self._dam: list[int] = self.model.people.dam.tolist()
        self._sire: list[int] = self.model.people.sire.tolist()
        self._own = as_sets(self.model.own[k] > 0)
        self._every: States = (1 << self.space.size) - 1
        self._found: dict[int, States] = {}
        self._passed: dict[tuple[States, States], States] = {}
        self._room: dict[tuple[States, States, States], Couples] = {}
        self._drawn: dict[int, tuple[int, ...]] = {}
        for draw in self.model.people.draws:
            self._drawn |= {draw.dam: draw.dams} if self.model.people.drawn[draw.dam] else {}
            self._drawn |= {draw.sire: draw.sires} if self.model.people.drawn[draw.sire] else {}

    def of(self, i: int) -> States:
        """The states that an individual can have, its descendants aside."""
        ahead = [i]
        while ahead:
            one = ahead[-1]
            if one not in self._found:
                waiting = [up for up in self._above(one) if up not in self._found]
                if waiting:
                    ahead += waiting
                    continue
                self._found[one] = self._own[one] & self._given(one)
            ahead.pop()
        return self._found[i]

    def given(self, i: int) -> States:
        """The states that its parents can give an individual, its own records aside."""
        for one in self._above(i):
            self.of(one)
        return self._given(i)

    def room(self, child: int) -> Couples:
        """The states of its parents, as these descend, that leave room for what a child shows."""
        dam, sire, own = self.of(self._dam[child]), self.of(self._sire[child]), self._own[child]
        if (dam, sire, own) not in self._room:
            d, s, x = members(dam), members(sire), members(own)
            possible = np.zeros((self.space.size, self.space.size), dtype=bool)
            possible[np.ix_(d, s)] = (self.space.table[np.ix_(d, s, x)] > 0).any(axis=2)
            (self._room[dam, sire, own],) = as_sets(possible.reshape(1, -1))
        return self._room[dam, sire, own]

    def couples(self, child: int) -> Couples:
        """The states of its parents as these descend, whatever a child shows."""
        sire = self.of(self._sire[child])
        return sum(
            sire << int(d) * self.space.size for d in members(self.of(self._dam[child])).tolist()
        )

    def _above(self, i: int) -> tuple[int, ...]:
        if i in self._drawn:
            return self._drawn[i]
        return (self._dam[i], self._sire[i]) if self._born[i] else ()

    def _given(self, i: int) -> States:
        """As `given`, once it is known what its parents can have."""
        above = self._above(i)
        if not above:
            return self._every
        if i in self._drawn:
            any_of = 0
            for one in above:
                any_of |= self._found[one]
            return any_of
        dam, sire = (self._found[one] for one in above)
        if (dam, sire) not in self._passed:
            passed = self.space.table[np.ix_(members(dam), members(sire))].max(axis=(0, 1)) > 0
            (self._passed[dam, sire],) = as_sets(passed.reshape(1, -1))
        return self._passed[dam, sire]


def as_sets(masks: Bools2) -> list[int]:
    """Rows of a mask, each as a set."""
    if masks.shape[1] <= 8:
        narrow: list[int] = np.packbits(masks, axis=1, bitorder="little")[:, 0].tolist()
        return narrow
    return [int.from_bytes(row.tobytes(), "little") for row in np.packbits(masks, 1, "little")]


def members(one: int) -> Positions1:
    """What is in a set, in order."""
    return np.array([at for at in range(one.bit_length()) if one >> at & 1], dtype=np.intp)
