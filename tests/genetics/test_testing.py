"""Test breeding: published posteriors and tables, full sums, and the engine's own posterior."""

import math
from collections import defaultdict
from fractions import Fraction as F
from itertools import pairwise, product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from genetics.clutch_size import FixedClutch, NegativeBinomialClutch, PoissonClutch, at_least_one
from genetics.errors import MalformedCase
from genetics.population import (
    Animal,
    Clutch,
    Couple,
    Interval,
    Linkage,
    Locus,
    Population,
    SameLocus,
    Sighting,
    TallyLine,
    Trait,
    Viability,
)
from genetics.solving import solve
from genetics.testing import (
    Mating,
    Row,
    Settled,
    against_carrier,
    against_many,
    against_pair,
    against_possible_carrier,
    against_visual,
    matings,
    rank_mates,
)
from tests.genetics.published import published

PRIOR = F(2, 3)


# ---- posteriors ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("column", "make"), [("mate_Aa", against_carrier), ("mate_aa", against_visual)]
)
def test_posterior_gives_the_table_of_a_two_thirds_carrier(column: str, make: Any) -> None:
    # Derived from Mendel's segregation law.
    numbers = published("M1.update")
    for n, wanted in zip(numbers["n"], numbers[column], strict=True):
        assert math.isclose(make(PRIOR).posterior(n), wanted, rel_tol=1e-6)


def test_posterior_gives_the_exact_chances_of_a_healthy_sib() -> None:
    # Derived: prior 2/3, factor (3/4)^k.
    wanted = published("B2.sib_kids")["k_0_to_7"]
    assert [str(p) for p in against_carrier(PRIOR).posteriors(7)] == wanted


def test_posterior_follows_the_odds_of_an_x_linked_consultand() -> None:
    # Ogino and Wilson 2004, J Mol Diagn 6: 1-9, Fig. 1A: sons of a possible carrier, r = 1/2.
    wanted = published("B2.kennedy")["k_sons_0_to_6"]
    assert [str(p) for p in against_visual(F(1, 2)).posteriors(6)] == wanted


def test_clean_gives_fishers_share_of_plants_that_are_misclassed() -> None:
    # Fisher 1936, Annals of Science 1: 115-137: ten offspring of a selfed carrier.  A selfed
    # plant is its own mate: it carries or it does not, and so does the mate.
    numbers = published("M1.fisher")
    selfed = against_pair({(True, True): PRIOR, (False, False): 1 - PRIOR})
    carrier = against_pair({(True, True): 1})
    assert carrier.clean(10) == F(*numbers["p_misclass"])
    assert round(float(selfed.clean(10)), 10) == numbers["p_classed_homozygous"]
    assert round(float(1 - selfed.clean(10)), 10) == numbers["p_classed_heterozygous"]
    expected = [round(float(600 * p), 10) for p in (selfed.clean(10), 1 - selfed.clean(10))]
    assert expected == numbers["expected_of_600"]


def test_mendels_counts_fit_the_wrong_ratio_better_than_the_right_one() -> None:
    # Trap: 201:399 (Mendel 1866) against 1:2, and against the chances of ten scored offspring.
    observed = published("M1.F3")["six_expts_3_to_7_with_repeat"]
    homozygous = float(against_carrier(PRIOR).clean(10))
    naive = stats.chisquare(observed, [200, 400]).statistic
    right = stats.chisquare(observed, [600 * homozygous, 600 * (1 - homozygous)]).statistic
    assert naive < 0.01
    assert right > 3.2


def test_posterior_of_clean_offspring_never_reaches_zero() -> None:
    for make in (against_visual, against_carrier):
        ladder = make(F(1, 2)).posteriors(300)
        assert all(p > 0 for p in ladder)
        assert all(later < earlier for earlier, later in pairwise(ladder))


def test_posterior_of_impossible_clean_offspring_is_refused() -> None:
    certain = Mating((Row(F(1), True, F(1)),))
    with pytest.raises(ValueError) as fault:
        certain.posterior(1)
    assert str(fault.value) == "1 clean offspring are impossible from this pair"


def test_posterior_of_a_negative_number_of_offspring_is_refused() -> None:
    with pytest.raises(ValueError) as fault:
        against_visual(F(1, 2)).posterior(-1)
    assert str(fault.value) == "-1 offspring are not accepted; expected 0 or more"


