"""Kinship against published values, gene dropping, the tabular method, and its own laws."""

from __future__ import annotations

import itertools
import sys
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genetics.kinship import (
    FEMALE,
    MALE,
    UNKNOWN,
    Couple,
    Pedigree,
    Relationship,
    inbreeding,
    kinship,
    kinship_pairs,
    kinship_x,
    planned_inbreeding,
)
from tests.genetics.published import CHECKS, published


def all_pairs(n: int) -> list[tuple[int, int]]:
    return [(i, j) for i in range(n) for j in range(n)]


def recursion_matrix(pedigree: Pedigree) -> np.ndarray[Any, np.dtype[np.float64]]:
    n = len(pedigree)
    return kinship_pairs(pedigree, all_pairs(n)).reshape(n, n)


# --- Twins: slow and obvious ----------------------------------------------------------------

Parents = tuple[int | None, int | None]


def outcomes(pedigree: Pedigree) -> Iterator[tuple[Fraction, list[Parents]]]:
    """Yield every drawing of couples with its chance: certain parents, unrecorded ones explicit.

    Litters draw once, everybody else alone. Unrecorded parents follow the individuals as extra
    founders; a founder's parents are (None, None).
    """
    n = len(pedigree)
    units: dict[tuple[str, int], list[int]] = {}
    for i, number in enumerate(pedigree.litter):
        units.setdefault(("litter", number) if number >= 0 else ("alone", i), []).append(i)
    for choice in itertools.product(*(pedigree.couples[members[0]] for members in units.values())):
        chance = Fraction(1)
        parents: list[Parents] = [(None, None)] * n
        for (kind, _), members, couple in zip(units, units.values(), choice, strict=True):
            chance *= Fraction(couple.p).limit_denominator(1000)
            dam, sire = couple.dam, couple.sire
            if kind == "litter" or max(dam, sire) >= 0:
                if dam < 0:
                    dam = len(parents)
                    parents.append((None, None))
                if sire < 0:
                    sire = len(parents)
                    parents.append((None, None))
                for member in members:
                    parents[member] = (dam, sire)
        yield chance, parents


def birth_order(parents: Sequence[Parents]) -> list[int]:
    order: list[int] = []
    while len(order) < len(parents):
        order += [
            i
            for i, pair in enumerate(parents)
            if i not in order and all(p is None or p in order for p in pair)
        ]
    return order


def tabular(parents: Sequence[Parents]) -> list[list[Fraction]]:
    """Kinship of certain parents, row by row in order of birth."""
    phi = [[Fraction(0)] * len(parents) for _ in parents]
    born: list[int] = []
    for i in birth_order(parents):
        dam, sire = parents[i]
        if dam is None or sire is None:
            phi[i][i] = Fraction(1, 2)
        else:
            for j in born:
                phi[i][j] = phi[j][i] = (phi[dam][j] + phi[sire][j]) / 2
            phi[i][i] = (1 + phi[dam][sire]) / 2
        born.append(i)
    return phi


def expected_tabular(pedigree: Pedigree) -> list[list[Fraction]]:
    n = len(pedigree)
    total = [[Fraction(0)] * n for _ in range(n)]
    for chance, parents in outcomes(pedigree):
        phi = tabular(parents)
        for i, j in all_pairs(n):
            total[i][j] += chance * phi[i][j]
    return total


def gene_drops(
    parents: Sequence[Parents], single: Sequence[bool], giver: int
) -> Iterator[list[tuple[int, ...]]]:
    """Yield every equally likely assignment of founder alleles; copies from (dam, sire).

    `single` individuals have one copy, from the parent at place `giver` of (dam, sire).
    """
    order = birth_order(parents)
    alleles: list[tuple[int, ...]] = [()] * len(parents)

    def drop(position: int, fresh: int) -> Iterator[list[tuple[int, ...]]]:
        if position == len(order):
            yield list(alleles)
            return
        i = order[position]
        pair = [p for p in parents[i] if p is not None]
        if not pair:
            alleles[i] = (fresh,) if single[i] else (fresh, fresh + 1)
            yield from drop(position + 1, fresh + 2)
            return
        sources = [pair[giver]] if single[i] else pair
        # A parent with one copy counts twice, so that every assignment is equally likely.
        for alleles[i] in itertools.product(*((alleles[p] * 2)[:2] for p in sources)):
            yield from drop(position + 1, fresh)

    yield from drop(0, 0)


