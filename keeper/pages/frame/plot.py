"""Plots: marks at their axes, and the chance of at least one against hatchlings, to draw."""

from collections.abc import Sequence
from dataclasses import dataclass

# Drawn at about the size of a phone, so that its text is never smaller than the page's.
WIDTH, HEIGHT = 340.0, 230.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 22.0, 12.0, 40.0
_GAP = 15.0
_SURE = 0.95


@dataclass(frozen=True)
class Curve:
    """One look's curve, named by a letter at its right end."""

    letter: str
    name: str
    path: str
    end: float
    label: float


@dataclass(frozen=True)
class Mark:
    """Words at a place of an axis; `end` is the end of the words that lies there."""

    text: str
    at: float
    end: str = "middle"


@dataclass(frozen=True)
class Plot:
    """All that the drawing needs, in a frame of WIDTH by HEIGHT."""

    curves: list[Curve]
    across: list[Mark]
    up: list[Mark]
    sure: float
    left: float = LEFT
    right: float = WIDTH - RIGHT
    top: float = TOP
    bottom: float = HEIGHT - BOTTOM
    width: float = WIDTH
    height: float = HEIGHT

    @property
    def middle(self) -> float:
        """The middle of the axis of hatchlings."""
        return (self.left + self.right) / 2


def plot(curves: Sequence[tuple[str, dict[int, float]]], most: int) -> Plot:
    """Return curves (name, number of hatchlings → chance of at least one) up to `most`."""
    ends = [_y(chances[most]) for _, chances in curves]
    labels = _apart(ends)
    drawn = [
        Curve(letter(place), name, _path(chances, most), ends[place], labels[place])
        for place, (name, chances) in enumerate(curves)
    ]
    return Plot(
        curves=drawn,
        across=[Mark(str(one), _x(one, most)) for one in _ticks(most)],
        up=[Mark(f"{part} %", _y(part / 100)) for part in (0, 25, 50, 75, 100)],
        sure=_y(_SURE),
    )


def letter(place: int) -> str:
    """Return the letter of the curve at a place."""
    return "abcdefghijkl"[place]


def _ticks(most: int) -> list[int]:
    """Both ends, and the doublings between for which there is room."""
    kept = [1, most]
    for one in (16, 8, 32, 4, 2):
        if one < most and all(abs(_x(one, most) - _x(other, most)) >= _GAP + 5 for other in kept):
            kept.append(one)
    return sorted(kept)


def _x(number: int, most: int) -> float:
    return round(LEFT + (WIDTH - LEFT - RIGHT) * (number - 1) / (most - 1), 1)


def _y(chance: float) -> float:
    return round(TOP + (HEIGHT - TOP - BOTTOM) * (1 - chance), 1)


def _path(chances: dict[int, float], most: int) -> str:
    points = (f"{_x(one, most)} {_y(chances[one])}" for one in range(1, most + 1))
    return "M" + "L".join(points)


def _apart(ends: Sequence[float]) -> list[float]:
    """Move labels that would lie on each other, from the top down, then back into the frame."""
    order = sorted(range(len(ends)), key=lambda place: ends[place])
    found = dict.fromkeys(order, 0.0)
    above = TOP - _GAP
    for place in order:
        found[place] = above = max(ends[place], above + _GAP)
    below = HEIGHT - BOTTOM + _GAP
    for place in reversed(order):
        found[place] = below = min(found[place], below - _GAP)
    return [found[place] for place in range(len(ends))]