# ---- eggs needed -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "mating"),
    [
        ("mate_aa", against_visual(F(1, 2))),
        ("mate_Aa", against_carrier(F(1, 2))),
        ("daughters_of_tested_sire", against_many(F(1, 2), F(1, 2))),
        ("normal_sibs_of_affected_2/3", against_many(F(1, 2), F(2, 3))),
    ],
)
def test_eggs_to_detect_gives_the_strict_table(row: str, mating: Mating) -> None:
    # Classical animal-breeding tables (Lasley; Van Vleck et al. 1987; Bourdon 2000; Nicholas),
    # strictly: where books print 16 (99 %) and notes print 10 (95 %), 17 and 11 are needed.
    wanted = published("T8.table")[row]
    found = {level: mating.eggs_to_detect(F(level) / 100) for level in ("95", "99", "99.9")}
    assert found == {level: wanted[level] for level in found}


def test_eggs_to_detect_does_not_depend_on_the_prior() -> None:
    for prior in (F(1, 100), F(2, 3), 1):
        assert against_carrier(prior).eggs_to_detect(F(99, 100)) == 17
        assert against_visual(prior).eggs_to_detect(F(99, 100)) == 7
    assert against_carrier(0).eggs_to_detect(F(99, 100)) is None


def test_eggs_to_detect_from_a_possible_carrier_has_a_limit() -> None:
    mating = against_possible_carrier(F(1, 2), F(2, 3))
    assert mating.eggs_to_detect(F(66, 100)) == 17
    assert mating.eggs_to_detect(F(2, 3)) is None
    assert mating.eggs_to_detect(0.95) is None


def test_eggs_to_detect_grows_with_weak_penetrance() -> None:
    # Trap: with a quarter of the homozygotes showing, the factor is 15/16, not 3/4.
    weak = against_carrier(F(1, 2), penetrance=F(1, 4))
    assert weak.eggs_to_detect(F(95, 100)) == 47
    assert weak.posterior(17) == F(15, 16) ** 17 / (1 + F(15, 16) ** 17)
    assert weak.posterior(17) > F(1, 4) > against_carrier(F(1, 2)).posterior(17)


@pytest.mark.parametrize("threshold", [0.05, F(1, 100), F(1, 1000)])
@pytest.mark.parametrize(
    "mating",
    [
        against_visual(PRIOR),
        against_carrier(PRIOR),
        against_many(F(1, 3), F(1, 2)),
        against_carrier(0.66, penetrance=0.8),
    ],
)
def test_eggs_to_exclude_is_the_first_clean_number_below(mating: Mating, threshold: Any) -> None:
    needed = mating.eggs_to_exclude(threshold)
    assert needed is not None and needed > 0
    assert mating.posterior(needed) <= threshold < mating.posterior(needed - 1)


def test_eggs_to_exclude_knows_the_ends_of_its_range() -> None:
    assert against_carrier(F(1, 100)).eggs_to_exclude(F(1, 100)) == 0
    assert against_carrier(0).eggs_to_exclude(0) == 0
    assert against_carrier(1).eggs_to_exclude(F(1, 2)) is None
    assert against_carrier(F(1, 2)).eggs_to_exclude(0) is None
    assert against_carrier(1).eggs_to_exclude(1) == 0
    assert against_carrier(F(1, 2)).eggs_to_exclude(F(1, 4)) == 4


def test_eggs_to_exclude_is_none_where_a_doubtful_mate_leaves_a_rest() -> None:
    mating = against_possible_carrier(F(1, 2), F(1, 2))
    # Clean for ever: the mate does not carry (1/4 of the pairs), or neither suspect (1/2).
    assert mating.posterior(400) > F(1, 3)
    assert mating.eggs_to_exclude(F(1, 3)) is None
    assert mating.eggs_to_exclude(F(34, 100)) == 13


# ---- pairs -----------------------------------------------------------------------------------


def test_two_possible_carriers_give_a_visual_from_a_ninth_of_eggs() -> None:
    mating = against_possible_carrier(PRIOR, PRIOR)
    assert 1 - mating.clean(1) == F(1, 9)
    assert at_least_one(mating.chances(), 8) == 1 - mating.clean(8)
    assert round(float(1 - mating.clean(8)), 2) == 0.40