def dropped_kinship(
    pedigree: Pedigree, single: Sequence[bool], giver: int = 0, giver_sex_single: int = -1
) -> list[list[Fraction]]:
    """Expected kinship by enumerating draws of couples and all segregations.

    `giver_sex_single`: which extra (unrecorded) founders have one copy, 0 dams, 1 sires, -1 none.
    """
    n = len(pedigree)
    total = [[Fraction(0)] * n for _ in range(n)]
    for chance, parents in outcomes(pedigree):
        alone = [*single, *(False for _ in parents[n:])]
        for pair in parents:
            for place, parent in enumerate(pair):
                if parent is not None and parent >= n and place == giver_sex_single:
                    alone[parent] = True
        drops = list(gene_drops(parents, alone, giver))
        for alleles, (i, j) in itertools.product(drops, all_pairs(n)):
            same = sum(a == b for a in alleles[i] for b in alleles[j])
            total[i][j] += chance * Fraction(same, len(alleles[i]) * len(alleles[j])) / len(drops)
    return total


def as_floats(matrix: list[list[Fraction]]) -> np.ndarray[Any, np.dtype[np.float64]]:
    return np.array([[float(x) for x in row] for row in matrix]).reshape(len(matrix), len(matrix))


# --- Random pedigrees ------------------------------------------------------------------------


@st.composite
def pedigrees(
    draw: st.DrawFn, max_units: int = 5, max_couples: int = 3, max_litter: int = 3
) -> Pedigree:
    """Litters and single births in order of time, then renamed at random."""
    couples: list[list[Couple]] = []
    sex: list[int] = []
    litter: list[int] = []
    for unit in range(draw(st.integers(1, max_units))):
        dams = [-1] + [i for i, s in enumerate(sex) if s == FEMALE]
        sires = [-1] + [i for i, s in enumerate(sex) if s == MALE]
        pair = st.tuples(st.sampled_from(dams), st.sampled_from(sires))
        drawn = draw(st.lists(pair, min_size=1, max_size=max_couples, unique=True))
        weights = [draw(st.integers(1, 4)) for _ in drawn]
        row = [Couple(*c, w / sum(weights)) for c, w in zip(drawn, weights, strict=True)]
        size = draw(st.integers(1, max_litter))
        together = draw(st.booleans())
        for _ in range(size):
            couples.append(row)
            litter.append(10 + unit if together else -1)
            sex.append(draw(st.sampled_from([FEMALE, MALE])))
    return renamed(
        Pedigree.from_couples(couples, sex=sex, litter=litter),
        draw(st.permutations(range(len(couples)))),
    )


def renamed(pedigree: Pedigree, names: Sequence[int]) -> Pedigree:
    """Return the pedigree in which individual i is called names[i]."""
    old = {name: i for i, name in enumerate(names)}
    name = {-1: -1, **dict(enumerate(names))}
    back = [old[i] for i in range(len(names))]
    return Pedigree.from_couples(
        [
            [c._replace(dam=name[c.dam], sire=name[c.sire]) for c in pedigree.couples[i]]
            for i in back
        ],
        sex=[pedigree.sex[i] for i in back],
        litter=[pedigree.litter[i] for i in back],
    )


tiny = pedigrees(max_units=4, max_couples=2, max_litter=2).filter(
    lambda p: (
        sum(max(c[:2]) >= 0 or k >= 0 for (c, *_), k in zip(p.couples, p.litter, strict=True)) <= 5
    )
)
SLOW = settings(max_examples=60, deadline=None)
SLOWER = settings(max_examples=30, deadline=None)


@SLOW
@given(pedigrees())
def test_kinship_pairs_equals_average_of_certain_pedigrees(pedigree: Pedigree) -> None:
    expected = as_floats(expected_tabular(pedigree))
    np.testing.assert_allclose(recursion_matrix(pedigree), expected, rtol=0, atol=1e-12)


