"""Heights of the horizontal lines between two rows, so that none lies on another.

A net needs one height: the sibship line, or the way of a line passed on. Which of two nets runs
above the other decides how often they cross; nets that do not meet share a height.
"""

from collections.abc import Sequence
from dataclasses import dataclass

# Two vertical lines in one place would be taken for one: as bad as so many crossings.
_ON_ANOTHER = 1000
# Nearer than this, two lines are taken for one.
NEAR = 3.0


@dataclass(frozen=True)
class Span:
    """A net's horizontal line: where lines come to it from above, and where they leave it below."""

    tops: tuple[float, ...]
    below: tuple[float, ...]

    @property
    def left(self) -> float:
        """Its left end."""
        return min(*self.tops, *self.below)

    @property
    def right(self) -> float:
        """Its right end."""
        return max(*self.tops, *self.below)

    def meets(self, other: "Span") -> bool:
        """Whether the two cannot share a height."""
        return self.left <= other.right + NEAR and other.left <= self.right + NEAR


def crossings(upper: Span, lower: Span) -> int:
    """How often two nets cross, the one running above the other."""
    found = sum(upper.left < at < upper.right for at in lower.tops)
    found += sum(lower.left < at < lower.right for at in upper.below)
    near = (abs(top - low) < NEAR for top in lower.tops for low in upper.below)
    return found + _ON_ANOTHER * sum(near)


def levels(spans: Sequence[Span]) -> list[int]:
    """Return the height of each net, 0 the highest."""
    meeting = [
        [other for other in range(len(spans)) if other != at and spans[at].meets(spans[other])]
        for at in range(len(spans))
    ]
    rises = [sum(_gain(spans, at, other) for other in meeting[at]) for at in range(len(spans))]
    order = sorted(range(len(spans)), key=lambda at: (rises[at], spans[at].left))
    _exchange(spans, order)
    found = [0] * len(spans)
    done: set[int] = set()
    for at in order:
        found[at] = max((found[other] + 1 for other in meeting[at] if other in done), default=0)
        done.add(at)
    return found


def _gain(spans: Sequence[Span], one: int, other: int) -> int:
    """How much worse it is that one runs above the other than the other way round."""
    return crossings(spans[one], spans[other]) - crossings(spans[other], spans[one])


def _exchange(spans: Sequence[Span], order: list[int]) -> None:
    """Let neighbours change places while that makes fewer crossings."""
    for _ in order:
        changed = False
        for at in range(len(order) - 1):
            one, other = order[at], order[at + 1]
            if spans[one].meets(spans[other]) and _gain(spans, one, other) > 0:
                order[at], order[at + 1] = other, one
                changed = True
        if not changed:
            return


def nested(spans: Sequence[tuple[float, float]]) -> list[int]:
    """Return the height of arches over a row, 0 the lowest: the longer over the shorter."""
    found = [0] * len(spans)
    done: list[int] = []
    for at in sorted(range(len(spans)), key=lambda one: spans[one][1] - spans[one][0]):
        left, right = spans[at]
        under = [
            found[one]
            for one in done
            if spans[one][0] <= right + NEAR and left <= spans[one][1] + NEAR
        ]
        found[at] = max(under, default=-1) + 1
        done.append(at)
    return found