def test_against_pair_keeps_what_the_two_have_in_common() -> None:
    # Two sibs that may both have a carrier parent's allele: more often both than by chance.
    apart = against_possible_carrier(F(1, 2), F(1, 2))
    together = against_pair({(True, True): F(1, 2), (False, False): F(1, 2)})
    assert apart.prior == together.prior == F(1, 2)
    assert together.posterior(4) == against_carrier(F(1, 2)).posterior(4)
    assert apart.posterior(4) == (F(81, 1024) + F(1, 4)) / (F(81, 1024) + F(3, 4))


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (
            lambda: against_visual(F(3, 2)),
            "prior: 3/2 is not accepted; expected a number from 0 to 1",
        ),
        (
            lambda: against_carrier(F(1, 2), penetrance=2),
            "penetrance: 2 is not accepted; expected a number from 0 to 1",
        ),
        (lambda: against_pair({(True, True): F(1, 2)}), "weights sum to 1/2, not 1"),
        (
            lambda: Mating((Row(F(1), False, F(1, 4)),)),
            "an offspring of a non-carrier shows the trait with chance 1/4; expected 0, or such "
            "an offspring would prove nothing",
        ),
    ],
)
def test_mating_refuses_what_cannot_be(make: Any, message: str) -> None:
    with pytest.raises(ValueError) as fault:
        make()
    assert str(fault.value) == message


# ---- a season --------------------------------------------------------------------------------


def test_settled_of_a_fixed_clutch_is_all_or_only_the_proof() -> None:
    mating = against_visual(F(1, 2))
    assert mating.settled(FixedClutch(7), 0.01) == Settled(F(127, 256), F(129, 256))
    assert mating.settled(FixedClutch(7), 0.01).chance == 1
    assert mating.settled(FixedClutch(6), 0.01) == Settled(F(63, 128), F(0))
    assert mating.settled(FixedClutch(4), 0.01, clutches=2).chance == 1


@pytest.mark.parametrize(
    "mating",
    [against_visual(PRIOR), against_carrier(F(1, 3)), against_possible_carrier(F(1, 3), F(9, 10))],
    ids=["visual", "carrier", "possible carrier"],
)
@pytest.mark.parametrize(
    "size",
    [FixedClutch(9, F(81, 100)), PoissonClutch(8, 0.81), NegativeBinomialClutch(8, 3, F(81, 100))],
    ids=["fixed", "poisson", "negbin"],
)
def test_settled_is_the_sum_over_all_sizes_and_states(mating: Mating, size: Any) -> None:
    threshold, proven, excluded = 0.05, 0.0, 0.0
    for n in range(150):
        for weight, _, r in mating.rows:
            clean = float(1 - r) ** n
            proven += float(size.pmf(n) * weight) * (1 - clean)
            if mating.posterior(n) <= threshold:
                excluded += float(size.pmf(n) * weight) * clean
    found = mating.settled(size, threshold)
    assert math.isclose(found.proven, proven, rel_tol=1e-9)
    assert math.isclose(found.excluded, excluded, rel_tol=1e-9, abs_tol=1e-12)


# ---- information -----------------------------------------------------------------------------


@pytest.mark.parametrize("eggs", [1, 2, 5])
@pytest.mark.parametrize(
    "mating",
    [
        against_visual(F(1, 2)),
        against_carrier(PRIOR, penetrance=F(1, 2)),
        against_possible_carrier(F(1, 3), F(2, 3)),
    ],
    ids=["visual", "weak", "possible carrier"],
)
def test_information_is_the_mutual_information_with_every_outcome(
    mating: Mating, eggs: int
) -> None:
    joint: dict[tuple[bool, Any], float] = defaultdict(float)
    for outcome in product((True, False), repeat=eggs):
        for weight, carrier, r in mating.rows:
            chance = math.prod(float(r) if shows else float(1 - r) for shows in outcome)
            joint[carrier, outcome] += float(weight) * chance
    outcomes = {outcome for _, outcome in joint}
    status = stats.entropy(
        [sum(p for (c, _), p in joint.items() if c is x) for x in (True, False)], base=2
    )
    looks = stats.entropy([sum(joint[c, o] for c in (True, False)) for o in outcomes], base=2)
    both = stats.entropy(list(joint.values()), base=2)
    assert math.isclose(mating.information(eggs), status + looks - both, rel_tol=1e-9)
    assert mating.information_per_egg(eggs) == mating.information(eggs) / eggs


def test_information_is_nothing_where_nothing_is_open() -> None:
    assert against_visual(1).information(3) == 0
    assert against_visual(0).information(3) == 0
    assert against_possible_carrier(F(1, 2), 0).information(3) == 0
    assert against_visual(F(1, 2)).information(0) == 0


@settings(max_examples=60, deadline=None)
@given(
    st.fractions(F(1, 50), F(49, 50), max_denominator=50),
    st.fractions(F(1, 10), 1, max_denominator=10),
    st.integers(1, 12),
)
def test_information_falls_per_egg_and_never_passes_the_doubt(p: F, seen: F, eggs: int) -> None:
    mating = against_visual(p, penetrance=seen)
    doubt = float(stats.entropy([float(p), 1 - float(p)], base=2))
    assert mating.information(eggs) <= mating.information(eggs + 1) + 1e-12
    assert mating.information_per_egg(eggs) >= mating.information_per_egg(eggs + 1) - 1e-12
    assert mating.information(eggs) <= doubt + 1e-12