@SLOWER
@given(tiny)
def test_kinship_pairs_equals_enumerated_gene_dropping(pedigree: Pedigree) -> None:
    expected = as_floats(dropped_kinship(pedigree, [False] * len(pedigree)))
    np.testing.assert_allclose(recursion_matrix(pedigree), expected, rtol=0, atol=1e-12)


@SLOWER
@given(tiny, st.sampled_from(["XY", "ZW"]))
def test_kinship_x_equals_enumerated_gene_dropping(pedigree: Pedigree, system: str) -> None:
    one_copy, giver = (MALE, 0) if system == "XY" else (FEMALE, 1)
    single = [sex == one_copy for sex in pedigree.sex]
    expected = dropped_kinship(pedigree, single, giver, giver_sex_single=1 - giver)
    n = len(pedigree)
    found = kinship_x(pedigree, all_pairs(n), system).reshape(n, n)
    np.testing.assert_allclose(found, as_floats(expected), rtol=0, atol=1e-12)


@SLOW
@given(pedigrees(max_units=9))
def test_relationship_equals_recursion(pedigree: Pedigree) -> None:
    n = len(pedigree)
    phi = recursion_matrix(pedigree)
    factored = Relationship(pedigree)
    columns = np.column_stack([factored.kinship_to(i) for i in range(n)])
    np.testing.assert_allclose(columns, phi, rtol=0, atol=1e-12)
    np.testing.assert_allclose(factored.kinship_among(range(n)), phi, rtol=0, atol=1e-12)
    np.testing.assert_allclose(factored.matvec(np.eye(n)), 2 * phi, rtol=0, atol=1e-12)
    np.testing.assert_allclose(factored.mean_kinship(), phi.mean(axis=1), rtol=0, atol=1e-12)
    np.testing.assert_allclose(factored.inbreeding, 2 * np.diag(phi) - 1, rtol=0, atol=1e-12)


@SLOW
@given(pedigrees(max_units=9))
def test_kinship_is_symmetric_bounded_and_positive(pedigree: Pedigree) -> None:
    phi = recursion_matrix(pedigree)
    assert np.array_equal(phi, phi.T)
    assert phi.min() >= 0
    assert np.all((np.diag(phi) >= 0.5) & (np.diag(phi) <= 1))
    assert np.linalg.eigvalsh(phi).min() >= -1e-12


@SLOW
@given(st.data(), pedigrees(max_units=7))
def test_kinship_does_not_depend_on_names(data: st.DataObject, pedigree: Pedigree) -> None:
    n = len(pedigree)
    names = data.draw(st.permutations(range(n)))
    other = renamed(pedigree, names)
    phi, moved = recursion_matrix(pedigree), recursion_matrix(other)
    np.testing.assert_allclose(moved[np.ix_(names, names)], phi, rtol=0, atol=1e-14)
    np.testing.assert_allclose(
        inbreeding(other)[list(names)], inbreeding(pedigree), rtol=0, atol=1e-14
    )


@SLOW
@given(st.data(), pedigrees(max_units=7))
def test_planned_inbreeding_equals_inbreeding_once_bred(
    data: st.DataObject, pedigree: Pedigree
) -> None:
    dams = [i for i, sex in enumerate(pedigree.sex) if sex == FEMALE]
    sires = [i for i, sex in enumerate(pedigree.sex) if sex == MALE]
    if not dams or not sires:
        return
    dam, sire = data.draw(st.sampled_from(dams)), data.draw(st.sampled_from(sires))
    bred = Pedigree.from_couples(
        [*pedigree.couples, [(dam, sire)]],
        sex=[*pedigree.sex, UNKNOWN],
        litter=[*pedigree.litter, -1],
    )
    planned = planned_inbreeding(pedigree, dam, sire)
    assert inbreeding(bred)[-1] == pytest.approx(planned, rel=0, abs=1e-14)


# --- Published values ------------------------------------------------------------------------


def test_published_kinship_entries_are_all_checked() -> None:
    ids = {name for name in CHECKS if name.startswith("K6.")}
    assert ids == {"K6.mrode", "K6.roan", "K6.sinnwell", "K6.regular", "K6.relatives"}


