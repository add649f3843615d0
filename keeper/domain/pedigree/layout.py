"""A pedigree as numbers to draw: where each symbol stands, and every line between them.

    drawn = layout(Pedigree(("M", "F", "Y"), (Family((Union(("M", "F")),), ("Y",)),)), Sizes())

Rows are generations, the oldest on top. Mates beside each other are joined by a straight line,
others by an arch over those between them; a mate of an older generation comes down from its row.
Lengths are CSS pixels.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field

from keeper.domain.pedigree.graph import Pedigree
from keeper.domain.pedigree.gutters import Slot
from keeper.domain.pedigree.nets import Couple, Net, Nets, Rows
from keeper.domain.pedigree.ordering import good_rows
from keeper.domain.pedigree.placing import Placing
from keeper.domain.pedigree.tracks import Span, levels, nested

Point = tuple[float, float]

# If lines cross in the first order, others are tried: so many, shared by the items.
_STARTS = 120
_TRACK = 8.0
_ARCH = 7.0
_CHANNEL = 10.0


@dataclass(frozen=True)
class Sizes:
    """How large a symbol is, how wide its words are, how high they are below it, and the edge."""

    symbol: float = 28.0
    width: float = 64.0
    words: float = 66.0
    edge: float = 8.0


@dataclass(frozen=True)
class Line:
    """A line of the drawing, from point to point, of one family.

    Attributes:
        kind: `couple`, `descent` (from a couple or a lone parent to the sibship line), `sibs` (that
            line) or `young` (from it to one of the sibship).
        doubtful: the young may be of another couple: drawn broken.
        related: the two have an ancestor in common: drawn double.
    """

    kind: str
    family: int
    points: tuple[Point, ...]
    doubtful: bool = False
    related: bool = False


@dataclass(frozen=True)
class Drawn:
    """A pedigree with places: the middle of each symbol, the lines, and how large it all is."""

    at: dict[str, Point]
    lines: tuple[Line, ...]
    width: float
    height: float
    rows: tuple[tuple[str, ...], ...] = field(default=())

    def crossings(self) -> int:
        """How often lines of two families cross."""
        level: list[tuple[float, float, float, int]] = []
        upright: list[tuple[float, float, float, int]] = []
        for line in self.lines:
            for (x, y), (to_x, to_y) in itertools.pairwise(line.points):
                if y == to_y:
                    level.append((y, min(x, to_x), max(x, to_x), line.family))
                else:
                    upright.append((x, min(y, to_y), max(y, to_y), line.family))
        return sum(
            one != other and left < x < right and top < y < foot
            for y, left, right, one in level
            for x, top, foot, other in upright
        )


def layout(pedigree: Pedigree, sizes: Sizes, rows: Sequence[Sequence[str]] | None = None) -> Drawn:
    """Return where everything stands.

    `rows` are the symbols of each row in an order to be kept; without it the best that is found.
    It can be given only where no line passes a row.
    """
    nets = Nets(pedigree)
    if rows is None:
        return _best(nets, sizes)
    item = {key: at for at, key in enumerate(pedigree.symbols)}
    return _Drawing(nets, [[item[key] for key in row] for row in rows], sizes).drawn()


def _best(nets: Nets, sizes: Sizes) -> Drawn:
    """Draw in the first order found; a small one that has crossings also in others."""
    orders = good_rows(nets)
    best = _Drawing(nets, next(orders), sizes).drawn()
    starts = _STARTS // max(1, len(nets.row))
    if not starts or not (fewest := best.crossings()):
        return best
    for rows in itertools.islice(orders, starts):
        other = _Drawing(nets, rows, sizes).drawn()
        if (number := other.crossings()) < fewest:
            best, fewest = other, number
        if not fewest:
            break
    return best


def drawn_in_order(nets: Nets, rows: Rows, sizes: Sizes) -> Drawn:
    """Return where everything stands with the items of each row in a given order."""
    return _Drawing(nets, rows, sizes).drawn()


class _Drawing:
    """The heights, after the places from left to right, and then the lines."""

    def __init__(self, nets: Nets, rows: Rows, sizes: Sizes) -> None:
        self._nets, self._rows, self._sizes = nets, rows, sizes
        self._placing = Placing(nets, rows, sizes.width)
        self._x = [at + sizes.edge for at in self._placing.x]
        self._slot = {one: at + sizes.edge for one, at in self._placing.lines.items()}
        self._arch = self._arches()
        self._level = self._levels()
        self._lines: list[Line] = []
        self._set_heights()

    # ---- heights ----------------------------------------------------------------------------

    def _arches(self) -> dict[int, int]:
        """Couple → the height of its arch, for those that have one."""
        found: dict[int, int] = {}
        for row in range(self._nets.rows):
            over = [
                at
                for at in self._nets.couples_by_row[row]
                if self._reach(self._nets.couples[at]) > 1
            ]
            heights = nested([self._arch_span(at) for at in over])
            found.update(zip(over, heights, strict=True))
        return found

    def _reach(self, couple: Couple) -> int:
        places = [self._placing.gutters.place[one] for one in couple.ends]
        return max(places) - min(places)

    def _arch_span(self, at: int) -> tuple[float, float]:
        ends = [self._slot[Slot("stem", at)]]
        riser = Slot("riser", at)
        ends.append(self._slot[riser] if riser in self._slot else self._passage_of(at))
        return min(ends), max(ends)

    def _passage_of(self, at: int) -> float:
        """Where the passage lies that an arch begins at."""
        stem = self._slot[Slot("stem", at)]
        passages = [one for one in self._nets.couples[at].ends if self._nets.is_passage(one)]
        return max((self._x[one] for one in passages), key=lambda x: abs(x - stem))

    def _tops(self, net: Net) -> list[float]:
        return [at + self._sizes.edge for at in self._placing.tops(net)]

    def _levels(self) -> list[int]:
        found = [0] * len(self._nets.nets)
        for of_row in self._nets.by_row:
            nets = [self._nets.nets[at] for at in of_row]
            spans = [
                Span(tuple(self._tops(net)), tuple(self._x[one] for one in net.below))
                for net in nets
            ]
            for at, level in zip(of_row, levels(spans), strict=True):
                found[at] = level
        return found

    def _set_heights(self) -> None:
        sizes = self._sizes
        self._middle: list[float] = []
        self._floor: list[float] = []
        top = sizes.edge
        for row in range(self._nets.rows):
            arches = [self._arch.get(at, -1) + 1 for at in self._nets.couples_by_row[row]]
            top += max(arches, default=0) * _ARCH
            self._middle.append(top + sizes.symbol / 2)
            self._floor.append(top + sizes.symbol + sizes.words)
            used = [self._level[at] + 1 for at in self._nets.by_row[row]]
            tracks = max(used, default=0)
            top = self._floor[-1] + (_CHANNEL * 2 + tracks * _TRACK if tracks else 0.0)

    def _arch_height(self, at: int) -> float:
        row = self._nets.row[self._nets.couples[at].ends[0]]
        return self._middle[row] - self._sizes.symbol / 2 - _ARCH * (self._arch[at] + 0.6)

    def _track(self, at: int) -> float:
        net = self._nets.nets[at]
        return self._floor[net.row] + _CHANNEL + _TRACK * self._level[at]

    # ---- lines ------------------------------------------------------------------------------

    def drawn(self) -> Drawn:
        """Draw all lines and say where the symbols are."""
        for at, couple in enumerate(self._nets.couples):
            self._draw_couple(at, couple)
        for at, net in enumerate(self._nets.nets):
            if net.family is not None:
                self._draw_family(at, net)
        symbols = self._nets.symbols
        places = {
            key: (round(self._x[at], 1), round(self._middle[self._nets.row[at]], 1))
            for at, key in enumerate(symbols)
        }
        return Drawn(
            at=places,
            lines=tuple(self._lines),
            width=round(self._placing.width + 2 * self._sizes.edge, 1),
            height=round((self._floor[-1] if self._floor else 0.0) + self._sizes.edge, 1),
            rows=tuple(
                tuple(symbols[one] for one in row if one < len(symbols)) for row in self._rows
            ),
        )

    def _draw_couple(self, at: int, couple: Couple) -> None:
        """The line that joins two, led down from an older row where one stands there."""
        if len(couple.ends) < 2:
            return
        union = self._nets.pedigree.families[couple.family].unions[couple.union]
        left, right, at_right = self._nets.stem_at_second(couple, self._placing.gutters.place)
        near, far = (right, left) if at_right else (left, right)
        row = self._nets.row[near]
        stem = self._slot[Slot("stem", at)]
        if at not in self._arch:
            level = self._middle[row]
            points = [(stem, level)]
            first, last = self._from(left, level), self._from(right, level)
            path = [*first, *points, *reversed(last)]
        else:
            high = self._arch_height(at)
            foot = self._middle[row] + self._placing.gutters.ports[Slot("stem", at)]
            riser = Slot("riser", at)
            begin = self._from(far, high)
            if riser in self._slot:
                low = self._middle[row] + self._placing.gutters.ports[riser]
                x = self._slot[riser]
                begin = [(self._x[far], low), (x, low), (x, high)]
            end = (
                [(stem, high), (stem, foot), (self._x[near], foot)]
                if not self._nets.is_passage(near)
                else [(stem, high), *reversed(self._from(near, high))]
            )
            path = [*begin, *end]
        related = self._nets.pedigree.related(union)
        self._add("couple", couple.family, path, related=related)

    def _from(self, item: int, level: float) -> list[Point]:
        """The way from a symbol to a height beside it; of a passage all the way from its symbol."""
        if not self._nets.is_passage(item):
            return [(self._x[item], level)]
        at = self._nets.above[item]
        assert at is not None
        net = self._nets.nets[at]
        assert net.source is not None
        track = self._track(at)
        x = self._x[item]
        if self._nets.is_passage(net.source):
            before = self._from(net.source, track)
        else:
            slot = Slot("leaf", at)
            port = self._middle[net.row] + self._placing.gutters.ports[slot]
            out = self._slot[slot]
            before = [(self._x[net.source], port), (out, port), (out, track)]
        return [*before, (x, track), (x, level)]

    def _draw_family(self, at: int, net: Net) -> None:
        assert net.family is not None
        track, tops = self._track(at), self._tops(net)
        doubtful = len(net.couples) > 1
        for one, x in zip(net.couples, tops, strict=True):
            self._add("descent", net.family, self._stem(one, x, track), doubtful=doubtful)
        below = [self._x[one] for one in net.below]
        ends = [*below, *tops]
        if max(ends) > min(ends):
            self._add("sibs", net.family, [(min(ends), track), (max(ends), track)])
        foot = self._middle[net.row + 1]
        for x in below:
            self._add("young", net.family, [(x, track), (x, foot)])

    def _stem(self, at: int, x: float, track: float) -> list[Point]:
        couple = self._nets.couples[at]
        row = self._nets.row[couple.ends[0]]
        middle = self._middle[row]
        port = self._placing.gutters.ports.get(Slot("stem", at), 0.0)
        if len(couple.ends) == 1 and not self._nets.is_passage(couple.ends[0]):
            begin = [(self._x[couple.ends[0]], middle + port), (x, middle + port)]
            return [*begin, (x, track)]
        near_passage = all(self._nets.is_passage(one) for one in couple.ends)
        start = self._arch_height(at) if at in self._arch and near_passage else middle + port
        return [(x, start), (x, track)]

    def _add(
        self,
        kind: str,
        family: int,
        points: Sequence[Point],
        *,
        doubtful: bool = False,
        related: bool = False,
    ) -> None:
        tidy: list[Point] = []
        for x, y in points:
            point = (round(x, 1), round(y, 1))
            if not tidy or tidy[-1] != point:
                tidy.append(point)
        self._lines.append(Line(kind, family, tuple(tidy), doubtful, related))
