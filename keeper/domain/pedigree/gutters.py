"""The vertical lines between the items of a row: in which gap each runs, where it leaves a symbol.

A gap has lines that hug its left item, lines that hug its right one, and stems in its middle. A
line that goes up leaves a symbol above the straight one to a mate beside it, a line that goes down
below: so those of one symbol do not cross each other.
"""

from dataclasses import dataclass, field

from keeper.domain.pedigree.nets import Nets, Rows

SLOT = 7.0
_PORT = 4.0
_PORTS = 10.0


@dataclass(frozen=True)
class Slot:
    """A vertical line in a gap: a `stem` or `riser` of a couple, or the `leaf` of a net."""

    kind: str
    of: int


@dataclass
class Gap:
    """What runs between two items, nearest to its own item first; `middle` from the left."""

    left: list[Slot] = field(default_factory=list)
    middle: list[Slot] = field(default_factory=list)
    right: list[Slot] = field(default_factory=list)

    @property
    def width(self) -> float:
        """The least room of all its lines."""
        return SLOT * (len(self.left) + len(self.middle) + len(self.right) + 1)

    def places(self, left: float, right: float) -> dict[Slot, float]:
        """Return where each line runs in a gap between two edges."""
        found = {slot: left + SLOT * (at + 1) for at, slot in enumerate(self.left)}
        found |= {slot: right - SLOT * (at + 1) for at, slot in enumerate(self.right)}
        begin, end = left + SLOT * len(self.left), right - SLOT * len(self.right)
        step = (end - begin) / (len(self.middle) + 1)
        return found | {slot: begin + step * (at + 1) for at, slot in enumerate(self.middle)}


# Ups from the symbol outwards are nearest when they go farthest; their port is the highest.
@dataclass
class _Side:
    """What leaves a symbol on one side: how far each goes, by whether it goes up or down."""

    risers: list[tuple[int, Slot]] = field(default_factory=list)
    stems: list[tuple[int, Slot]] = field(default_factory=list)
    downs: list[Slot] = field(default_factory=list)

    def slots(self) -> list[Slot]:
        """From the symbol outwards."""
        ups = [slot for _, slot in sorted(self.risers, key=lambda one: -one[0])]
        stems = [slot for _, slot in sorted(self.stems, key=lambda one: -one[0])]
        return [*self.downs, *ups, *stems]

    def ports(self) -> dict[Slot, float]:
        """How far from the symbol's middle each leaves it; up is negative."""
        ups = [one for one in self.slots() if one not in self.downs]
        step = min(_PORT, _PORTS / max(1, len(ups)))
        found = {slot: -step * (len(ups) - at) for at, slot in enumerate(ups)}
        step = min(_PORT, _PORTS / max(1, len(self.downs)))
        low = {slot: step * (len(self.downs) - at) for at, slot in enumerate(self.downs)}
        return found | low


class Gutters:
    """The gaps of each row, one more than it has items, and the ports of its lines."""

    def __init__(self, nets: Nets, rows: Rows) -> None:
        self._nets, self._rows = nets, rows
        self.place = [0] * len(nets.row)
        for row in rows:
            for at, item in enumerate(row):
                self.place[item] = at
        self.gaps = [[Gap() for _ in range(len(row) + 1)] for row in rows]
        self._sides: dict[tuple[int, bool], _Side] = {}
        for at in range(len(nets.couples)):
            self._take_couple(at)
        for at, net in enumerate(nets.nets):
            if net.source is not None and not nets.is_passage(net.source):
                self._take_leaf(at, net.source, net.below[0])
        self.ports: dict[Slot, float] = {}
        for (item, on_right), side in self._sides.items():
            gap = self.gaps[nets.row[item]][self.place[item] + on_right]
            (gap.left if on_right else gap.right).extend(side.slots())
            self.ports |= side.ports()

    def _side(self, item: int, *, on_right: bool) -> _Side:
        return self._sides.setdefault((item, on_right), _Side())

    def _take_couple(self, at: int) -> None:
        couple = self._nets.couples[at]
        stem, riser = Slot("stem", at), Slot("riser", at)
        if len(couple.ends) == 1:
            self._side(couple.ends[0], on_right=True).downs.append(stem)
            return
        left, right, at_right = self._nets.stem_at_second(couple, self.place)
        reach = self.place[right] - self.place[left]
        if reach == 1:
            row = self._nets.row[left]
            self.gaps[row][self.place[right]].middle.append(stem)
            return
        near, far = (right, left) if at_right else (left, right)
        self._side(near, on_right=not at_right).stems.append((reach, stem))
        if not self._nets.is_passage(far):
            self._side(far, on_right=at_right).risers.append((reach, riser))

    def _take_leaf(self, at: int, item: int, below: int) -> None:
        here, there = self._rows[self._nets.row[item]], self._rows[self._nets.row[below]]
        on_right = (self.place[below] + 0.5) / len(there) >= (self.place[item] + 0.5) / len(here)
        self._side(item, on_right=on_right).downs.append(Slot("leaf", at))