def test_kinship_gives_mrode_matrix() -> None:
    # Mrode 2005, Linear Models for the Prediction of Animal Breeding Values, Table 2.1.
    pedigree = Pedigree.from_parents(dam=[-1, -1, 1, -1, 2, 1], sire=[-1, -1, 0, 0, 3, 4])
    numbers = published("K6.mrode")
    assert (2 * recursion_matrix(pedigree)).tolist() == numbers["A"]
    assert (2 * Relationship(pedigree).kinship_among(range(6))).tolist() == numbers["A"]
    assert inbreeding(pedigree).tolist() == numbers["F"]


def test_kinship_gives_roan_gauntlet_values() -> None:
    # Wright 1922; Lynch and Walsh 1998, chapter 7, examples 1 and 2.
    numbers = published("K6.roan")
    rows = numbers["pedigree_child_sire_dam"]
    names = list(dict.fromkeys(name for row in rows for name in row if name))
    at = {name: i for i, name in enumerate(names)} | {None: -1}
    dam, sire = [-1] * len(names), [-1] * len(names)
    for child, its_sire, its_dam in rows:
        dam[at[child]], sire[at[child]] = at[its_dam], at[its_sire]
    pedigree = Pedigree.from_parents(dam, sire)
    duke, princess = at["RoyalDuke"], at["PrincessRoyal"]

    def theta(a: str, b: str) -> float:
        return kinship(pedigree, at[a], at[b])

    assert planned_inbreeding(pedigree, princess, duke) == Fraction(*numbers["F"])
    assert inbreeding(pedigree)[at["RoanGauntlet"]] == numbers["F_float"]
    assert inbreeding(pedigree)[duke] == numbers["F_RoyalDuke"]
    assert kinship_x(pedigree, [(duke, princess)])[0] == Fraction(
        *numbers["theta_Xlinked_sire_dam"]
    )
    shared = theta("GrandDuke", "Champion"), theta("Mimulus", "Champion")
    lines = theta("Mimulus", "Carmine"), theta("GrandDuke", "Carmine")
    assert set(shared) == {Fraction(*numbers["theta_with_shared_sire"])}
    assert set(lines) == {Fraction(*numbers["theta_granddam_lines"])}
    fraternity = shared[0] * lines[0] + shared[1] * lines[1]
    assert fraternity == Fraction(*numbers["fraternity_of_sire_and_dam"])


# Sinnwell, Therneau and Schaid 2014: individuals 1 to 10 are 0 to 9 here.
SINNWELL_DAM = [-1, -1, 1, 1, -1, -1, 4, 3, 3, 6]
SINNWELL_SIRE = [-1, -1, 0, 0, -1, -1, 2, 5, 5, 7]
SINNWELL_SEX = [1, 0, 1, 0, 0, 1, 0, 1, 1, 0]


def sinnwell(pair: str, *, identical_twins: bool) -> tuple[int, int]:
    """Return the pair's indices. Identical twins are one genotype: the second is the first."""
    twin = {8: 7} if identical_twins else {}
    i, j = (int(name) - 1 for name in pair.split(","))
    return twin.get(i, i), twin.get(j, j)


@pytest.mark.parametrize(
    ("table", "identical_twins"), [("autosomal_MZ", True), ("autosomal_no_MZ", False)]
)
def test_kinship_gives_sinnwell_autosomal_values(table: str, identical_twins: bool) -> None:
    pedigree = Pedigree.from_parents(SINNWELL_DAM, SINNWELL_SIRE, sex=SINNWELL_SEX)
    numbers = published("K6.sinnwell")
    found = {
        pair: kinship(pedigree, *sinnwell(pair, identical_twins=identical_twins))
        for pair in numbers[table]
    }
    assert found == numbers[table]
    assert inbreeding(pedigree)[9] == numbers["F10"]


def test_kinship_x_gives_sinnwell_x_values() -> None:
    pedigree = Pedigree.from_parents(SINNWELL_DAM, SINNWELL_SIRE, sex=SINNWELL_SEX)
    expected = published("K6.sinnwell")["X_MZ"]
    pairs = [sinnwell(pair, identical_twins=True) for pair in expected]
    assert kinship_x(pedigree, pairs).tolist() == list(expected.values())


