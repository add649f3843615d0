"""Where the items of each row stand from left to right, their order given.

Each item has a wish: young to hang in the middle below their parents, parents to stand in the
middle above their young. A row takes the places nearest to its wishes, in the sense of least
squares, at which nothing is too near: isotonic regression by pooling adjacent violators
(Ayer et al. 1955, Ann. Math. Stat. 26; quoted from memory).
"""

from collections.abc import Callable, Iterable, Sequence

from keeper.domain.pedigree.gutters import Gutters, Slot
from keeper.domain.pedigree.nets import Net, Nets, Rows

# Item → where it would stand, and how much that counts.
Wishes = dict[int, tuple[float, float]]

PASSAGE = 6.0
_LEAST_GAP = 8.0
_ROUNDS = 6
_WEAK = 0.05


class Placing:
    """Middles of items (`x`), and where the vertical lines between them run (`lines`)."""

    def __init__(self, nets: Nets, rows: Rows, width: float) -> None:
        self._nets, self._rows = nets, rows
        self.gutters = Gutters(nets, rows)
        self._half = [
            (PASSAGE if nets.is_passage(one) else width) / 2 for one in range(len(nets.row))
        ]
        self._apart = [self._distances(row) for row in range(nets.rows)]
        self.x = [0.0] * len(nets.row)
        self.lines: dict[Slot, float] = {}
        for row in range(nets.rows):
            for item, at in zip(rows[row], self._apart[row], strict=True):
                self.x[item] = at
            self._note_lines(row)
        for _ in range(_ROUNDS):
            self._settle(self._by_below, reversed(range(nets.rows)))
            self._settle(self._by_above, range(1, nets.rows))
        for row in range(1, nets.rows):
            self._straighten(row)
        self._to_the_edge()

    def _distances(self, row: int) -> list[float]:
        """How far each item of a row is from its first at the least."""
        gaps, items = self.gutters.gaps[row], self._rows[row]
        found: list[float] = []
        for at, item in enumerate(items):
            if at == 0:
                found.append(0.0)
                continue
            gap = max(_LEAST_GAP, gaps[at].width)
            found.append(found[-1] + self._half[items[at - 1]] + gap + self._half[item])
        return found

    def _note_lines(self, row: int) -> None:
        items, gaps = self._rows[row], self.gutters.gaps[row]
        for at, gap in enumerate(gaps):
            if not (gap.left or gap.middle or gap.right):
                continue
            left = self.x[items[at - 1]] + self._half[items[at - 1]] if at else None
            right = self.x[items[at]] - self._half[items[at]] if at < len(items) else None
            left = right - gap.width if left is None and right is not None else left
            right = left + gap.width if right is None and left is not None else right
            if left is not None and right is not None:
                self.lines |= gap.places(left, right)

    def tops(self, net: Net) -> list[float]:
        """Where a net comes down from its row."""
        if net.source is None:
            return [self.lines[Slot("stem", at)] for at in net.couples]
        if self._nets.is_passage(net.source):
            return [self.x[net.source]]
        at = next(one for one in self._nets.leaves[net.source] if self._nets.nets[one] is net)
        return [self.lines[Slot("leaf", at)]]

    def _settle(self, wish: Callable[[int], Wishes], rows: Iterable[int]) -> None:
        for row in rows:
            items = self._rows[row]
            wishes = wish(row)
            wished = [wishes.get(one, (self.x[one], _WEAK)) for one in items]
            free = [at - far for (at, _), far in zip(wished, self._apart[row], strict=True)]
            level = _isotonic(free, [weight for _, weight in wished])
            for item, low, far in zip(items, level, self._apart[row], strict=True):
                self.x[item] = low + far
            self._note_lines(row)

    def _straighten(self, row: int) -> None:
        """Put who hangs from one line by itself right under it, if there is room."""
        items, apart = self._rows[row], self._apart[row]
        for at, item in enumerate(items):
            above = self._nets.above[item]
            net = self._nets.nets[above] if above is not None else None
            if net is None or len(net.below) > 1 or len(tops := self.tops(net)) > 1:
                continue
            least, most = float("-inf"), float("inf")
            if at:
                least = self.x[items[at - 1]] + apart[at] - apart[at - 1]
            if at + 1 < len(items):
                most = self.x[items[at + 1]] - apart[at + 1] + apart[at]
            if least <= tops[0] <= most:
                self.x[item] = tops[0]
        self._note_lines(row)

    def _by_above(self, row: int) -> Wishes:
        wishes: Wishes = {}
        shifts: dict[int, float] = {}
        for at in self._nets.by_row[row - 1]:
            net = self._nets.nets[at]
            tops = self.tops(net)
            middle = sum(self.x[one] for one in net.below) / len(net.below)
            shift = sum(tops) / len(tops) - middle
            for one in net.below:
                shifts[one] = shift
                wishes[one] = (self.x[one] + shift, 1.0)
        for item in self._rows[row]:
            if item not in wishes:
                near = [shifts[one] for one in self._mates(item) if one in shifts]
                if near:
                    wishes[item] = (self.x[item] + sum(near) / len(near), 0.5)
        return wishes

    def _by_below(self, row: int) -> Wishes:
        shifts: dict[int, list[float]] = {}
        for at in self._nets.by_row[row]:
            net = self._nets.nets[at]
            tops = self.tops(net)
            middle = sum(self.x[one] for one in net.below) / len(net.below)
            for top, items in zip(tops, self._upper(net), strict=True):
                target = middle if len(tops) == 1 else middle + top - sum(tops) / len(tops)
                for one in items:
                    shifts.setdefault(one, []).append(target - top)
        return {
            one: (self.x[one] + sum(all_) / len(all_), float(len(all_)))
            for one, all_ in shifts.items()
        }

    def _upper(self, net: Net) -> list[tuple[int, ...]]:
        if net.source is not None:
            return [(net.source,)]
        return [self._nets.couples[at].ends for at in net.couples]

    def _mates(self, item: int) -> list[int]:
        ends = (self._nets.couples[at].ends for at in self._nets.couples_of[item])
        return [one for pair in ends for one in pair if one != item]

    def _to_the_edge(self) -> None:
        """Let the drawing begin at 0."""
        lefts = [at - half for at, half in zip(self.x, self._half, strict=True)]
        least = min([*lefts, *self.lines.values()], default=0.0)
        self.x = [round(at - least, 1) for at in self.x]
        self.lines = {slot: round(at - least, 1) for slot, at in self.lines.items()}

    @property
    def width(self) -> float:
        """How wide the drawing is."""
        rights = [at + half for at, half in zip(self.x, self._half, strict=True)]
        return max([*rights, *self.lines.values()], default=0.0)


def _isotonic(wished: Sequence[float], weights: Sequence[float]) -> list[float]:
    """Return the rising numbers nearest to those wished, by weighed squares."""
    pools: list[tuple[float, float, int]] = []
    for at, weight in zip(wished, weights, strict=True):
        mean, heavy, many = at, weight, 1
        while pools and pools[-1][0] > mean:
            before, by, so_many = pools.pop()
            mean = (mean * heavy + before * by) / (heavy + by)
            heavy, many = heavy + by, many + so_many
        pools.append((mean, heavy, many))
    return [mean for mean, _, many in pools for _ in range(many)]
