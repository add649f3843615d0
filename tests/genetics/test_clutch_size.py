"""Chances of at least one, and clutch sizes against SciPy and against full sums."""

import math
from fractions import Fraction as F
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from genetics.clutch_size import (
    ClutchSize,
    FixedClutch,
    NegativeBinomialClutch,
    PoissonClutch,
    as_written,
    at_least_one,
    at_least_one_in_clutches,
    clutches_needed,
    eggs_needed,
    per_clutch,
)
from tests.genetics.published import published

TWO_POSSIBLE_CARRIERS = [(F(4, 9), F(1, 4)), (F(5, 9), F(0))]


# ---- at least one, eggs needed ---------------------------------------------------------------


@pytest.mark.parametrize("p", ["1/4", "1/8", "3/16", "1/16", "1/64"])
def test_eggs_needed_gives_the_published_numbers_to_recover_a_genotype(p: str) -> None:
    # Sedcole 1977, Crop Sci 17: 667-668 (method; the values are derived from it).
    wanted = published("T8.recover")[f"p={p}"]
    found = {level: eggs_needed([(1, F(p))], F(level) / 100) for level in wanted}
    assert found == wanted


@pytest.mark.parametrize(
    ("row", "q"),
    [
        ("mate_aa", F(1, 2)),
        ("mate_Aa", F(3, 4)),
        ("daughters_of_tested_sire", F(7, 8)),
        ("normal_sibs_of_affected_2/3", F(5, 6)),
    ],
)
def test_eggs_needed_gives_the_strict_table_of_test_matings(row: str, q: F) -> None:
    # Classical animal-breeding tables (Lasley; Van Vleck et al. 1987; Bourdon 2000; Nicholas),
    # taken strictly: text books print 16 and NDSU Genetics notes 10 where it takes 17 and 11.
    wanted = published("T8.table")[row]
    assert float(q) == wanted["q"]
    found = {level: eggs_needed([(1, 1 - q)], F(level) / 100) for level in ("95", "99", "99.9")}
    assert found == {level: wanted[level] for level in found}


@pytest.mark.parametrize(
    ("name", "p", "n", "digits"),
    [
        ("aa_5", F(1, 2), 5, 7),
        ("aa_7", F(1, 2), 7, 7),
        ("Aa_10", F(1, 4), 10, 7),
        ("Aa_11", F(1, 4), 11, 7),
        ("Aa_16", F(1, 4), 16, 7),
        ("Aa_17", F(1, 4), 17, 7),
        ("daughters_23", F(1, 8), 23, 4),
        ("daughters_35", F(1, 8), 35, 4),
    ],
)
def test_at_least_one_gives_the_published_detection(name: str, p: F, n: int, digits: int) -> None:
    # Same tables as above; the file prints seven or four decimals.
    wanted = published("T8.table")["P_detect"][name]
    assert round(float(at_least_one([(1, p)], n)), digits) == wanted


def test_eggs_needed_never_rounds_in_favour_of_the_breeder() -> None:
    sixteen = at_least_one([(1, F(1, 4))], 16)
    assert sixteen == 1 - F(3, 4) ** 16
    assert round(float(sixteen), 5) == 0.98998
    assert eggs_needed([(1, F(1, 4))], F(99, 100)) == 17
    assert eggs_needed([(1, F(1, 4))], sixteen) == 16


def test_at_least_one_of_a_sixteenth_is_far_from_certain_in_sixteen_eggs() -> None:
    # Trap: "one in sixteen" is not to be expected from sixteen eggs.
    assert round(float(at_least_one([(1, F(1, 16))], 16)), 3) == 0.644
    assert at_least_one([(1, F(1, 16))], 16) == 1 - F(15, 16) ** 16


def test_at_least_one_keeps_uncertain_parents_together() -> None:
    # Two animals, each a carrier with chance 2/3 (common practice, no source: "66 % het").
    assert at_least_one(TWO_POSSIBLE_CARRIERS, 1) == F(1, 9)
    eight = at_least_one(TWO_POSSIBLE_CARRIERS, 8)
    assert eight == F(4, 9) * (1 - F(3, 4) ** 8)
    assert round(float(eight), 2) == 0.40
    assert round(float(1 - F(8, 9) ** 8), 2) == 0.61


def test_eggs_needed_is_none_above_what_uncertain_parents_can_ever_give() -> None:
    assert eggs_needed(TWO_POSSIBLE_CARRIERS, F(44, 100)) == 17
    assert eggs_needed(TWO_POSSIBLE_CARRIERS, F(4, 9)) is None
    assert eggs_needed(TWO_POSSIBLE_CARRIERS, F(1, 2)) is None


def test_eggs_needed_knows_the_ends_of_its_range() -> None:
    assert eggs_needed([(1, F(1, 4))], 0) == 0
    assert eggs_needed([(1, 1)], 1) == 1
    assert eggs_needed([(F(1, 2), 1), (F(1, 2), 0)], F(1, 2)) == 1
    assert eggs_needed([(F(1, 2), 1), (F(1, 2), 0)], F(3, 5)) is None
    assert eggs_needed([(1, 0.5)], 1) is None