def test_kinship_gives_common_relatives() -> None:
    # Lange, Applied Probability, Table 5.1. Grandparents 0 to 3, an unrelated dam 4, outside
    # mates unrecorded.
    couples = {
        5: (0, 1), 6: (0, 1), 7: (4, 1), 8: (2, 3), 9: (2, 3),  # sibs, half sib, the other sibs
        10: (5, -1), 11: (6, -1), 12: (10, -1), 13: (11, -1),  # cousins and their children
        14: (5, 8), 15: (6, 9),  # double first cousins
    }  # fmt: skip
    pedigree = Pedigree.from_parents(
        dam=[couples.get(i, (-1, -1))[0] for i in range(16)],
        sire=[couples.get(i, (-1, -1))[1] for i in range(16)],
    )
    pairs = {
        "half_sibs": (5, 7),
        "full_sibs": (5, 6),
        "first_cousins": (10, 11),
        "double_first_cousins": (14, 15),
        "second_cousins": (12, 13),
        "uncle_nephew": (6, 10),
    }
    expected = published("K6.relatives")
    found = {name: kinship(pedigree, *pair) for name, pair in pairs.items()}
    assert found == {name: Fraction(*value) for name, value in expected.items()}


def test_inbreeding_gives_cousin_mating() -> None:
    # Population-genetics class notes: each allele of a shared grandparent fixes with 1/64.
    numbers = published("B2.cousin")
    dam, sire = [-1, -1, 0, 0, 2, -1, -1, 5, 4], [-1, -1, 1, 1, 6, -1, -1, 3, 7]
    assert inbreeding(Pedigree.from_parents(dam, sire))[8] == Fraction(*numbers["F"])
    parents: list[Parents] = [
        (None, None) if d < 0 else (d, s) for d, s in zip(dam, sire, strict=True)
    ]
    drops = list(gene_drops(parents, [False] * 9, giver=0))
    fixed = sum(alleles[8] == (0, 0) for alleles in drops)
    assert Fraction(fixed, len(drops)) == Fraction(*numbers["p_per_allele"])


def full_sib_mating(generations: int) -> Pedigree:
    """Two founders, then a brother and a sister from each pair; the last pair's offspring too."""
    dam, sire = [-1, -1], [-1, -1]
    for last in range(0, 2 * generations, 2):
        dam += [last, last]
        sire += [last + 1, last + 1]
    return Pedigree.from_parents([*dam, dam[-1] + 2], [*sire, sire[-1] + 2])


def half_sib_mating(generations: int) -> list[float]:
    """One male a generation serves all females, which are half sibs of each other and of him."""
    width = generations + 2
    dam, sire = [-1] * (width + 1), [-1] * (width + 1)
    first: list[int] = []
    male, females = 0, list(range(1, width + 1))
    for _ in range(generations + 1):
        start = len(dam)
        dam += females
        sire += [male] * len(females)
        first.append(start)
        male, females = start, list(range(start + 1, start + len(females)))
    return [float(inbreeding(Pedigree.from_parents(dam, sire))[i]) for i in first[1:]]


def test_inbreeding_gives_regular_full_sib_system() -> None:
    # Falconer and Mackay 1996, Table 5.1, with the rule they give.
    expected = published("K6.regular")["full_sib"]
    found = inbreeding(full_sib_mating(len(expected))).tolist()[4::2]
    previous, before = 0.0, 0.0
    for value, printed in zip(found, expected, strict=True):
        assert value == (1 + 2 * previous + before) / 4
        assert value == pytest.approx(printed, rel=0, abs=5e-6)
        previous, before = value, previous


def test_inbreeding_gives_regular_half_sib_system() -> None:
    # Crow and Kimura 1970; Falconer and Mackay 1996.
    expected = published("K6.regular")["half_sib"]
    found = half_sib_mating(len(expected))
    previous, before = 0.0, 0.0
    for value, printed in zip(found, expected, strict=True):
        assert value == (1 + 6 * previous + before) / 8
        assert value == pytest.approx(printed, rel=0, abs=5e-6)
        previous, before = value, previous


