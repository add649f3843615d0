"""Shares with their intervals, as numbers to draw: by groups, and said against came true."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from keeper.domain.figures.rates import Share
from keeper.domain.figures.record import Band
from keeper.pages.frame.plot import Mark

# Drawn at about the size of a phone, so that its text is never smaller than the page's.
WIDTH = 340.0
LEFT, RIGHT, TOP, BOTTOM = 112.0, 18.0, 8.0, 30.0
_LINE = 26.0
_MOST = 40
_NAME = 15
SIDE, EDGE = 300.0, 44.0


@dataclass(frozen=True)
class Bar:
    """A group's share: where it lies, and from where to where its interval goes."""

    name: str
    at: float
    share: float
    low: float
    high: float


@dataclass(frozen=True)
class Bars:
    """Groups below one another, shares from 0 to 100 %."""

    bars: tuple[Bar, ...]
    across: tuple[Mark, ...]
    height: float
    bottom: float
    more: int
    left: float = LEFT
    top: float = TOP
    width: float = WIDTH


@dataclass(frozen=True)
class Spot:
    """A band: its mean chance across, the share that came true up, with its interval."""

    x: float
    y: float
    low: float
    high: float
    radius: float


@dataclass(frozen=True)
class Calibration:
    """What was said across, what came true up; on the line between they are the same."""

    spots: tuple[Spot, ...]
    across: tuple[Mark, ...]
    up: tuple[Mark, ...]
    left: float = EDGE
    top: float = TOP
    right: float = EDGE + SIDE - TOP
    bottom: float = SIDE
    width: float = EDGE + SIDE + RIGHT
    height: float = SIDE + EDGE


def bars(groups: Sequence[tuple[str, Share]]) -> Bars | None:
    """Return the drawing of groups that have anything; None of fewer than two."""
    having = [(name, one, one.interval) for name, one in groups if one.whole]
    if len(having) < 2:
        return None
    drawn = tuple(
        Bar(
            name if len(name) <= _NAME else f"{name[: _NAME - 1]}…",
            TOP + _LINE * (place + 0.5),
            _across(one.part / one.whole),
            _across(between[0]),
            _across(between[1]),
        )
        for place, (name, one, between) in enumerate(having[:_MOST])
        if between is not None
    )
    bottom = TOP + _LINE * len(drawn)
    marks = tuple(Mark(f"{part} %", _across(part / 100)) for part in (0, 50, 100))
    return Bars(drawn, marks, bottom + BOTTOM, bottom, max(0, len(having) - _MOST))


def calibration(bands: Sequence[Band]) -> Calibration | None:
    """Return the drawing of bands in which anything was said; None where nothing was."""
    spots = tuple(
        Spot(_right(one.mean), _up(one.share), _up(low), _up(high), _radius(one.said))
        for one in bands
        if one.said and (interval := one.interval) is not None
        for low, high in (interval,)
    )
    if not spots:
        return None
    marks = [part / 100 for part in (0, 25, 50, 75, 100)]
    return Calibration(
        spots,
        tuple(Mark(f"{part:.0%}".replace("%", " %"), _right(part)) for part in marks),
        tuple(Mark(f"{part:.0%}".replace("%", " %"), _up(part)) for part in marks),
    )


def _across(share: float) -> float:
    return round(LEFT + (WIDTH - LEFT - RIGHT) * share, 1)


def _right(share: float) -> float:
    return round(EDGE + (SIDE - TOP) * share, 1)


def _up(share: float) -> float:
    return round(SIDE - (SIDE - TOP) * share, 1)


def _radius(said: int) -> float:
    """A larger dot for more, so that one hatchling does not look like a hundred."""
    return round(min(9.0, 3.0 + sqrt(said) / 4), 1)