def test_eggs_needed_decides_ties_exactly() -> None:
    assert eggs_needed([(1, F(9, 10))], F(99, 100)) == 2
    assert eggs_needed([(1, F(9, 10))], 0.99) == 2
    assert eggs_needed([(1, F(9, 10))], F(99, 100) + F(1, 10**30)) == 3
    assert eggs_needed([(1, F(1, 10))], 1 - F(9, 10) ** 200) == 200


chance_lists = st.lists(
    st.tuples(st.integers(1, 6), st.fractions(0, 1, max_denominator=12)), min_size=1, max_size=4
).map(lambda rows: [(F(w, sum(v for v, _ in rows)), p) for w, p in rows])


@settings(max_examples=60, deadline=None)
@given(chance_lists, st.fractions(0, F(999, 1000), max_denominator=1000))
def test_eggs_needed_is_the_smallest_number_that_reaches(
    chances: list[tuple[F, F]], confidence: F
) -> None:
    needed = eggs_needed(chances, confidence)
    if needed is None:
        possible = sum(w for w, p in chances if p > 0)
        certain = sum(w for w, p in chances if p == 1)
        assert possible < confidence or (certain < possible == confidence)
        return
    assert at_least_one(chances, needed) >= confidence
    assert needed == 0 or at_least_one(chances, needed - 1) < confidence


@settings(max_examples=60, deadline=None)
@given(chance_lists, st.integers(0, 40))
def test_at_least_one_in_floats_follows_the_exact_one(chances: list[tuple[F, F]], n: int) -> None:
    rough = at_least_one([(float(w), float(p)) for w, p in chances], n)
    assert isinstance(rough, float)
    assert math.isclose(rough, at_least_one(chances, n), rel_tol=1e-12, abs_tol=1e-15)


@pytest.mark.parametrize(
    ("chances", "message"),
    [
        ([(1, F(3, 2))], "chance: 3/2 is not accepted; expected a number from 0 to 1"),
        ([(1, math.nan)], "chance: nan is not accepted; expected a number from 0 to 1"),
        ([(F(1, 2), F(1, 4))], "weights sum to 1/2, not 1"),
        ([(2, F(1, 4))], "weight: 2 is not accepted; expected a number from 0 to 1"),
        ([], "weights sum to 0, not 1"),
    ],
)
def test_at_least_one_refuses_what_is_no_distribution(chances: Any, message: str) -> None:
    with pytest.raises(ValueError) as fault:
        at_least_one(chances, 3)
    assert str(fault.value) == message


def test_eggs_needed_refuses_a_confidence_beyond_one() -> None:
    with pytest.raises(ValueError) as fault:
        eggs_needed([(1, F(1, 4))], 99)
    assert str(fault.value) == "confidence: 99 is not accepted; expected a number from 0 to 1"


def test_at_least_one_refuses_a_negative_number_of_eggs() -> None:
    with pytest.raises(ValueError) as fault:
        at_least_one([(1, F(1, 4))], -1)
    assert str(fault.value) == "n: -1 is not accepted; expected a whole number of 0 or more"


def test_as_written_reads_decimals() -> None:
    assert as_written(0.1) == F(1, 10)
    assert as_written(F(1, 3)) == F(1, 3)
    assert as_written(1e-3) == F(1, 1000)


# ---- clutch sizes ----------------------------------------------------------------------------

# Mean 8 eggs: common practice, no source.  Hatch rate 0.81: Morrill et al. 2011, Python regius.
SIZES = [
    (FixedClutch(8, 0.81), stats.binom(8, 0.81)),
    (PoissonClutch(8, 0.81), stats.poisson(8 * 0.81)),
    # SciPy counts failures before k successes: its p is k / (k + m).
    (NegativeBinomialClutch(8, 2.5, 0.81), stats.nbinom(2.5, 2.5 / (2.5 + 8 * 0.81))),
    (NegativeBinomialClutch(8, 3, F(81, 100)), stats.nbinom(3, 3 / (3 + 8 * 0.81))),
]
names = pytest.mark.parametrize(
    ("size", "reference"), SIZES, ids=["fixed", "poisson", "negbin", "negbin exact"]
)


@names
def test_clutch_size_probabilities_are_those_of_scipy(size: ClutchSize, reference: Any) -> None:
    for n, wanted in enumerate(reference.pmf(np.arange(60))):
        assert math.isclose(size.pmf(n), wanted, rel_tol=1e-11, abs_tol=1e-300)
    assert size.pmf(-1) == 0
    assert math.isclose(size.hatchlings, reference.mean(), rel_tol=1e-12)


@names
@pytest.mark.parametrize("s", [0, F(1, 4), F(3, 4), 0.9, 1])
def test_clutch_size_generating_function_is_the_sum_over_sizes(
    size: ClutchSize, reference: Any, s: float
) -> None:
    sizes = np.arange(1500)
    summed = float((reference.pmf(sizes) * float(s) ** sizes).sum())
    assert math.isclose(size.pgf(s), summed, rel_tol=1e-10)