@pytest.mark.parametrize("system", ["selfing", "backcross_to_noninbred"])
def test_inbreeding_gives_regular_line_systems(system: str) -> None:
    # Falconer and Mackay 1996, Table 5.1: with itself, or always back to one founder.
    expected = published("K6.regular")[system]
    n = len(expected)
    if system == "selfing":
        pedigree = Pedigree.from_parents([-1, *range(n)], [-1, *range(n)])
        assert inbreeding(pedigree).tolist()[1:] == expected
    else:  # 0 is the founder bred back to, 1 its first mate, 2 the offspring that is bred back
        pedigree = Pedigree.from_parents([-1, -1, *range(1, n + 2)], [-1, -1, *[0] * (n + 1)])
        assert inbreeding(pedigree).tolist()[3:] == expected


# --- Single behaviours -----------------------------------------------------------------------


def test_kinship_of_litter_mates_shares_the_couple_and_unrecorded_parents() -> None:
    couples = [[], [], [], *[[(0, 1, 0.75), (-1, 2, 0.25)]] * 2]
    together = Pedigree.from_couples(couples, litter=[-1, -1, -1, 5, 5])
    apart = Pedigree.from_couples(couples)
    assert kinship(together, 3, 4) == 0.25
    # Apart: both from (0, 1) with 9/16, both sired by 2 with 1/16 (their dams are two founders).
    assert kinship(apart, 3, 4) == 0.25 * 9 / 16 + 0.125 / 16


def test_kinship_of_founders_in_a_litter_is_that_of_full_sibs() -> None:
    pedigree = Pedigree.from_couples([[], [], []], litter=[0, 0, -1])
    assert recursion_matrix(pedigree).tolist() == [[0.5, 0.25, 0], [0.25, 0.5, 0], [0, 0, 0.5]]
    assert np.array_equal(
        Relationship(pedigree).kinship_among([0, 1, 2]), recursion_matrix(pedigree)
    )


def test_kinship_reaches_deeper_than_the_recursion_limit() -> None:
    generations = 2 * sys.getrecursionlimit()
    line = Pedigree.from_parents([-1, *range(generations)], [-1] * (generations + 1))
    assert kinship(line, 0, 20) == 0.5**21
    assert kinship(line, generations, generations - 1) == 0.25
    sibs = full_sib_mating(generations)
    value = kinship(sibs, len(sibs) - 2, len(sibs) - 3)
    assert value == pytest.approx(1.0, rel=0, abs=1e-12)
    assert inbreeding(sibs)[-1] == value


