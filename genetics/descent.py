"""What individuals can have by their own records and by their ancestors, descendants aside."""

from __future__ import annotations

import numpy as np

from genetics.arrays import Bools1
from genetics.solving import Solved


class Descent:
    """What each individual can have in a space by its own records and by its ancestors."""

    def __init__(self, solved: Solved, k: int) -> None:
        self.model = solved.worlds[0].model
        self.k = k
        self._found: dict[int, Bools1] = {}
        self._drawn: dict[int, tuple[int, ...]] = {}
        for draw in self.model.people.draws:
            self._drawn |= {draw.dam: draw.dams} if self.model.people.drawn[draw.dam] else {}
            self._drawn |= {draw.sire: draw.sires} if self.model.people.drawn[draw.sire] else {}

    def of(self, i: int) -> Bools1:
        """Mask of the states that an individual can have, its descendants aside."""
        ahead = [i]
        while ahead:
            one = ahead[-1]
            waiting = [up for up in self._above(one) if up not in self._found]
            if waiting and one not in self._found:
                ahead += waiting
                continue
            ahead.pop()
            if one not in self._found:
                self._found[one] = self._masked(one)
        return self._found[i]

    def given(self, i: int) -> Bools1:
        """Mask of the states that its parents can give an individual, its own records aside."""
        above = self._above(i)
        for one in above:
            self.of(one)
        return self._passed(above)

    def _above(self, i: int) -> tuple[int, ...]:
        if i in self._drawn:
            return self._drawn[i]
        people = self.model.people
        return (int(people.dam[i]), int(people.sire[i])) if self.model.born[self.k][i] else ()

    def _masked(self, i: int) -> Bools1:
        own: Bools1 = self.model.own[self.k][i] > 0
        above = self._above(i)
        if i in self._drawn:
            drawn = np.any([self._found[one] for one in above], axis=0)
            return np.asarray(own & drawn)
        return np.asarray(own & self._passed(above))

    def _passed(self, above: tuple[int, ...]) -> Bools1:
        if not above:
            return np.ones(self.model.spaces[self.k].size, dtype=bool)
        dam, sire = (self._found[one] for one in above)
        passed = self.model.spaces[self.k].table[np.ix_(dam, sire)] > 0
        return np.asarray(passed.any(axis=(0, 1)))
