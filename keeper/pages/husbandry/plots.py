"""Growth and feeding as numbers to draw; the same figures stand in a table beside each."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import ceil

from django.utils.formats import date_format

from keeper.domain.husbandry.queries import Week
from keeper.models import Weight
from keeper.pages.frame.plot import Mark

# Drawn at about the size of a phone, so that its text is never smaller than the page's.
WIDTH, HEIGHT = 340.0, 200.0
LEFT, RIGHT, TOP, BOTTOM = 56.0, 18.0, 14.0, 32.0
_LOW = HEIGHT - BOTTOM
_HIGH = _LOW - TOP
# Tops of the axis are these times a power of ten; the first that holds all is taken.
_STEPS = (1, 2, 5, 10)


@dataclass(frozen=True)
class Growth:
    """Weights over time: a dot each, and the line through them."""

    dots: tuple[tuple[float, float], ...]
    path: str
    across: tuple[Mark, ...]
    up: tuple[Mark, ...]
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    right: float = WIDTH - RIGHT
    bottom: float = _LOW


@dataclass(frozen=True)
class Bar:
    """One week: its meals taken from the floor up, refused above them, others on top."""

    left: float
    width: float
    taken: float
    refused: float
    other: float
    refused_from: float
    other_from: float


@dataclass(frozen=True)
class Feeding:
    """Meals by the week."""

    bars: tuple[Bar, ...]
    across: tuple[Mark, ...]
    up: tuple[Mark, ...]
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    right: float = WIDTH - RIGHT
    bottom: float = _LOW


def growth(weights: Sequence[Weight]) -> Growth | None:
    """Draw weights, the oldest first; nothing of fewer than two days."""
    if len(weights) < 2 or weights[0].on == weights[-1].on:
        return None
    top = _top(max(one.grams for one in weights))
    first, last = weights[0].on, weights[-1].on
    room = WIDTH - LEFT - RIGHT

    def point(one: Weight) -> tuple[float, float]:
        at = LEFT + room * (one.on - first).days / (last - first).days
        return round(at, 1), round(_LOW - _HIGH * float(one.grams) / top, 1)

    dots = tuple(map(point, weights))
    return Growth(
        dots=dots,
        path="M" + "L".join(f"{x} {y}" for x, y in dots),
        across=(
            Mark(date_format(first, "j M Y"), LEFT, "start"),
            Mark(date_format(last, "j M Y"), WIDTH - RIGHT, "end"),
        ),
        up=tuple(_marks(top, " g")),
    )


def feeding(weeks: Sequence[Week]) -> Feeding | None:
    """Draw meals by the week, the oldest first; nothing where there were none."""
    if not any(one.offered for one in weeks):
        return None
    top = _top(max(one.offered for one in weeks))
    step = (WIDTH - LEFT - RIGHT) / len(weeks)

    def high(number: int) -> float:
        return round(_HIGH * number / top, 1)

    bars = []
    for place, one in enumerate(weeks):
        taken, refused, other = high(one.taken), high(one.refused), high(one.other)
        bars.append(
            Bar(
                left=round(LEFT + place * step + step * 0.15, 1),
                width=round(step * 0.7, 1),
                taken=taken,
                refused=refused,
                other=other,
                refused_from=round(_LOW - taken - refused, 1),
                other_from=round(_LOW - taken - refused - other, 1),
            )
        )
    return Feeding(
        bars=tuple(bars),
        across=(
            Mark(date_format(weeks[0].monday, "j M Y"), LEFT, "start"),
            Mark(date_format(weeks[-1].monday, "j M Y"), WIDTH - RIGHT, "end"),
        ),
        up=tuple(_marks(top, "")),
    )


def _top(most: Decimal | int) -> int:
    power = 1
    while power * 10 < most:
        power *= 10
    return next(power * step for step in _STEPS if power * step >= most)


def _marks(top: int, unit: str) -> list[Mark]:
    parts = 2 if top % 2 == 0 else 1
    return [
        Mark(f"{ceil(top * part / parts)}{unit}", round(_LOW - _HIGH * part / parts, 1))
        for part in range(parts + 1)
    ]
