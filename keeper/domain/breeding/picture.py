"""A way as a line: what was, what is expected, and today; numbers in the units of the drawing.

The drawing is as wide as a phone, so that its words are read there as they are.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from keeper.domain.breeding.way import Way

WIDTH, LEFT, RIGHT = 350.0, 14.0, 14.0
# Marks nearer than this stand above one another.
APART, LANE, TOP = 19.0, 22.0, 16.0
_ONE_DAY = 1


@dataclass(frozen=True)
class Mark:
    """A day on which a step was done, by the number it has in the list."""

    number: int
    x: float
    y: float


@dataclass(frozen=True)
class Bar:
    """The days between which a step is expected."""

    number: int
    x: float
    width: float
    y: float

    @property
    def middle(self) -> float:
        """Where its number stands."""
        return round(self.x + self.width / 2, 1)


@dataclass(frozen=True)
class Tick:
    """The first of a month on the line."""

    x: float
    words: str


@dataclass(frozen=True)
class WayLine:
    """Everything that is drawn; `today` is None where today is beyond its ends."""

    marks: tuple[Mark, ...]
    bars: tuple[Bar, ...]
    ticks: tuple[Tick, ...]
    line: float
    height: float
    today: float | None
    done_until: float | None
    width: float = WIDTH
    left: float = LEFT
    right: float = WIDTH - RIGHT


def way_line(way: Way, today: date) -> WayLine | None:
    """Lay out a way; None where there is no day to draw."""
    done = [(n, on) for n, one in enumerate(way.stages, 1) for on in sorted(set(one.days))]
    ahead = [
        (n, one.expected.low, one.expected.high)
        for n, one in enumerate(way.stages, 1)
        if one.expected is not None
    ]
    days = [on for _, on in done] + [on for _, low, high in ahead for on in (low, high)]
    if not days:
        return None
    first, last = min(days), max(days)
    if ahead and first <= today:
        last = max(last, min(today, last + timedelta(days=30)))
    scale = (WIDTH - LEFT - RIGHT) / max((last - first).days, _ONE_DAY)

    def at(day: date) -> float:
        return round(LEFT + (day - first).days * scale, 1)

    shown = [*((at(on), at(on), n) for n, on in done), *((at(a), at(b), n) for n, a, b in ahead)]
    lanes = _lanes(shown)
    line = TOP + LANE * (max(lanes) + 1)
    heights = [line - LANE * (lane + 0.6) for lane in lanes]
    marks = [Mark(n, at(on), y) for (n, on), y in zip(done, heights, strict=False)]
    bars = [
        Bar(n, at(low), max(round(at(high) - at(low), 1), 4.0), y)
        for (n, low, high), y in zip(ahead, heights[len(done) :], strict=True)
    ]
    return WayLine(
        marks=tuple(marks),
        bars=tuple(bars),
        ticks=tuple(_ticks(first, last, at)),
        line=line,
        height=line + 24,
        today=at(today) if first <= today <= last else None,
        done_until=max((one.x for one in marks), default=None),
    )


def _lanes(shown: Iterable[tuple[float, float, int]]) -> list[int]:
    """Give each of some stretches a lane in which it is clear of those before, from the left."""
    listed = list(shown)
    order = sorted(range(len(listed)), key=lambda one: (listed[one][0], listed[one][2]))
    ends: list[float] = []
    lanes = [0] * len(listed)
    for one in order:
        low, high, _ = listed[one]
        free = next((lane for lane, end in enumerate(ends) if low - end >= APART), len(ends))
        lanes[one] = free
        ends[free : free + 1] = [high]
    return lanes


def _ticks(first: date, last: date, at: Callable[[date], float]) -> Iterator[Tick]:
    """The firsts of months, as many as there is room for their names."""
    months: list[date] = []
    year, month = first.year, first.month
    while (day := date(year, month, 1)) <= last:
        if day >= first:
            months.append(day)
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
    if not months:
        months = [first]
    every = max(1, -(-len(months) // 7))
    for day in months[::every]:
        words = f"{day:%-d %b}" if months == [first] else f"{day:%b}"
        yield Tick(at(day), words)