@names
def test_clutch_sizes_of_two_clutches_are_their_convolution(
    size: ClutchSize, reference: Any
) -> None:
    both = size.times(2)
    for n in range(30):
        summed = float(
            (reference.pmf(np.arange(n + 1)) * reference.pmf(n - np.arange(n + 1))).sum()
        )
        assert math.isclose(both.pmf(n), summed, rel_tol=1e-10, abs_tol=1e-15)
    assert size.times(0).pmf(0) == 1


@pytest.mark.parametrize(
    ("whole", "hatched"),
    [
        (FixedClutch(9), FixedClutch(9, F(2, 3))),
        (PoissonClutch(6), PoissonClutch(6, F(2, 3))),
        (NegativeBinomialClutch(6, 2), NegativeBinomialClutch(6, 2, F(2, 3))),
    ],
)
def test_clutch_size_hatch_rate_thins_egg_by_egg(whole: ClutchSize, hatched: ClutchSize) -> None:
    eggs = np.arange(200)
    laid = np.array([float(whole.pmf(int(n))) for n in eggs])
    for n in range(8):
        summed = float((laid * stats.binom.pmf(n, eggs, 2 / 3)).sum())
        assert math.isclose(hatched.pmf(n), summed, rel_tol=1e-9)


def test_clutch_size_is_exact_for_rational_numbers() -> None:
    half = FixedClutch(3, F(1, 2))
    assert [half.pmf(n) for n in range(5)] == [F(1, 8), F(3, 8), F(3, 8), F(1, 8), 0]
    assert half.pgf(F(1, 3)) == F(8, 27)
    assert NegativeBinomialClutch(2, 2).pgf(F(1, 2)) == F(4, 9)
    assert NegativeBinomialClutch(2, 2).pmf(1) == F(1, 4)


def test_negative_binomial_clutch_has_the_stated_variance() -> None:
    size = NegativeBinomialClutch(F(6), F(3))
    mean = sum(n * float(size.pmf(n)) for n in range(600))
    square = sum(n * n * float(size.pmf(n)) for n in range(600))
    assert math.isclose(mean, 6, rel_tol=1e-12)
    assert math.isclose(square - mean**2, 6 + 36 / 3, rel_tol=1e-10)


@names
def test_at_least_one_in_a_clutch_averages_over_its_sizes(size: ClutchSize, reference: Any) -> None:
    chances = [(F(4, 9), F(1, 4)), (F(1, 9), F(1, 2)), (F(4, 9), F(0))]
    given_size = np.array([float(at_least_one(chances, n)) for n in range(200)])
    summed = float((reference.pmf(np.arange(200)) * given_size).sum())
    assert math.isclose(at_least_one_in_clutches(chances, size), summed, rel_tol=1e-10)
    two = size.times(2)
    summed = sum(float(two.pmf(n)) * given_size[n] for n in range(200))
    assert math.isclose(at_least_one_in_clutches(chances, size, 2), summed, rel_tol=1e-10)


def test_at_least_one_in_a_clutch_is_less_the_more_sizes_vary() -> None:
    chances = [(1, F(1, 16))]
    fixed, poisson, wide = (
        at_least_one_in_clutches(chances, size)
        for size in (FixedClutch(8), PoissonClutch(8), NegativeBinomialClutch(8, 2))
    )
    assert fixed == 1 - F(15, 16) ** 8
    assert fixed > poisson > wide
    assert math.isclose(poisson, 1 - math.exp(-0.5))
    assert wide == 1 - F(16, 25)


def test_clutches_needed_is_the_smallest_number_of_clutches() -> None:
    chances, size = [(F(4, 9), F(1, 4)), (F(5, 9), F(0))], PoissonClutch(8, F(81, 100))
    needed = clutches_needed(chances, size, F(2, 5))
    assert needed == 2
    assert at_least_one_in_clutches(chances, size, 1) < F(2, 5)
    assert at_least_one_in_clutches(chances, size, 2) >= F(2, 5)
    assert clutches_needed(chances, size, F(1, 2)) is None


def test_clutches_needed_of_one_egg_each_are_eggs() -> None:
    chances = [(1, F(1, 4))]
    assert per_clutch(chances, FixedClutch(1)) == chances
    assert clutches_needed(chances, FixedClutch(1), F(99, 100)) == 17
    assert clutches_needed(chances, FixedClutch(0), F(99, 100)) is None


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (
            lambda: FixedClutch(-1),
            "eggs: -1 is not accepted; expected a whole number of 0 or more",
        ),
        (
            lambda: PoissonClutch(math.inf),
            "mean: inf is not accepted; expected a number of 0 or more",
        ),
        (
            lambda: NegativeBinomialClutch(8, 0),
            "dispersion: 0 is not accepted; expected above 0",
        ),
        (
            lambda: PoissonClutch(8, F(5, 4)),
            "hatch_rate: 5/4 is not accepted; expected a number from 0 to 1",
        ),
        (
            lambda: FixedClutch(8).times(-2),
            "clutches: -2 is not accepted; expected a whole number of 0 or more",
        ),
    ],
)
def test_clutch_size_refuses_what_cannot_be(make: Any, message: str) -> None:
    with pytest.raises(ValueError) as fault:
        make()
    assert str(fault.value) == message
