"""How a probability is said: rounded down, and certain only where nothing else is possible."""

from math import floor

from keeper.models import (
    Standing,
)


def percent(chance: float, *, certain: bool | None = None) -> str:
    """Return a chance in words of whole percents, rounded down (honesty rule 1).

    `certain` tells whether nothing else is possible; where it is not said, only exactly 1 is
    certain. "100 %" and "0 %" stand for certainty alone.
    """
    if chance <= 0:
        return "0 %"
    if certain or (certain is None and chance >= 1):
        return "100 %"
    # A sum of floats may lie a hair below the whole percent that it means: 0.29 × 100 is
    # 28.999999999999996. What is lifted here is far below any figure's own meaning.
    whole = min(99, floor(chance * 100 + 1e-9))
    return f"{whole} %" if whole else "under 1 %"


def carrier_percent(standing: Standing) -> str:
    """Return the chance that the animal carries the trait or line."""
    return percent(standing.two + standing.one, certain=standing.none == 0)


def one_in(chance: float) -> str:
    """Return a chance above 0 as "1 in 500", rounded down; the thousands are set apart."""
    # A quotient of floats may lie a hair below the whole number that it means.
    return f"1 in {floor(1 / chance + 1e-9):,}".replace(",", "\N{NO-BREAK SPACE}")