def test_inbreeding_reuses_rows_correctly_in_long_pedigrees() -> None:
    random = np.random.default_rng(7)
    n, founders = 400, 12
    dam = [-1] * founders + [
        int(random.integers(max(0, i - 60) // 2, i // 2)) * 2 for i in range(founders, n)
    ]
    sire = [-1] * founders + [
        int(random.integers(max(0, i - 60) // 2, i // 2)) * 2 + 1 for i in range(founders, n)
    ]
    pedigree = Pedigree.from_parents(dam, sire)
    parents: list[Parents] = [
        (None, None) if d < 0 else (d, s) for d, s in zip(dam, sire, strict=True)
    ]
    phi = as_floats(tabular(parents))
    np.testing.assert_allclose(inbreeding(pedigree), 2 * np.diag(phi) - 1, rtol=0, atol=1e-12)
    np.testing.assert_allclose(
        Relationship(pedigree).kinship_among(range(n)), phi, rtol=0, atol=1e-12
    )


def test_kinship_x_of_unknown_sex_is_the_average_of_both() -> None:
    def values(sex: int, system: str) -> list[float]:
        pedigree = Pedigree.from_parents([-1, -1, 0, 0], [-1, -1, 1, 1], sex=[0, 1, 0, sex])
        return [float(x) for x in kinship_x(pedigree, [(3, j) for j in range(4)], system)]

    for system in ("XY", "ZW"):
        both = np.array([values(FEMALE, system), values(MALE, system)])
        assert values(UNKNOWN, system) == both.mean(axis=0).tolist()


@pytest.mark.parametrize(("system", "sex", "of_dam"), [("XY", FEMALE, 0.5), ("ZW", MALE, 1.0)])
def test_kinship_x_of_litter_mates_shares_unrecorded_parents(
    system: str, sex: int, of_dam: float
) -> None:
    # Homogametic litter-mates get the same allele of their one-copy parent, of the other with 1/2.
    pedigree = Pedigree.from_couples([[(-1, -1)]] * 2, sex=[sex] * 2, litter=[0, 0])
    assert kinship_x(pedigree, [(0, 1)], system)[0] == (1.0 + 0.5) / 4
    one_known = Pedigree.from_couples([[], *[[(0, -1)]] * 2], sex=[0, sex, sex], litter=[-1, 0, 0])
    assert kinship_x(one_known, [(0, 0), (1, 2)], system).tolist() == [of_dam, (1.0 + 0.5) / 4]


@pytest.mark.parametrize("sexes", [(FEMALE, MALE), (MALE, FEMALE)])
@pytest.mark.parametrize("system", ["XY", "ZW"])
def test_kinship_x_of_brother_and_sister_needs_no_litter_if_the_couple_is_certain(
    system: str, sexes: tuple[int, int]
) -> None:
    # Mother 0 and her son 2. XY: the brother has an allele of hers, the sister one of hers or the
    # one that the son has from her: (1/2 + 1/2) / 2. ZW: the sister has an allele of the son's,
    # the brother another draw of his or the mother's only one: (1/2 + 1/2) / 2.
    dam, sire, sex = [-1, -1, 0, 0, 0], [-1, -1, 1, 2, 2], [FEMALE, MALE, MALE, *sexes]
    together = Pedigree.from_parents(dam, sire, sex=sex, litter=[-1, -1, -1, 0, 0])
    apart = Pedigree.from_parents(dam, sire, sex=sex)
    assert kinship_x(together, [(3, 4)], system)[0] == 0.5
    assert kinship_x(apart, [(3, 4)], system)[0] == 0.5


def test_kinship_x_follows_the_system() -> None:
    pedigree = Pedigree.from_parents([-1, -1, 0, 0], [-1, -1, 1, 1], sex=[0, 1, 0, 1])
    pairs = [(0, 2), (1, 2), (0, 3), (1, 3), (2, 2), (3, 3)]
    assert kinship_x(pedigree, pairs).tolist() == [0.25, 0.5, 0.5, 0, 0.5, 1]
    assert kinship_x(pedigree, pairs, "ZW").tolist() == [0, 0.5, 0.5, 0.25, 1, 0.5]


def test_relationship_mean_kinship_weighs_the_group() -> None:
    pedigree = Pedigree.from_parents([-1, -1, 0, 0], [-1, -1, 1, 1])
    factored = Relationship(pedigree)
    phi = recursion_matrix(pedigree)
    assert factored.mean_kinship([1, 2]).tolist() == ((phi[1] + phi[2]) / 2).tolist()
    weighted = factored.mean_kinship(weights=[3, 0, 1, 0])
    assert weighted.tolist() == ((3 * phi[0] + phi[2]) / 4).tolist()


def test_relationship_kinship_among_keeps_order_and_many_columns() -> None:
    n = 600
    pedigree = Pedigree.from_parents([-1, -1, *[0] * n], [-1, -1, *[1] * n])
    block = Relationship(pedigree).kinship_among([*range(n + 1, 1, -1), 0])
    expected = np.full((n + 1, n + 1), 0.25)
    np.fill_diagonal(expected, 0.5)
    assert np.array_equal(block, expected)


def test_empty_pedigree_has_nobody() -> None:
    pedigree = Pedigree.from_parents([], [])
    factored = Relationship(pedigree)
    assert inbreeding(pedigree).shape == kinship_pairs(pedigree, []).shape == (0,)
    assert factored.kinship_among([]).shape == (0, 0)
    assert factored.matvec(np.zeros(0)).shape == (0,)


def test_pedigree_orders_parents_first_and_litters_together() -> None:
    couples = [[(4, 3)], [(4, 3)], [(4, 3)], [], []]
    pedigree = Pedigree.from_couples(couples, litter=[7, -1, 7, -1, -1])
    assert pedigree.order == (3, 4, 1, 0, 2)
    assert pedigree.rank == (3, 2, 4, 0, 1)
    assert pedigree.sex == (UNKNOWN, UNKNOWN, UNKNOWN, MALE, FEMALE)


@pytest.mark.parametrize(
    ("couples", "given", "message"),
    [
        ([[(1, -1)], [(2, -1)], [(1, -1)]], {}, "individual 1 is its own ancestor (1 <- 2 <- 1)"),
        ([[(0, -1)]], {}, "individual 0 is its own ancestor (0 <- 0)"),
        ([[], [(0, 5)]], {}, "couples[1][0].sire: 5 is neither -1 nor one of 0 to 1"),
        ([[], [(0.5, -1)]], {}, "couples[1][0].dam: 0.5 is neither -1 nor one of 0 to 1"),
        ([[(-1, -1, -0.5)]], {}, "couples[0][0].p: -0.5 is not a probability (0 to 1)"),
        ([[], [(0, -1, 0.9)]], {}, "couples[1]: probabilities sum to 0.9, not 1"),
        ([[]], {"sex": [3]}, "sex[0]: 3 is not 0 female, 1 male or 2 unknown"),
        ([[]], {"sex": [0, 1]}, "sex has 2 entries for 1 individuals; give one each"),
        ([[]], {"litter": [-2]}, "litter[0]: -2 is not -1 or a number of 0 or more"),
        (
            [[], [(0, -1)]],
            {"sex": [1, 2]},
            "sex[0]: individual 0 is recorded as male but named as a dam",
        ),
        (
            [[], [(0, -1)], []],
            {"litter": [-1, 4, 4]},
            "litter 4: individuals 1 and 2 name different couples",
        ),
    ],
)
def test_pedigree_refuses(couples: Any, given: dict[str, list[int]], message: str) -> None:
    with pytest.raises(ValueError) as error:
        Pedigree.from_couples(couples, **given)
    assert str(error.value) == message


def test_pedigree_names_someone_on_the_cycle_not_below_it() -> None:
    ring = [[((i + 1) % 9 + 1, -1)] for i in range(9)]
    with pytest.raises(ValueError) as error:
        Pedigree.from_couples([[(1, -1)], *ring])
    assert str(error.value) == (
        "individual 1 is its own ancestor (1 <- 2 <- 3 <- 4 <- 5 <- 6 <- ... <- 1)"
    )


def test_pedigree_refuses_unequal_parent_arrays() -> None:
    with pytest.raises(ValueError, match=r"^dam has 2 entries and sire 1; give one each$"):
        Pedigree.from_parents([-1, -1], [-1])


TRIO = Pedigree.from_parents([-1, -1, 0], [-1, -1, 1])


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: kinship(TRIO, 0, 3), "no individual 3: give 0 to 2"),
        (lambda: kinship_pairs(TRIO, [(0, -1)]), "no individual -1: give 0 to 2"),
        (lambda: kinship_x(TRIO, [(0, 1)], "X0"), 'system: \'X0\' is not "XY" or "ZW"'),
        (lambda: planned_inbreeding(TRIO, 1, 1), "dam: individual 1 is male"),
        (lambda: planned_inbreeding(TRIO, 0, 0), "sire: individual 0 is female"),
        (lambda: Relationship(TRIO).kinship_to(9), "no individual 9: give 0 to 2"),
        (lambda: Relationship(TRIO).kinship_among([7]), "no individual 7: give 0 to 2"),
        (lambda: Relationship(TRIO).matvec([1.0]), "x has shape (1,); give (3,) or (3, k)"),
        (
            lambda: Relationship(TRIO).mean_kinship([0], weights=[1, 1, 1]),
            "give a group or weights, not both",
        ),
        (
            lambda: Relationship(TRIO).mean_kinship([]),
            "the group is empty: give at least one weight above 0",
        ),
        (lambda: Relationship(TRIO).mean_kinship([1, 1]), "the group names individual 1 twice"),
        (
            lambda: Relationship(TRIO).mean_kinship(weights=[1, 1]),
            "weights have shape (2,); give (3,)",
        ),
        (
            lambda: Relationship(TRIO).mean_kinship(weights=[1, -1, 1]),
            "weights[1]: -1.0 is not a number of 0 or more",
        ),
        (
            lambda: kinship_x(Pedigree.from_parents([-1, 0], [-1, 0]), [(0, 1)]),
            "individual 0 is named as a dam and as a sire",
        ),
    ],
)
def test_kinship_functions_refuse(call: Any, message: str) -> None:
    with pytest.raises(ValueError) as error:
        call()
    assert str(error.value) == message
