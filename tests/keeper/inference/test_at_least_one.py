"""At least one of a clutch's eggs: the exact average over what the parents may be."""

from fractions import Fraction

import numpy as np
import pytest

from keeper.domain.inference.questions import kinds
from keeper.domain.inference.questions.kinds import at_least_one


def exact(weights: list[Fraction], chances: list[Fraction], eggs: int) -> Fraction:
    return sum(
        (w * (1 - (1 - p) ** eggs) for w, p in zip(weights, chances, strict=True)), Fraction(0)
    )


WEIGHTS = [Fraction(1, 2), Fraction(1, 3), Fraction(1, 6)]


@pytest.mark.parametrize("at_once", [1, 7, 1_000_000], ids=lambda most: f"at most {most} at once")
@pytest.mark.parametrize(
    "chances",
    [
        [Fraction(0), Fraction(1, 4), Fraction(1)],
        [Fraction(1, 10**12), Fraction(0), Fraction(0)],  # small, and no digit of it is lost
        [Fraction(0)] * 3,
    ],
    ids=str,
)
def test_every_number_of_eggs_is_exact(
    chances: list[Fraction], at_once: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(kinds, "_AT_ONCE", at_once)
    eggs = (60, 0, 1, 2, 8, 1)
    found = at_least_one(np.array(WEIGHTS, float), np.array(chances, float), eggs)
    assert found == {
        n: pytest.approx(float(exact(WEIGHTS, chances, n)), rel=1e-14, abs=0) for n in eggs
    }


def test_certain_is_what_every_kind_gives_and_nothing_else() -> None:
    weights = np.array(WEIGHTS, float)
    assert at_least_one(weights, np.ones(3), (0, 1, 60)) == {0: 0.0, 1: 1.0, 60: 1.0}
    # So near one that rounding alone would make it certain.
    found = at_least_one(weights, np.array([1.0, 1.0, 0.9999999]), (60,))
    assert 1 - 1e-15 < found[60] < 1