def test_information_per_egg_of_no_egg_is_refused() -> None:
    with pytest.raises(ValueError) as fault:
        against_visual(F(1, 2)).information_per_egg(0)
    assert str(fault.value) == "offspring: 0 is not accepted; expected 1 or more"


# ---- ranking ---------------------------------------------------------------------------------


def test_rank_mates_puts_the_surest_season_first() -> None:
    pairs = {
        "carrier": against_carrier(F(1, 2)),
        "likely": against_possible_carrier(F(1, 2), F(2, 3)),
        "visual": against_visual(F(1, 2)),
        "plain": against_possible_carrier(F(1, 2), 0),
    }
    reports = rank_mates(pairs, FixedClutch(8), confidence=0.99, threshold=0.01)
    assert [report.mate for report in reports] == ["visual", "carrier", "likely", "plain"]
    assert [report.to_detect for report in reports] == [7, 17, None, None]
    assert [report.to_exclude for report in reports] == [7, 16, None, None]
    assert reports[0].settled.chance == 1
    assert reports[1].settled == Settled((1 - F(3, 4) ** 8) / 2, F(0))
    assert reports[2].settled == Settled((1 - F(3, 4) ** 8) / 3, F(0))
    assert reports[3].settled.chance == 0
    assert reports[0].information == pairs["visual"].information_per_egg(8)
    assert reports[3].information == 0


def test_rank_mates_breaks_ties_by_name() -> None:
    pairs = {name: against_carrier(F(1, 2)) for name in ("Pelnaw", "Dunsk", "Harvesk")}
    reports = rank_mates(pairs, PoissonClutch(8), confidence=0.95, threshold=0.05, clutches=2)
    assert [report.mate for report in reports] == ["Dunsk", "Harvesk", "Pelnaw"]


# ---- from a solved population ----------------------------------------------------------------

CLEAN = {"Saltgrass": Sighting(False)}
HALF_CARRIER = {"sg": {"+/+": F(1, 2), "+/s": F(1, 2)}}


def _book(*, clean: int = 0, linked: bool = False, **changes: Any) -> Population:
    """A carrier dam's clutch without visuals holds the suspect; four mates; a clean clutch."""
    loci = (Locus("sg", ("+", "s")), Locus("qw", ("+", "q")))
    tally = (TallyLine(clean, shows=CLEAN),) if clean else ()
    return Population(
        loci,
        (
            Animal("mother", "female", founder={"sg": {"+/s": 1}}),
            Animal("father", "male", founder={"sg": {"+/s": 1}}),
            Animal("suspect", "male", dam="mother", sire="father", shows=CLEAN),
            Animal("sister", "female", dam="mother", sire="father", shows=CLEAN),
            Animal("visual", "female", founder={"sg": {"s/s": 1}}),
            Animal("carrier", "female", founder={"sg": {"+/s": 1}}),
            Animal("maybe", "female", founder=HALF_CARRIER),
            Animal("unsexed", founder=HALF_CARRIER),
        ),
        clutches=(Clutch("test", (Couple("visual", "suspect"),), tally=tally),),
        traits=(Trait("Saltgrass", recessive_at=("sg",)),),
        linkage=((Linkage(("sg", "qw"), (Interval(F(1, 5), F(1, 5)),)),) if linked else ()),
        **changes,
    )


@pytest.mark.parametrize("linked", [False, True])
def test_matings_of_a_posterior_agree_with_the_exact_ones(linked: bool) -> None:
    solved = solve(_book(linked=linked))
    found = matings(solved, "suspect", ["visual", "carrier", "maybe", "sister"], "sg")
    wanted = {
        "visual": against_visual(PRIOR),
        "carrier": against_carrier(PRIOR),
        "maybe": against_possible_carrier(PRIOR, F(1, 2)),
        "sister": against_possible_carrier(PRIOR, PRIOR),
    }
    for mate, mating in wanted.items():
        for n in range(20):
            assert math.isclose(found[mate].posterior(n), mating.posterior(n), rel_tol=1e-12)
        assert found[mate].eggs_to_detect(0.99) == mating.eggs_to_detect(0.99)
        assert found[mate].eggs_to_exclude(0.02) == mating.eggs_to_exclude(0.02)


def test_matings_predict_what_the_engine_finds_after_the_clutch() -> None:
    mating = matings(solve(_book()), "suspect", ["visual"], "sg")["visual"]
    for clean in (1, 3, 8):
        after = solve(_book(clean=clean)).posterior("suspect", "sg")
        assert math.isclose(mating.posterior(clean), after["+/s"], rel_tol=1e-12)


