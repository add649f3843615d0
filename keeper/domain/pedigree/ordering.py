"""In which order the items of a row stand: barycentre sweeps, then moves of single items.

After the layered method of Sugiyama, Tagawa and Toda (1981, IEEE Trans. Syst. Man Cybern. 11); the
sweeps put every item at the mean place of what it hangs on, above and below in turn.
"""

import itertools
import random
from bisect import bisect_right, insort
from collections.abc import Callable, Iterator, Sequence

from keeper.domain.pedigree.nets import Nets, Rows

# Moves that are tried after the sweeps, by the number of lines: a large pedigree gets fewer.
_TRIES, _AGAIN = 8_000, 1_000
_SWEEPS = 6
# A line that is longer than needed weighs less than any crossing; so do sibs out of their order.
_LONG = 0.001
_YOUNGER_FIRST = 0.0015


class Ordering:
    """The rows of a pedigree, and how many crossings their order makes."""

    def __init__(self, nets: Nets, rows: Rows) -> None:
        self._nets = nets
        self.rows = [list(row) for row in rows]
        self.place = [0] * len(nets.row)
        for row in self.rows:
            self._put(row)
        self._channels = [self._channel(row) for row in range(nets.rows)]
        self._arches = [self._arched(row) for row in range(nets.rows)]

    @property
    def cost(self) -> float:
        """Crossings, and beside them a little for the length of lines."""
        return sum(self._channels) + sum(self._arches)

    def _put(self, items: Sequence[int]) -> None:
        for at, item in enumerate(items):
            self.place[item] = at

    def _channel(self, row: int) -> float:
        """Crossings between a row and the next, each net counted by its outermost young."""
        nets, place = self._nets, self.place
        lines: list[tuple[float, int]] = []
        length, swapped = 0.0, 0
        wide = max(1, len(self.rows[row]) - 1)
        narrow = max(1, len(self.rows[row + 1]) - 1) if row + 1 < nets.rows else 1
        for at in nets.by_row[row]:
            net = nets.nets[at]
            below = [place[item] for item in net.below]
            low, high = min(below), max(below)
            swapped += sum(one > other for one, other in itertools.pairwise(below))
            for top in nets.tops(net, place):
                lines.append((top, low))
                length += abs(top / wide - (low + high) / 2 / narrow) + high - low
                if high > low:
                    lines.append((top, high))
        lines.sort()
        return _inversions(lines) + _LONG * length + _YOUNGER_FIRST * swapped

    def _arched(self, row: int) -> float:
        """Lines from above that pass between two mates, and couples that are entwined."""
        nets, place, items = self._nets, self.place, self.rows[row]
        if not nets.couples_by_row[row]:
            return 0.0
        hung = [0]
        for item in items:
            hung.append(hung[-1] + (nets.above[item] is not None))
        spans = []
        cost = 0.0
        for at in nets.couples_by_row[row]:
            ends = nets.couples[at].ends
            if len(ends) == 2:
                left, right = sorted((place[ends[0]], place[ends[1]]))
                cost += _LONG * 4 * (right - left - 1)
                if right - left > 1:
                    cost += hung[right] - hung[left + 1]
                    spans.append((left, right))
        spans.sort()
        for at, (_, right) in enumerate(spans):
            for left, further in spans[at + 1 :]:
                if left >= right:
                    break
                cost += spans[at][0] < left and further > right
        return cost

    def _again(self, row: int) -> None:
        if row:
            self._channels[row - 1] = self._channel(row - 1)
        self._channels[row] = self._channel(row)
        self._arches[row] = self._arched(row)

    def _costs(self, row: int) -> float:
        above = self._channels[row - 1] if row else 0.0
        return above + self._channels[row] + self._arches[row]

    # ---- sweeps -----------------------------------------------------------------------------

    def sweep_down(self) -> None:
        """Put every row by the one above it."""
        for row in range(1, self._nets.rows):
            self._sort(row, self._by_above)

    def sweep_up(self) -> None:
        """Put every row by the one below it."""
        for row in reversed(range(self._nets.rows)):
            self._sort(row, self._by_below)

    def recount(self) -> None:
        """Count all crossings anew, after sweeps."""
        self._channels = [self._channel(row) for row in range(self._nets.rows)]
        self._arches = [self._arched(row) for row in range(self._nets.rows)]

    def _sort(self, row: int, wish: Callable[[int], float | None]) -> None:
        items = self.rows[row]
        own = {item: wish(item) for item in items}
        wished = self._with_mates(items, own)
        sibs: dict[int, list[float]] = {}
        for item in items:
            net = self._nets.above[item]
            if net is not None:
                sibs.setdefault(net, []).append(wished[item])
        middle = {net: sum(all_) / len(all_) for net, all_ in sibs.items()}

        def key(item: int) -> tuple[float, float, int]:
            net = self._nets.above[self._leader(item)]
            group = wished[item] if net is None else middle[net]
            return group, wished[item], self.place[item]

        items.sort(key=key)
        self._put(items)

    def _leader(self, item: int) -> int:
        """The mate beside whom a founder stands: the first that has parents here."""
        nets = self._nets
        if nets.above[item] is None:
            for mate in self._mates(item):
                if nets.above[mate] is not None:
                    return mate
        return item

    def _mates(self, item: int) -> list[int]:
        nets = self._nets
        ends = (nets.couples[at].ends for at in nets.couples_of[item])
        return [one for pair in ends for one in pair if one != item]

    def _with_mates(self, items: list[int], own: dict[int, float | None]) -> dict[int, float]:
        """Let whoever has no wish stand beside its mates, on the side where it stands now."""
        found: dict[int, float] = {}
        for item in items:
            wish = own[item]
            if wish is None:
                near = [(one, own[one]) for one in self._mates(item)]
                known = [(one, mate) for one, mate in near if mate is not None]
                if known:
                    mate, at = known[0][0], sum(wish for _, wish in known) / len(known)
                    wish = at + (0.25 if self.place[item] > self.place[mate] else -0.25)
            found[item] = float(self.place[item]) if wish is None else wish
        return found

    def _by_above(self, item: int) -> float | None:
        net = self._nets.above[item]
        if net is None:
            return None
        tops = self._nets.tops(self._nets.nets[net], self.place)
        row = self._nets.row[item]
        return _scaled(sum(tops) / len(tops), self.rows[row - 1], self.rows[row])

    def _by_below(self, item: int) -> float | None:
        nets = self._nets
        below = [nets.couples[at].net for at in nets.couples_of[item]] + nets.leaves[item]
        young = [self.place[one] for at in below for one in nets.nets[at].below]
        if not young:
            return None
        row = nets.row[item]
        return _scaled(sum(young) / len(young), self.rows[row + 1], self.rows[row])

    # ---- single moves -----------------------------------------------------------------------

    def polish(self, tries: int) -> None:
        """Move single items, and pairs of mates, as long as that makes fewer crossings."""
        moved = True
        while moved and tries > 0:
            moved = False
            for row in range(self._nets.rows):
                for item in list(self.rows[row]):
                    for group in self._movable(item):
                        spent, better = self._moved(row, group)
                        tries -= spent
                        moved = moved or better
                        if tries <= 0:
                            return

    def _movable(self, item: int) -> list[list[int]]:
        """What is moved at once: an item, it with its mates, its sibship with theirs."""
        groups = [[item]]
        mates = [one for one in self._mates(item) if self._nets.above[one] is None]
        if mates:
            groups.append(sorted({item, *mates}, key=self.place.__getitem__))
        net = self._nets.above[item]
        sibs = self._nets.nets[net].below if net is not None else ()
        if len(sibs) > 1 and sibs[0] == item:
            along = {mate for one in sibs for mate in self._mates(one)}
            free = {one for one in along if self._nets.above[one] is None}
            groups.append(sorted({*sibs, *free}, key=self.place.__getitem__))
        return groups

    def _moved(self, row: int, group: list[int]) -> tuple[int, bool]:
        """Put a group at its best place; return how many were tried and whether it moved."""
        items = self.rows[row]
        rest = [one for one in items if one not in group]
        before = best = self._costs(row)
        chosen = list(items)
        orders = [group] if len(group) == 1 else [group, group[::-1]]
        reach = range(len(rest) + 1)
        if len(rest) > 16:
            at = self.place[group[0]]
            reach = range(max(0, at - 8), min(len(rest), at + 8) + 1)
        for at in reach:
            for order in orders:
                items[:] = [*rest[:at], *order, *rest[at:]]
                self._put(items)
                self._again(row)
                if (cost := self._costs(row)) < best - 1e-9:
                    best, chosen = cost, list(items)
        items[:] = chosen
        self._put(items)
        self._again(row)
        return len(reach) * len(orders), best < before - 1e-9


