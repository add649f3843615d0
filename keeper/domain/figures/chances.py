"""Whether counts are as expected: an exact test, chi-squared where it holds, and Holm's correction.

The exact test counts every outcome of so many hatchlings that is no likelier than what was seen
(the multinomial test; of two looks the binomial). Where parents may be of several kinds, the chance
of an outcome is the average over the kinds: eggs of one clutch have the same parents.

Pearson's chi-squared (Phil. Mag. 50, 1900, quoted from memory) is near it only where every expected
number is large; the custom of five (Cochran, Biometrics 10, 1954, quoted from memory) is kept
strictly here, and the parents must be of one kind for certain.

Of m tests shown together, Holm (Scand. J. Statist. 6, 1979, quoted from memory) multiplies the
smallest p by m, the next by m - 1 and so on, so that the chance of any false alarm among them stays
below the level.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

    Numbers = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

# Weight of a kind of parents, and the chance of each look by it; the chances sum to 1.
Kind = tuple[float, Sequence[float]]

# Outcomes times kinds that are counted one by one; above it the rarest looks are taken together.
MOST_COUNTED = 40_000
LEAST_EXPECTED = 5.0
# Outcomes whose chances differ by less are equally likely.
_SAME = 1e-9


@dataclass(frozen=True)
class Tested:
    """What a test tells of some counts.

    Attributes:
        p: the chance of what was seen and of all that was no likelier; None: not tested.
        chi_squared, freedom: Pearson's, where its conditions hold; else None and 0.
        exact: whether p counts every outcome; else it is that of chi-squared.
        together: how many of the rarest looks were taken together so that all could be counted.
    """

    p: float | None
    chi_squared: float | None = None
    freedom: int = 0
    exact: bool = True
    together: int = 0


def compare(counts: Sequence[int], kinds: Sequence[Kind]) -> Tested:
    """Test counts of looks against what kinds of parents give.

    Args:
        counts: how many hatchlings had each look.
        kinds: weights that sum to 1, each with the chance of every look in the order of `counts`.
    """
    number = sum(counts)
    if not number or len(counts) < 2:
        return Tested(None)
    squared = _squared(counts, kinds)
    found, freedom = squared or (None, 0)
    if found is not None and _outcomes_of(number, len(counts)) > MOST_COUNTED:
        from scipy.special import chdtrc

        return Tested(float(chdtrc(freedom, found)), found, freedom, exact=False)
    groups, together = _countable(number, kinds)
    taken = [sum(counts[one] for one in group) for group in groups]
    told = [(w, [sum(chances[one] for one in group) for group in groups]) for w, chances in kinds]
    return Tested(exact_p(taken, told), found, freedom, together=together)


def exact_p(counts: Sequence[int], kinds: Sequence[Kind]) -> float:
    """Return the chance of these counts and of all that are no likelier.

    >>> round(exact_p([0, 8], [(1.0, [0.25, 0.75])]), 4)
    0.2139
    """
    import numpy as np

    outcomes = _outcomes(sum(counts), len(counts))
    chances = _chances(outcomes, kinds)
    seen = float(_chances(np.array([counts]), kinds)[0])
    return min(1.0, float(chances[chances <= seen * (1 + _SAME)].sum()))


def holm(ps: Sequence[float | None]) -> list[float | None]:
    """Return p-values corrected for how many are shown; None stays None and counts for none.

    >>> holm([0.01, None, 0.04, 0.03])
    [0.03, None, 0.06, 0.06]
    """
    order = sorted((p, place) for place, p in enumerate(ps) if p is not None)
    found: list[float | None] = [None] * len(ps)
    so_far = 0.0
    for turn, (p, place) in enumerate(order):
        so_far = max(so_far, min(1.0, p * (len(order) - turn)))
        found[place] = so_far
    return found


def _squared(counts: Sequence[int], kinds: Sequence[Kind]) -> tuple[float, int] | None:
    """Pearson's chi-squared with its degrees of freedom; None where its conditions do not hold."""
    if len(kinds) != 1:
        return None
    number = sum(counts)
    expected = [number * chance for chance in kinds[0][1]]
    if min(expected) < LEAST_EXPECTED:
        return None
    squared = sum((seen - mean) ** 2 / mean for seen, mean in zip(counts, expected, strict=True))
    return squared, len(counts) - 1


def _countable(number: int, kinds: Sequence[Kind]) -> tuple[list[list[int]], int]:
    """Take the least expected looks together until every outcome can be counted.

    Which they are is told by what was expected alone, so the test stays exact.
    """
    looks = len(kinds[0][1])
    mean = [sum(w * chances[one] for w, chances in kinds) for one in range(looks)]
    order = sorted(range(looks), key=lambda one: -mean[one])
    kept = looks
    while kept > 2 and _outcomes_of(number, kept) * len(kinds) > MOST_COUNTED:
        kept -= 1
    groups = [[one] for one in order[: kept - 1]] + [order[kept - 1 :]]
    return groups, looks - kept + 1 if kept < looks else 0


def _outcomes_of(number: int, looks: int) -> int:
    return comb(number + looks - 1, looks - 1)


def _outcomes(number: int, looks: int) -> "Numbers":
    """Every way to share a number of hatchlings among looks, a row each."""
    import numpy as np

    if looks == 1:
        return np.array([[float(number)]])
    if looks == 2:
        first = np.arange(number + 1, dtype=float)
        return np.column_stack([first, number - first])
    parts = []
    for one in range(number + 1):
        rest = _outcomes(number - one, looks - 1)
        parts.append(np.column_stack([np.full(len(rest), float(one)), rest]))
    return np.concatenate(parts)


def _chances(outcomes: "Numbers", kinds: Sequence[Kind]) -> "Numbers":
    """The chance of each outcome, averaged over the kinds."""
    import numpy as np
    from scipy.special import gammaln, xlogy

    ways = gammaln(outcomes.sum(axis=1) + 1) - gammaln(outcomes + 1).sum(axis=1)
    found = np.zeros(len(outcomes))
    for weight, chances in kinds:
        found += weight * np.exp(ways + xlogy(outcomes, np.array(chances)).sum(axis=1))
    return found