def test_matings_of_uncertain_relatives_are_joint() -> None:
    """Half-sibs through one possible carrier: the chance of a visual is not a product."""
    population = Population(
        (Locus("sg", ("+", "s")),),
        (
            Animal("source", "male", founder=HALF_CARRIER),
            Animal("one", "female"),
            Animal("two", "female"),
            Animal("suspect", "male", dam="one", sire="source"),
            Animal("mate", "female", dam="two", sire="source"),
        ),
    )
    mating = matings(solve(population), "suspect", ["mate"], "sg")["mate"]
    assert math.isclose(mating.prior, 1 / 4, rel_tol=1e-12)
    assert math.isclose(1 - mating.clean(1), 1 / 32, rel_tol=1e-12)


def test_matings_count_the_survival_of_offspring() -> None:
    population = _book(viability=(Viability("sg", "s/s", F(1, 2)),))
    mating = matings(solve(population), "suspect", ["carrier"], "sg")["carrier"]
    # One in 1 + 2 + 1/2 parts of the living, of which a half: (1/2)/(7/2).
    assert {round(row.chance, 12) for row in mating.rows} == {0.0, round(1 / 7, 12)}


def test_matings_take_lines_that_may_be_one_locus_together() -> None:
    population = Population(
        (Locus("sg", ("+", "s")), Locus("qw", ("+", "q"))),
        (
            Animal(
                "suspect",
                "male",
                founder={"sg": {"+/+": 1}, "qw": {"+/+": F(1, 3), "+/q": F(2, 3)}},
            ),
            Animal("visual", "female", founder={"sg": {"s/s": 1}, "qw": {"+/+": 1}}),
        ),
        traits=(Trait("Saltgrass", recessive_at=("sg", "qw")),),
        same_locus=(SameLocus(("sg", "qw"), F(1, 4)),),
    )
    mating = matings(solve(population), "suspect", ["visual"], "sg")["visual"]
    # Only where the lines are one does the suspect carry an allele of the locus: 1/4 × 2/3.
    assert math.isclose(mating.prior, 1 / 6, rel_tol=1e-12)
    assert math.isclose(1 - mating.clean(1), 1 / 12, rel_tol=1e-12)


def test_matings_at_a_sex_chromosome_count_the_sons_that_show() -> None:
    population = Population(
        (Locus("xl", ("+", "x"), "X"),),
        (
            Animal("plain", "male", founder={"xl": {"+/Y": 1}}),
            Animal("suspect", "female", founder={"xl": {"+/+": F(1, 2), "+/x": F(1, 2)}}),
            Animal("shows", "male", founder={"xl": {"x/Y": 1}}),
        ),
        sex_determination="XY",
    )
    found = matings(solve(population), "suspect", ["plain", "shows"], "xl", keys=["x/x", "x/Y"])
    # Sons alone, or sons and daughters: a quarter or half of all hatchlings of a carrier.
    assert found["plain"].eggs_to_detect(0.99) == 17
    assert found["shows"].eggs_to_detect(0.99) == 7
    assert math.isclose(found["plain"].posterior(2), 9 / 25, rel_tol=1e-12)


def test_matings_refuse_a_sign_that_a_clear_animal_would_give() -> None:
    with pytest.raises(ValueError) as fault:
        matings(solve(_book()), "suspect", ["visual"], "sg", keys=["+/s", "s/s"])
    assert str(fault.value) == (
        "an offspring of a non-carrier shows the trait with chance 1.0; expected 0, or such an "
        "offspring would prove nothing"
    )


def test_matings_refuse_a_pair_of_unknown_or_equal_sex() -> None:
    with pytest.raises(ValueError) as fault:
        matings(solve(_book()), "suspect", ["unsexed"], "sg")
    assert str(fault.value) == (
        "the sexes of 'suspect' and 'unsexed' are male and unknown; expected a female and a male"
    )


def test_matings_refuse_unknown_names() -> None:
    solved = solve(_book())
    with pytest.raises(MalformedCase) as fault:
        matings(solved, "suspect", ["visula"], "sg")
    assert str(fault.value) == 'mating: no animal has the id "visula"; the nearest is "visual"'
    with pytest.raises(MalformedCase) as fault:
        matings(solved, "suspect", ["visual"], "mk")
    assert str(fault.value) == 'mating: no locus has the id "mk"; accepted: "sg", "qw"'
    with pytest.raises(MalformedCase) as fault:
        matings(solved, "suspect", ["visual"], "sg", keys=["s/+"])
    assert fault.value.place == "keys"
