"""Inbreeding by the year of hatching, as numbers to draw: the mean as a line, the highest above."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from keeper.domain.diversity.seasons import Year
from keeper.pages.frame.plot import Mark

# Drawn at about the size of a phone, so that its text is never smaller than the page's.
WIDTH, HEIGHT = 340.0, 200.0
LEFT, RIGHT, TOP, BOTTOM = 60.0, 18.0, 14.0, 32.0
# Years need this much room to be written beside each other.
_TICK = 46.0
# Tops of the axis; the first that holds all is taken.
_TOPS = (0.0625, 0.125, 0.25, 0.5, 1.0)
_PARTS = 2


@dataclass(frozen=True)
class Point:
    """A year: where its mean lies, and the highest of its clutches."""

    at: float
    mean: float
    highest: float


@dataclass(frozen=True)
class YearPlot:
    """All that the drawing needs, in a frame of WIDTH by HEIGHT."""

    points: tuple[Point, ...]
    path: str
    across: tuple[Mark, ...]
    up: tuple[Mark, ...]
    left: float = LEFT
    right: float = WIDTH - RIGHT
    bottom: float = HEIGHT - BOTTOM
    width: float = WIDTH
    height: float = HEIGHT


def year_plot(years: Sequence[Year]) -> YearPlot | None:
    """Return the drawing; None of fewer than two years."""
    if len(years) < 2:
        return None
    most = max(one.highest for one in years)
    top = next(one for one in _TOPS if most <= one + 1e-9)
    first, last = years[0].year, years[-1].year

    def across(year: int) -> float:
        return round(LEFT + (WIDTH - LEFT - RIGHT) * (year - first) / (last - first), 1)

    def up(value: float) -> float:
        return round(TOP + (HEIGHT - TOP - BOTTOM) * (1 - value / top), 1)

    points = tuple(Point(across(one.year), up(one.mean), up(one.highest)) for one in years)
    step = ceil((last - first) * _TICK / (WIDTH - LEFT - RIGHT))
    return YearPlot(
        points=points,
        path="M" + "L".join(f"{one.at} {one.mean}" for one in points),
        across=tuple(Mark(str(year), across(year)) for year in range(first, last + 1, step)),
        up=tuple(
            Mark(f"{top * part / _PARTS:.5f}".rstrip("0").rstrip("."), up(top * part / _PARTS))
            for part in range(_PARTS + 1)
        ),
    )
