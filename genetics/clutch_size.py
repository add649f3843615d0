"""At least one of what is wanted: how many eggs, how many clutches, with parents uncertain.

Chances are given as pairs (weight, p): with that weight the parents are such that every egg is
a success with chance p, eggs independent of one another given the parents.  One egg's average
chance is not enough, since eggs of one couple share their parents.

Rational input (`Fraction` or `int`) gives rational answers; whether a confidence is reached is
then decided without rounding.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Protocol, Self

from genetics.population import Number

Chances = Sequence[tuple[Number, Number]]

_NEAR = 1e-9
"""Relative distance within which a comparison in floating point is repeated exactly."""

_WEIGHT_TOLERANCE = 1e-9


class ClutchSize(Protocol):
    """A distribution of the number of hatchlings in one clutch."""

    def pmf(self, n: int) -> Number:
        """Chance of exactly n hatchlings."""
        ...

    def pgf(self, s: Number) -> Number:
        """Probability generating function G(s) = E[s^N]."""
        ...

    @property
    def hatchlings(self) -> Number:
        """Mean number of hatchlings."""
        ...

    def times(self, clutches: int) -> Self:
        """The distribution of all hatchlings of so many independent clutches."""
        ...


@dataclass(frozen=True, slots=True)
class FixedClutch:
    """Always `eggs` eggs, of which each hatches with chance `hatch_rate`: binomial.

    G(s) = (1 - h + h s)^eggs; rational in, rational out.

    Raises:
        ValueError: eggs not a whole number of 0 or more, hatch rate not from 0 to 1.

    >>> FixedClutch(2, hatch_rate=Fraction(1, 2)).pmf(1)
    Fraction(1, 2)
    """

    eggs: int
    hatch_rate: Number = 1

    def __post_init__(self) -> None:
        _check_whole("eggs", self.eggs)
        _check_chance("hatch_rate", self.hatch_rate)

    def pmf(self, n: int) -> Number:
        """Chance of exactly n hatchlings."""
        if not 0 <= n <= self.eggs:
            return Fraction(0)
        h = _number(self.hatch_rate)
        ways = math.comb(self.eggs, n)
        if isinstance(h, Fraction):
            return ways * h**n * (1 - h) ** (self.eggs - n)
        # The number of ways may exceed every float where the product does not.
        return math.exp(math.log(ways) + _power_log(h, n) + _power_log(1 - h, self.eggs - n))

    def pgf(self, s: Number) -> Number:
        """Probability generating function G(s) = E[s^N]."""
        h = _number(self.hatch_rate)
        return _power(1 - h + h * _number(s), self.eggs)

    @property
    def hatchlings(self) -> Number:
        """Mean number of hatchlings."""
        return self.eggs * _number(self.hatch_rate)

    def times(self, clutches: int) -> Self:
        """The distribution of all hatchlings of so many independent clutches."""
        _check_whole("clutches", clutches)
        return replace(self, eggs=self.eggs * clutches)


@dataclass(frozen=True, slots=True)
class PoissonClutch:
    """A Poisson number of eggs, each hatching with chance `hatch_rate`: Poisson(h mean).

    G(s) = exp(h mean (s - 1)).

    Raises:
        ValueError: mean negative or not finite, hatch rate not from 0 to 1.

    >>> round(PoissonClutch(8, hatch_rate=Fraction(3, 4)).pmf(6), 6)
    0.160623
    """

    mean: Number
    hatch_rate: Number = 1

    def __post_init__(self) -> None:
        _check_size("mean", self.mean)
        _check_chance("hatch_rate", self.hatch_rate)

    def pmf(self, n: int) -> Number:
        """Chance of exactly n hatchlings."""
        if n < 0:
            return 0.0
        rate = float(self.hatchlings)
        return math.exp(_power_log(rate, n) - rate - math.lgamma(n + 1))

    def pgf(self, s: Number) -> Number:
        """Probability generating function G(s) = E[s^N]."""
        return math.exp(float(self.hatchlings * (_number(s) - 1)))

    @property
    def hatchlings(self) -> Number:
        """Mean number of hatchlings."""
        return _number(self.mean) * _number(self.hatch_rate)

    def times(self, clutches: int) -> Self:
        """The distribution of all hatchlings of so many independent clutches."""
        _check_whole("clutches", clutches)
        return replace(self, mean=self.mean * clutches)


@dataclass(frozen=True, slots=True)
class NegativeBinomialClutch:
    """A number of eggs of variance mean + mean²/dispersion, each hatching with `hatch_rate`.

    With k the dispersion and m = h mean: G(s) = (1 + m (1 - s)/k)^-k.  Thinning keeps k.  A
    small k spreads the sizes; k → ∞ is Poisson.  Rational in and a whole k, rational out.

    Raises:
        ValueError: mean negative or not finite, dispersion not above 0, hatch rate not 0 to 1.

    >>> NegativeBinomialClutch(2, 1).pmf(0)
    Fraction(1, 3)
    """

    mean: Number
    dispersion: Number
    hatch_rate: Number = 1

    def __post_init__(self) -> None:
        _check_size("mean", self.mean)
        _check_size("dispersion", self.dispersion)
        if not self.dispersion > 0:
            raise ValueError(f"dispersion: {self.dispersion} is not accepted; expected above 0")
        _check_chance("hatch_rate", self.hatch_rate)

    def pmf(self, n: int) -> Number:
        """Chance of exactly n hatchlings."""
        if n < 0:
            return 0.0
        k, m = _number(self.dispersion), self.hatchlings
        stays: Number = k / (k + m)
        goes: Number = m / (k + m)
        if isinstance(stays, Fraction) and isinstance(k, Fraction) and k.denominator == 1:
            return math.comb(n + int(k) - 1, n) * stays ** int(k) * goes**n
        size = float(k)
        ways = math.lgamma(size + n) - math.lgamma(size) - math.lgamma(n + 1)
        return math.exp(ways - size * math.log1p(float(m / k)) + _power_log(float(goes), n))

    def pgf(self, s: Number) -> Number:
        """Probability generating function G(s) = E[s^N]."""
        k = _number(self.dispersion)
        base: Number = 1 + self.hatchlings * (1 - _number(s)) / k
        if isinstance(base, Fraction) and isinstance(k, Fraction) and k.denominator == 1:
            return 1 / base ** int(k)
        return math.exp(-float(k) * math.log1p(float(base - 1)))

    @property
    def hatchlings(self) -> Number:
        """Mean number of hatchlings."""
        return _number(self.mean) * _number(self.hatch_rate)

    def times(self, clutches: int) -> Self:
        """The distribution of all hatchlings of so many independent clutches."""
        _check_whole("clutches", clutches)
        if clutches == 0:
            return replace(self, mean=Fraction(0))
        return replace(self, mean=self.mean * clutches, dispersion=self.dispersion * clutches)


def at_least_one(chances: Chances, n: int) -> Number:
    """Chance of at least one success in n eggs: the average of 1 - (1 - p)^n.

    Raises:
        ValueError: n is negative, a chance is not from 0 to 1, the weights do not sum to 1.

    Two parents, each a carrier with chance 2/3, and a recessive trait (not 1 - (8/9)^8):

    >>> at_least_one([(Fraction(4, 9), Fraction(1, 4)), (Fraction(5, 9), 0)], 1)
    Fraction(1, 9)
    >>> round(float(at_least_one([(Fraction(4, 9), Fraction(1, 4)), (Fraction(5, 9), 0)], 8)), 3)
    0.4
    """
    _check_whole("n", n)
    found: Number = Fraction(0)
    for weight, p in _checked(chances):
        found = found + weight * _hit(p, n)
    return found


def eggs_needed(chances: Chances, confidence: Number) -> int | None:
    """Smallest number of eggs whose chance of at least one success reaches the confidence.

    Strict: never rounded in the breeder's favour, so 99 % at p = 1/4 takes 17 eggs, since 16
    give 98.998 %.  `None` where no number does: the chance never exceeds the total weight of
    parents that can give a success at all.  A confidence in floating point is read as it is
    written in decimals (0.99 as 99/100).

    Raises:
        ValueError: the confidence or a chance is not from 0 to 1, the weights do not sum to 1.

    >>> [eggs_needed([(1, Fraction(1, 16))], c) for c in (0.5, 0.95, 0.99)]
    [11, 47, 72]
    >>> eggs_needed([(Fraction(4, 9), Fraction(1, 4)), (Fraction(5, 9), 0)], 0.95) is None
    True
    """
    _check_chance("confidence", confidence)
    rows = _checked(chances)
    if confidence == 0:
        return 0
    # Misses that stay however many eggs there are leave less room for those that fade.
    never = sum((w for w, p in rows if p == 0), start=Fraction(0))
    allowed = 1 - as_written(confidence) - never
    fading = [(w, p) for w, p in rows if 0 < p < 1 and w > 0]
    if allowed < 0 or (fading and allowed <= 0):
        return None
    if not fading:
        return 1
    high = 1
    while not _faded(fading, high, allowed):
        high *= 2
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        if _faded(fading, middle, allowed):
            high = middle
        else:
            low = middle
    return high


def per_clutch(chances: Chances, size: ClutchSize) -> list[tuple[Number, Number]]:
    """The same parents with the chance of at least one success in a clutch: 1 - G(1 - p).

    Clutches of one couple are independent given the parents, so that `at_least_one` and
    `eggs_needed` count clutches when given the result.

    Raises:
        ValueError: a chance is not from 0 to 1, the weights do not sum to 1.

    >>> per_clutch([(1, Fraction(1, 4))], FixedClutch(2, hatch_rate=Fraction(1, 2)))
    [(Fraction(1, 1), Fraction(15, 64))]
    """
    # Rounding may leave 1 - G a hair below 0 where p is 0 or nearly so.
    return [(w, max(Fraction(0), 1 - size.pgf(1 - p))) for w, p in _checked(chances)]


def at_least_one_in_clutches(chances: Chances, size: ClutchSize, clutches: int = 1) -> Number:
    """Chance of at least one success in so many clutches: the average of 1 - G(1 - p)^clutches.

    Raises:
        ValueError: clutches is negative, a chance is not from 0 to 1, weights do not sum to 1.
    """
    return at_least_one(per_clutch(chances, size), clutches)


def clutches_needed(chances: Chances, size: ClutchSize, confidence: Number) -> int | None:
    """Smallest number of clutches that reaches the confidence, strictly; see `eggs_needed`.

    Raises:
        ValueError: the confidence or a chance is not from 0 to 1, the weights do not sum to 1.

    >>> clutches_needed([(1, Fraction(1, 16))], FixedClutch(8, hatch_rate=Fraction(3, 4)), 0.95)
    8
    """
    return eggs_needed(per_clutch(chances, size), confidence)


def as_written(value: Number) -> Fraction:
    """A number as it is written in decimals: 0.99 is 99/100, not the float nearest to it.

    >>> as_written(0.99)
    Fraction(99, 100)
    """
    return Fraction(repr(float(value))) if isinstance(value, float) else Fraction(value)


def _faded(fading: Chances, n: int, allowed: Number) -> bool:
    """Whether the misses of n eggs, the sum of w (1 - p)^n, are at most those allowed."""
    about = sum(float(w) * math.exp(n * _log_miss(p)) for w, p in fading)
    bound = float(allowed)
    if abs(about - bound) > _NEAR * bound:
        return about < bound
    return sum((w * _power(1 - p, n) for w, p in fading), start=Fraction(0)) <= allowed


def _hit(p: Number, n: int) -> Number:
    if isinstance(p, Fraction):
        return 1 - (1 - p) ** n
    if n == 0 or p == 1:
        return float(n > 0)
    return -math.expm1(n * math.log1p(-p))


def _log_miss(p: Number) -> float:
    """log(1 - p) for 0 < p < 1, precise at both ends."""
    return math.log1p(-float(p)) if p < Fraction(1, 2) else math.log(float(1 - p) or 5e-324)


def _power(base: Number, n: int) -> Number:
    return base**n


def _power_log(base: Number, n: int) -> float:
    """log(base^n), with 0^0 = 1."""
    if n == 0:
        return 0.0
    return n * math.log(base) if base > 0 else -math.inf


def _number(value: Number) -> Number:
    """Whole numbers as fractions, so that division stays exact."""
    return Fraction(value) if isinstance(value, int) else value


def _checked(chances: Chances) -> list[tuple[Number, Number]]:
    for weight, p in chances:
        # Weights of a posterior in floating point may exceed 1 by a rounding error.
        _check_chance("weight", min(weight, 1) if weight <= 1 + _WEIGHT_TOLERANCE else weight)
        _check_chance("chance", p)
    rows = [(_number(weight), _number(p)) for weight, p in chances]
    total = sum((weight for weight, _ in rows), start=Fraction(0))
    off = total != 1 if isinstance(total, Fraction) else abs(total - 1) > _WEIGHT_TOLERANCE
    if off:
        raise ValueError(f"weights sum to {total}, not 1")
    return rows


def _check_chance(name: str, value: Number) -> None:
    # The comparison is false for NaN.
    if isinstance(value, bool) or not 0 <= value <= 1:
        raise ValueError(f"{name}: {value} is not accepted; expected a number from 0 to 1")


def _check_size(name: str, value: Number) -> None:
    if isinstance(value, bool) or not 0 <= value < math.inf:
        raise ValueError(f"{name}: {value} is not accepted; expected a number of 0 or more")


def _check_whole(name: str, value: int) -> None:
    if type(value) is not int or value < 0:
        raise ValueError(f"{name}: {value} is not accepted; expected a whole number of 0 or more")