def _scaled(at: float, from_: list[int], to: list[int]) -> float:
    """A place among some items as one among others."""
    return (at + 0.5) / max(1, len(from_)) * max(1, len(to)) - 0.5


def _inversions(lines: list[tuple[float, int]]) -> int:
    """Pairs of lines, sorted by their upper ends, that cross; those that share an end do not."""
    found = 0
    seen: list[int] = []
    waiting: list[int] = []
    last = float("-inf")
    for top, low in lines:
        if top != last:
            for one in waiting:
                insort(seen, one)
            waiting, last = [], top
        found += len(seen) - bisect_right(seen, low)
        waiting.append(low)
    return found


def first_rows(nets: Nets) -> Rows:
    """Return an order in which ancestors without loops do not cross: sires' left of dams'."""
    rows: Rows = [[] for _ in range(nets.rows)]
    seen = [False] * len(nets.row)

    def steps(item: int) -> Iterator[int]:
        net = nets.above[item]
        if net is not None:
            yield from _upper(nets, net)
        rows[nets.row[item]].append(item)
        for at in nets.leaves[item]:
            yield nets.nets[at].below[0]
        for at in nets.couples_of[item]:
            yield from nets.couples[at].ends
            yield from nets.nets[nets.couples[at].net].below

    for item in range(len(nets.row)):
        walks = [] if seen[item] else [steps(item)]
        seen[item] = True
        while walks:
            following = next(walks[-1], None)
            if following is None:
                walks.pop()
            elif not seen[following]:
                seen[following] = True
                walks.append(steps(following))
    return rows


def _upper(nets: Nets, at: int) -> list[int]:
    net = nets.nets[at]
    if net.source is not None:
        return [net.source]
    return [end for one in net.couples for end in nets.couples[one].ends]


def good_rows(nets: Nets) -> Iterator[Rows]:
    """Yield orders of every row with few crossings, the most promising first; without end.

    The first are found from the generations, the others from rows shuffled in a way of their own.
    """
    ordering = Ordering(nets, first_rows(nets))
    best, kept = ordering.cost, [list(row) for row in ordering.rows]
    for at in range(_SWEEPS):
        (ordering.sweep_up if at % 2 == 0 else ordering.sweep_down)()
        ordering.recount()
        if ordering.cost < best - 1e-9:
            best, kept = ordering.cost, [list(row) for row in ordering.rows]
    yield _polished(nets, kept)
    yield _polished(nets, first_rows(nets))
    for number in itertools.count():
        draw = random.Random(number)
        yield _polished(nets, [draw.sample(row, len(row)) for row in kept], _AGAIN)


def _polished(nets: Nets, rows: Rows, tries: int = _TRIES) -> Rows:
    ordering = Ordering(nets, rows)
    ordering.polish(tries // max(1, len(nets.nets) + len(nets.couples)))
    return ordering.rows
