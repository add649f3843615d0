"""Generation rows: parents above young, sibs in one row, mates in one row where that can be.

A family's couples meet in one row, in that of its lowest parent or below, and its young are in the
next. A parent from a higher row is led down to it by a line.
"""

from graphlib import TopologicalSorter

from keeper.domain.pedigree.graph import Family, Pedigree


def _parents(family: Family) -> list[str]:
    return list(dict.fromkeys(key for union in family.unions for key in union.parents))


class Generations:
    """The row of each symbol and of each family's couples, 0 the oldest.

    Raises:
        graphlib.CycleError: an animal is an ancestor of its own.
    """

    def __init__(self, pedigree: Pedigree) -> None:
        self._pedigree = pedigree
        self._made: dict[str, list[int]] = {key: [] for key in pedigree.symbols}
        for at, family in enumerate(pedigree.families):
            for key in _parents(family):
                self._made[key].append(at)
        self.couples = [0] * len(pedigree.families)
        self._from_the_top()
        self._towards_their_young()
        self.of = {key: self._row(key) for key in pedigree.symbols}

    def _row(self, key: str) -> int:
        """Founders stand with the first of their mates, all others below their parents."""
        born = self._pedigree.born.get(key)
        if born is not None:
            return self.couples[born] + 1
        return min((self.couples[at] for at in self._made[key]), default=0)

    def _from_the_top(self) -> None:
        families, born = self._pedigree.families, self._pedigree.born
        above = {
            at: {born[key] for key in _parents(family) if key in born}
            for at, family in enumerate(families)
        }
        self._order = list(TopologicalSorter(above).static_order())
        for at in self._order:
            self.couples[at] = max((self.couples[one] + 1 for one in above[at]), default=0)

    def _towards_their_young(self) -> None:
        """Let families down to where their young breed, if that makes no line longer on the whole.

        Each pass only moves families down, and never below the first family of their young.
        """
        moved = True
        while moved:
            moved = False
            for at in reversed(self._order):
                room = self._room(at)
                if room > 0 and self._gain(at, room) >= 0:
                    self.couples[at] += room
                    moved = True

    def _room(self, at: int) -> int:
        """How far a family may go down; 0 where none of its young has young."""
        young = self._pedigree.families[at].young
        rows = [self.couples[next_] for key in young for next_ in self._made[key]]
        return min(rows) - self.couples[at] - 1 if rows else 0

    def _gain(self, at: int, room: int) -> int:
        family = self._pedigree.families[at]
        gained = sum(len(self._made[key]) for key in family.young) * room
        before = sum(self._reach(key) for key in _parents(family))
        self.couples[at] += room
        after = sum(self._reach(key) for key in _parents(family))
        self.couples[at] -= room
        return gained - (after - before)

    def _reach(self, key: str) -> int:
        """Rows between a parent and the couples it is in."""
        row = self._row(key)
        return sum(self.couples[at] - row for at in self._made[key])
