"""Founders' shares, founder equivalents and mean kinship: by hand, by a twin, and by their laws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genetics.diversity import Diversity, effective_size, pair_inbreeding, with_founders
from genetics.kinship import Couple, Pedigree, Relationship, kinship
from tests.genetics.twin_descent import counted

FAMILY = Pedigree.from_parents(dam=[-1, -1, -1, 0, 0, 2], sire=[-1, -1, -1, 1, 1, 3])
"""Founders 0, 1 and 2; 3 and 4 of 0 and 1; 5 of 2 and 3."""


# --- By hand ---------------------------------------------------------------------------------


def test_living_founders_are_worth_themselves() -> None:
    founders = Diversity(Pedigree.from_parents(dam=[-1] * 4, sire=[-1] * 4))
    everyone = [1, 1, 1, 1]
    assert founders.contributions(everyone).tolist() == [0.25] * 4
    assert founders.founder_equivalents(everyone) == 4
    # Kinship with itself is 1/2, with the three others 0: (4 x 1/2) / 16 = 1/8.
    assert founders.mean_kinship(everyone) == 1 / 8
    assert founders.genome_equivalents(everyone) == 4


def test_one_young_holds_half_of_what_its_parents_had() -> None:
    family = Diversity(FAMILY)
    alone = [0, 0, 0, 1, 0, 0]
    assert family.contributions(alone).tolist() == [0.5, 0.5, 0]
    assert family.founder_equivalents(alone) == 2
    # Two of the four founder alleles are left: as one whole founder.
    assert family.genome_equivalents(alone) == 1


def test_unequal_shares_count_less() -> None:
    family = Diversity(FAMILY)
    # Of 5: half of 2, a quarter each of 0 and 1. Of 3 and 4: half each of 0 and 1.
    living = [0, 0, 0, 1, 1, 1]
    assert family.contributions(living) == pytest.approx([5 / 12, 5 / 12, 2 / 12])
    assert family.founder_equivalents(living) == pytest.approx(1 / (54 / 144))
    # Selves 3 x 1/2; 3 with 4 1/4, 3 with 5 1/4, 4 with 5 1/8, each twice: 11/4 of 9.
    assert family.mean_kinship(living) == pytest.approx(11 / 36)
    assert family.genome_equivalents(living) == pytest.approx(18 / 11)
    assert family.mean_kinships(living)[3:] == pytest.approx([1 / 3, 7 / 24, 7 / 24])


def test_weights_count_a_member_by_its_chance_to_be_one() -> None:
    family = Diversity(FAMILY)
    # Weights 1 and 1/2: (1/2 + 2 x 1/2 x 1/8 + 1/4 x 1/2) / (9/4) = (3/4) / (9/4).
    assert family.mean_kinship([0, 0, 0, 0, 1, 0.5]) == pytest.approx(1 / 3)


def test_groups_are_answered_together() -> None:
    family = Diversity(FAMILY)
    groups = np.array([[0, 0, 0, 1, 0, 0], [0, 0, 0, 1, 1, 1]]).T
    assert family.founder_equivalents(groups) == pytest.approx([2, 144 / 54])
    assert family.mean_kinship(groups) == pytest.approx([1 / 2, 11 / 36])
    assert family.contributions(groups).shape == (3, 2)
    assert family.mean_kinships(groups).shape == (6, 2)


def test_mean_kinship_between_two_groups() -> None:
    family = Diversity(FAMILY)
    # 3 and 4 with 5: 1/4 and 1/8.
    assert family.mean_between([0, 0, 0, 1, 1, 0], [0, 0, 0, 0, 0, 1]) == pytest.approx(3 / 16)


def test_each_possible_pair() -> None:
    family = Diversity(FAMILY)
    expected = [[kinship(FAMILY, dam, sire) for sire in (3, 5)] for dam in (0, 2, 4)]
    assert family.pair_inbreeding([0, 2, 4], [3, 5]).tolist() == expected
    turned = family.pair_inbreeding([3, 5], [0, 2, 4])
    assert turned.tolist() == np.array(expected).T.tolist()
    assert pair_inbreeding(Relationship(FAMILY), [4], [5]).tolist() == [[1 / 8]]
    assert family.pair_inbreeding([], [3]).shape == (0, 1)


def test_an_unrecorded_parent_is_a_founder_of_its_own() -> None:
    # Two young of one dam, each of a male not recorded: half-sibs of three founders.
    half = Diversity(Pedigree.from_parents(dam=[-1, 0, 0], sire=[-1, -1, -1]))
    assert half.founders.tolist() == [0, 3, 4]
    assert half.contributions([0, 1, 1]).tolist() == [0.5, 0.25, 0.25]
    assert half.mean_kinships([0, 1, 1]).shape == (3,)


def test_litter_mates_share_an_unrecorded_parent() -> None:
    litter = Diversity(Pedigree.from_couples([[], [(0, -1)], [(0, -1)]], litter=[-1, 7, 7]))
    assert litter.founders.tolist() == [0, 3]
    assert litter.mean_kinship([0, 1, 1]) == pytest.approx(3 / 8)


def test_litter_mates_without_recorded_parents_are_sibs() -> None:
    litter = Diversity(Pedigree.from_couples([[(-1, -1)], [(-1, -1)]], litter=[7, 7]))
    assert litter.founders.tolist() == [2, 3]
    assert litter.founder_equivalents([1, 1]) == 2


def test_young_of_a_dam_alone_are_hers() -> None:
    alone = Diversity(Pedigree.from_couples([[], [(0, 0, 1.0, 0.0)]]))
    assert alone.contributions([0, 1]).tolist() == [1]
    # Its two copies are one allele of hers: half of her genome.
    assert alone.genome_equivalents([0, 1]) == 0.5


def test_uncertain_sires_are_no_mixture() -> None:
    # By 1 or by 2, for certain by one of them: two founders, half and half, either way.
    couples = [[], [], [], [(0, 1, 0.5), (0, 2, 0.5)]]
    young = Diversity(Pedigree.from_couples(couples))
    living = [0, 0, 0, 1]
    assert young.contributions(living).tolist() == [0.5, 0.25, 0.25]
    assert young.founder_equivalents(living) == 2
    assert young.genome_equivalents(living) == 1


def test_a_pedigree_with_all_founders_recorded_stays_as_it_is() -> None:
    assert with_founders(FAMILY) is FAMILY


@pytest.mark.parametrize(
    ("weights", "message"),
    [
        ([1, 1], r"weights have shape \(2,\); give \(6,\) or \(6, k\)"),
        ([0] * 6, "a group is empty: give each at least one weight above 0"),
        ([[1, 0]] * 6, "a group is empty: give each at least one weight above 0"),
        ([1, 1, 1, 1, 1, -1], "weights: one is not a number of 0 or more"),
        ([1, 1, 1, 1, 1, math.nan], "weights: one is not a number of 0 or more"),
    ],
)
def test_weights_that_mean_nothing_are_refused(weights: list[float], message: str) -> None:
    family = Diversity(FAMILY)
    with pytest.raises(ValueError, match=message):
        family.mean_kinship(weights)


def test_between_takes_one_group_each() -> None:
    with pytest.raises(ValueError, match="give one group and one other"):
        Diversity(FAMILY).mean_between([[1]] * 6, [1] * 6)


# --- Effective size --------------------------------------------------------------------------


def test_effective_size_of_a_steady_rise() -> None:
    # F of 1 - (1 - 1/16)^t: a rate of 1/16 in a generation, so a size of 8.
    rise = [1 - (15 / 16) ** t for t in range(5)]
    assert effective_size(range(5), rise, generation=1) == pytest.approx(8)
    assert effective_size([3 * t for t in range(5)], rise, generation=3) == pytest.approx(8)


@pytest.mark.parametrize(
    ("times", "coefficients"),
    [([], []), ([2020], [0.1]), ([2020, 2020], [0, 0.1]), ([1, 2], [0.1, 0.1]), ([1, 2], [0.2, 0])],
)
def test_no_effective_size_without_a_rise(times: list[float], coefficients: list[float]) -> None:
    assert effective_size(times, coefficients, generation=2) is None


@pytest.mark.parametrize(
    ("coefficients", "generation", "message"),
    [
        ([0.1], 2, "2 times and 1 coefficients; give one each"),
        ([0.1, 1.0], 2, "inbreeding: one is not from 0 to below 1"),
        ([0.1, 0.2], 0, "generation: 0 is not above 0"),
    ],
)
def test_a_trend_that_means_nothing_is_refused(
    coefficients: list[float], generation: float, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        effective_size([1, 2], coefficients, generation=generation)


# --- Against every way in which genes can come down -------------------------------------------


@st.composite
def small(draw: st.DrawFn) -> tuple[Pedigree, list[int]]:
    """A pedigree of at most five, some of uncertain or of one parent, and a group of them."""
    couples: list[list[Couple]] = []
    litter: list[int] = []
    sexes: list[int] = []
    for unit in range(draw(st.integers(1, 4))):
        dams = [-1, *(i for i, sex in enumerate(sexes) if sex == 0)]
        sires = [-1, *(i for i, sex in enumerate(sexes) if sex == 1)]
        dam = draw(st.sampled_from(dams))
        named = draw(st.lists(st.sampled_from(sires), min_size=1, max_size=2, unique=True))
        row = [Couple(dam, sire, 1 / len(named)) for sire in named]
        if dam >= 0 and draw(st.integers(0, 5)) == 0:
            row = [Couple(dam, dam, 1.0, draw(st.sampled_from([0.0, 0.25, 1.0])))]
        together = draw(st.booleans())
        for _ in range(draw(st.integers(1, 2))):
            couples.append(row)
            litter.append(unit if together else -1)
            sexes.append(draw(st.sampled_from([0, 1])))
    couples, litter = couples[:5], litter[:5]
    weights = draw(st.lists(st.integers(0, 3), min_size=len(couples), max_size=len(couples)))
    weights[draw(st.integers(0, len(couples) - 1))] += 1
    return Pedigree.from_couples(couples, litter=litter), weights


@settings(deadline=None)
@given(small())
def test_agrees_with_every_way_in_which_genes_can_come_down(
    drawn: tuple[Pedigree, list[int]],
) -> None:
    pedigree, weights = drawn
    found, twin = Diversity(pedigree), counted(pedigree, weights)
    shares = [share for share in found.contributions(weights) if share > 0]
    assert sorted(shares) == pytest.approx(
        sorted(float(one) for one in twin.contributions.values() if one)
    )
    assert found.founder_equivalents(weights) == pytest.approx(float(1 / twin.even))
    assert found.mean_kinship(weights) == pytest.approx(float(twin.kinship))
    assert found.genome_equivalents(weights) == pytest.approx(float(1 / (2 * twin.kinship)))
    assert found.inbreeding == pytest.approx(list(map(float, twin.inbreeding)))


@settings(deadline=None)
@given(small())
def test_laws(drawn: tuple[Pedigree, list[int]]) -> None:
    pedigree, weights = drawn
    found = Diversity(pedigree)
    shares = found.contributions(weights)
    assert shares.sum() == pytest.approx(1)
    # Genes are lost on the way and never won: whole genomes, founders as they contribute, founders.
    equivalents = float(found.founder_equivalents(weights))
    assert found.genome_equivalents(weights) <= equivalents + 1e-9
    assert equivalents <= np.count_nonzero(shares > 0) + 1e-9
    # The mean of the members' own means is the mean of the group.
    own = found.mean_kinships(weights)
    assert float(np.average(own, weights=weights)) == pytest.approx(
        float(found.mean_kinship(weights))
    )
    assert found.mean_between(weights, weights) == pytest.approx(float(found.mean_kinship(weights)))
