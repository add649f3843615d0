"""Chances by season or number, as a curve to draw: plain numbers in the units of the drawing."""

from collections.abc import Sequence
from dataclasses import dataclass

WIDTH, HEIGHT = 480.0, 240.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, 12.0, 12.0, 30.0
BAR = 1.959963984540054
"""Half width of a 95 % band, in standard errors."""


@dataclass(frozen=True)
class Tick:
    """A mark on an axis, with its words."""

    at: float
    words: str


@dataclass(frozen=True)
class Line:
    """One curve: the points of its line, of its band (empty where it is exact), and its name."""

    name: str
    line: str
    band: str
    dots: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Curve:
    """Everything that is drawn."""

    lines: tuple[Line, ...]
    across: tuple[Tick, ...]
    up: tuple[Tick, ...]
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    bottom: float = HEIGHT - BOTTOM
    right: float = WIDTH - RIGHT


def curve(
    labels: Sequence[str], series: Sequence[tuple[str, Sequence[float], Sequence[float]]]
) -> Curve:
    """Lay out curves of chances (name, chances, standard errors) over the same labels."""
    count = len(labels)
    places = [
        LEFT + (WIDTH - LEFT - RIGHT) * ((n + 0.5) / count if count else 0.5) for n in range(count)
    ]
    every = max(1, -(-count // 8))
    return Curve(
        lines=tuple(_line(name, places, chances, errors) for name, chances, errors in series),
        across=tuple(
            Tick(round(at, 1), words)
            for n, (at, words) in enumerate(zip(places, labels, strict=True))
            if n % every == 0
        ),
        up=tuple(Tick(round(_height(share), 1), f"{share:.0%}".replace("%", " %"))
                 for share in (0.0, 0.5, 1.0)),
    )  # fmt: skip


def _line(
    name: str, places: Sequence[float], chances: Sequence[float], errors: Sequence[float]
) -> Line:
    dots = tuple(
        (round(at, 1), round(_height(p), 1)) for at, p in zip(places, chances, strict=True)
    )
    band = ""
    if any(errors):
        low = [_height(max(0.0, p - BAR * e)) for p, e in zip(chances, errors, strict=True)]
        high = [_height(min(1.0, p + BAR * e)) for p, e in zip(chances, errors, strict=True)]
        around = [*zip(places, high, strict=True), *reversed([*zip(places, low, strict=True)])]
        band = " ".join(f"{x:.1f},{y:.1f}" for x, y in around)
    return Line(name, " ".join(f"{x},{y}" for x, y in dots), band, dots)


def _height(chance: float) -> float:
    return TOP + (HEIGHT - TOP - BOTTOM) * (1.0 - chance)
