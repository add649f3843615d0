"""A number over time as numbers to draw: the strip of certainty, stretched along the years.

At each moment the column is divided as the strip is: solid for two copies, above it hatched for
one copy, empty for none.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from django.utils.formats import date_format

from keeper.pages.frame.plot import Mark

# Drawn at about the size of a phone, so that its text is never smaller than the page's.
WIDTH, HEIGHT = 340.0, 190.0
LEFT, RIGHT, TOP, BOTTOM = 48.0, 14.0, 26.0, 32.0
_HIGH = HEIGHT - TOP - BOTTOM
# What was before the first move has this much room.
_BEFORE = 10.0
_HATCH = 6.0
# What is possible shows, however unlikely; what is not certain never looks whole.
_LEAST = 2.0
# Numbers of moves that are nearer than this are written as one.
_NEAR = 18.0
_TICK = 46.0


class State(NamedTuple):
    """What a number was from a day on."""

    on: date
    two: float
    none: float
    disputed: bool


@dataclass(frozen=True)
class Column:
    """A stretch of time in which the number stood still."""

    left: float
    width: float
    solid: float
    solid_height: float
    hatching: str
    disputed: bool


@dataclass(frozen=True)
class TimePlot:
    """All that the drawing needs, in a frame of WIDTH by HEIGHT.

    Attributes:
        outline, broken: the upper edge of what is possible; where it is disputed.
        moves: numbers of the moves, where they happened.
    """

    columns: tuple[Column, ...]
    outline: str
    broken: str
    moves: tuple[Mark, ...]
    across: tuple[Mark, ...]
    up: tuple[Mark, ...]
    left: float = LEFT
    right: float = WIDTH - RIGHT
    top: float = TOP
    bottom: float = HEIGHT - BOTTOM
    width: float = WIDTH
    height: float = HEIGHT


def time_plot(before: State, states: Sequence[State], until: date) -> TimePlot:
    """Draw what was before the first move, and the state after each, up to a day."""
    scale = _Scale(states[0].on, max(until, states[-1].on))
    columns = []
    edges: dict[bool, str] = {False: "", True: ""}
    last = _edge(before)
    for left, right, one in _stretches(scale, before, states):
        columns.append(_column(left, right, one))
        edge = _edge(one)
        rise = f"M{left} {last}V{edge}" if edge != last else f"M{left} {edge}"
        edges[one.disputed] += f"{rise}H{right}"
        last = edge
    return TimePlot(
        columns=tuple(columns),
        outline=edges[False],
        broken=edges[True],
        moves=tuple(_numbers([scale.at(one.on) for one in states])),
        across=tuple(_ticks(scale)),
        up=tuple(
            Mark(f"{part} %", round(TOP + _HIGH * (1 - part / 100), 1)) for part in (0, 50, 100)
        ),
    )


@dataclass(frozen=True)
class _Scale:
    first: date
    last: date

    @property
    def days(self) -> int:
        return max(1, (self.last - self.first).days)

    def at(self, day: date) -> float:
        """Where a day lies."""
        room = WIDTH - LEFT - RIGHT - _BEFORE
        return round(LEFT + _BEFORE + room * (day - self.first).days / self.days, 1)


def _stretches(
    scale: _Scale, before: State, states: Sequence[State]
) -> Iterator[tuple[float, float, State]]:
    """From where to where each state lasted; of several on one day the last."""
    yield LEFT, scale.at(scale.first), before
    end = WIDTH - RIGHT
    for place, one in enumerate(states):
        left = scale.at(one.on)
        right = scale.at(states[place + 1].on) if place + 1 < len(states) else end
        if right > left:
            yield left, right, one


def _heights(one: State) -> tuple[float, float]:
    """Heights of the solid and of the hatched part."""
    chances = (one.two, max(0.0, 1 - one.two - one.none), one.none)
    # A sum of floats that misses 1 by a rounding error makes nothing possible.
    least = [_LEAST if chance > 1e-12 else 0.0 for chance in chances]
    room = _HIGH - sum(least)
    solid, hatched, _ = (low + room * chance for low, chance in zip(least, chances, strict=True))
    return round(solid, 1), round(hatched, 1)


def _edge(one: State) -> float:
    return round(TOP + _HIGH - sum(_heights(one)), 1)


def _column(left: float, right: float, one: State) -> Column:
    solid, hatched = _heights(one)
    floor = TOP + _HIGH
    return Column(
        left=left,
        width=round(right - left, 1),
        solid=round(floor - solid, 1),
        solid_height=solid,
        hatching=_hatching(left, floor - solid - hatched, right, floor - solid),
        disputed=one.disputed,
    )


def _hatching(left: float, top: float, right: float, bottom: float) -> str:
    """Lines rising to the right at 45 degrees, on one grid for all columns."""
    lines = []
    begin = left + top
    total = begin - begin % _HATCH + _HATCH
    while total < right + bottom:
        x, end = max(left, total - bottom), min(right, total - top)
        if end - x > 0.1:
            lines.append(f"M{x:.5g} {total - x:.5g}L{end:.5g} {total - end:.5g}")
        total += _HATCH
    return "".join(lines)


def _numbers(places: Sequence[float]) -> Iterator[Mark]:
    """The numbers of the moves; those that would lie on each other as "2–4"."""
    first, begin, end = 1, places[0], places[0]
    for number, at in enumerate([*places[1:], WIDTH * 2], start=2):
        if at - end < _NEAR:
            end = at
            continue
        text = str(first) if first == number - 1 else f"{first}–{number - 1}"
        yield Mark(text, round((begin + end) / 2, 1))
        first, begin, end = number, at, at


def _ticks(scale: _Scale) -> Iterator[Mark]:
    """Years, or where there is but one, the first day and the last."""
    years = [date(year, 1, 1) for year in range(scale.first.year + 1, scale.last.year + 1)]
    if len(years) >= 2:
        last = -_TICK
        for year in years:
            if scale.at(year) - last >= _TICK:
                last = scale.at(year)
                yield Mark(str(year.year), last)
        return
    yield Mark(date_format(scale.first, "j M Y"), scale.at(scale.first), "start")
    if scale.last > scale.first:
        yield Mark(date_format(scale.last, "j M Y"), WIDTH - RIGHT, "end")
