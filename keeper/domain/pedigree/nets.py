"""What has to be drawn between symbols: items in rows, couples, and the lines that lead down.

An *item* is a symbol, or the place where a parent's line passes a row on its way down to a mate. A
*couple* joins two items of one row, or is one item alone. A *net* is all that hangs together
between two rows: the stems of a family's couples with its young, or one line passed on.
"""

from dataclasses import dataclass, field

from keeper.domain.pedigree.generations import Generations
from keeper.domain.pedigree.graph import Pedigree

# Items by row, in the order in which they stand.
Rows = list[list[int]]


@dataclass(frozen=True)
class Couple:
    """Where two items meet; `net` leads down from it."""

    ends: tuple[int, ...]
    net: int
    family: int
    union: int


@dataclass
class Net:
    """From couples (a family's) or one item (a line passed on) down to items of the next row."""

    row: int
    family: int | None
    couples: list[int] = field(default_factory=list)
    source: int | None = None
    below: tuple[int, ...] = ()


class Nets:
    """Items, couples and nets of a pedigree.

    Attributes:
        rows: how many rows there are.
        row: item → its row, 0 the oldest.
        symbols: key by item; items from `len(symbols)` on are passages.
        above: item → the net that leads to it, or None.
        couples_of: item → the couples that it is in.
        leaves: item → the nets that lead from it alone, passed on.
    """

    def __init__(self, pedigree: Pedigree) -> None:
        self.pedigree = pedigree
        self.symbols = pedigree.symbols
        generations = Generations(pedigree)
        first = min(generations.of.values(), default=0)
        self.row = [generations.of[key] - first for key in self.symbols]
        self._item = {key: at for at, key in enumerate(self.symbols)}
        self.couples: list[Couple] = []
        self.nets: list[Net] = []
        for at, family in enumerate(pedigree.families):
            row = generations.couples[at] - first
            net = Net(row, at, below=tuple(self._item[key] for key in family.young))
            self.nets.append(net)
            number = len(self.nets) - 1
            for union_at, union in enumerate(family.unions):
                ends = tuple(self._led_down(self._item[key], row) for key in union.parents)
                net.couples.append(len(self.couples))
                self.couples.append(Couple(ends, number, at, union_at))
        self.rows = max(self.row, default=-1) + 1
        self._index()

    def _led_down(self, item: int, row: int) -> int:
        """The item itself where it stands in the row, else the last passage down to it."""
        while self.row[item] < row:
            self.row.append(self.row[item] + 1)
            passage = len(self.row) - 1
            self.nets.append(Net(self.row[item], None, source=item, below=(passage,)))
            item = passage
        return item

    def _index(self) -> None:
        self.above: list[int | None] = [None] * len(self.row)
        self.leaves: list[list[int]] = [[] for _ in self.row]
        self.couples_of: list[list[int]] = [[] for _ in self.row]
        self.by_row: list[list[int]] = [[] for _ in range(self.rows)]
        self.couples_by_row: list[list[int]] = [[] for _ in range(self.rows)]
        for at, net in enumerate(self.nets):
            self.by_row[net.row].append(at)
            for item in net.below:
                self.above[item] = at
            if net.source is not None:
                self.leaves[net.source].append(at)
        for at, couple in enumerate(self.couples):
            self.couples_by_row[self.row[couple.ends[0]]].append(at)
            for item in couple.ends:
                self.couples_of[item].append(at)

    def is_passage(self, item: int) -> bool:
        """Whether an item is no symbol."""
        return item >= len(self.symbols)

    def stem_at_second(self, couple: Couple, place: list[int]) -> tuple[int, int, bool]:
        """Return a couple's items from left to right, and whether it leads down beside the right.

        It does so beside the one with fewer mates, so that a sire's young hang by their dams.
        """
        left, right = sorted(couple.ends, key=place.__getitem__)
        if self.is_passage(left) != self.is_passage(right):
            return left, right, self.is_passage(left)
        return left, right, len(self.couples_of[right]) <= len(self.couples_of[left])

    def stem(self, couple: Couple, place: list[int]) -> float:
        """Where a couple leads down, as a place between those of its row."""
        if len(couple.ends) == 1:
            return place[couple.ends[0]] + 0.5
        left, right, at_right = self.stem_at_second(couple, place)
        return place[right] - 0.5 if at_right else place[left] + 0.5

    def tops(self, net: Net, place: list[int]) -> list[float]:
        """Where a net begins, as places between those of its row."""
        if net.source is not None:
            return [place[net.source] + 0.4]
        return [self.stem(self.couples[at], place) for at in net.couples]
