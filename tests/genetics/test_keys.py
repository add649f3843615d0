"""Genotype keys in both sexes of every system."""

from __future__ import annotations

from typing import Any

import pytest

from genetics.keys import (
    accepted_keys,
    covered_keys,
    genotype_keys,
    is_heterogametic,
    key_alleles,
    reported_keys,
)
from genetics.population import Locus

AUTOSOMAL = Locus("sg", ("+", "har", "pel"))
PAIRS = ("+/+", "+/har", "+/pel", "har/har", "har/pel", "pel/pel")
TWO = ("+/+", "+/x", "x/x")
FOUR = ("+|+", "+|x", "x|+", "x|x")


def locus(chromosome: Any) -> Locus:
    return Locus("xl", ("+", "x"), chromosome)


@pytest.mark.parametrize("system", ["XY", "ZW", "none"])
@pytest.mark.parametrize("sex", ["female", "male"])
def test_autosomal_keys_are_the_pairs_in_the_order_of_the_alleles(system: Any, sex: Any) -> None:
    assert genotype_keys(AUTOSOMAL, system, sex) == PAIRS
    assert accepted_keys(AUTOSOMAL, system, sex) == set(PAIRS)
    assert reported_keys(AUTOSOMAL, system) == PAIRS


@pytest.mark.parametrize(
    ("system", "chromosome", "female", "male"),
    [
        ("XY", "X", TWO, ("+/Y", "x/Y")),
        ("ZW", "Z", ("+/W", "x/W"), TWO),
        ("XY", "sex", TWO, FOUR),
        ("ZW", "sex", FOUR, TWO),
    ],
)
def test_sex_linked_keys_depend_on_the_sex(
    system: Any, chromosome: str, female: tuple[str, ...], male: tuple[str, ...]
) -> None:
    assert genotype_keys(locus(chromosome), system, "female") == female
    assert genotype_keys(locus(chromosome), system, "male") == male
    assert reported_keys(locus(chromosome), system) == female + male
    assert reported_keys(locus(chromosome), system, "male") == male


def test_unordered_key_covers_both_arrangements() -> None:
    found = covered_keys(locus("sex"), "XY", "male")
    assert found == {
        **{key: (key,) for key in FOUR},
        "+/+": ("+|+",),
        "+/x": ("+|x", "x|+"),
        "x/x": ("x|x",),
    }
    assert covered_keys(locus("sex"), "XY", "female") == {key: (key,) for key in TWO}


def test_accepted_keys_of_an_unknown_sex_are_those_of_both() -> None:
    assert accepted_keys(locus("X"), "XY") == {*TWO, "+/Y", "x/Y"}
    assert accepted_keys(locus("sex"), "ZW") == {*TWO, *FOUR}
    assert accepted_keys(locus("sex"), "ZW", "male") == set(TWO)


@pytest.mark.parametrize(
    ("chromosome", "key", "alleles"),
    [("autosome", "+/x", ("+", "x")), ("X", "x/Y", ("x",)), ("sex", "x|+", ("x", "+"))],
)
def test_alleles_of_a_key(chromosome: str, key: str, alleles: tuple[str, ...]) -> None:
    assert key_alleles(locus(chromosome), key) == alleles


def test_allele_called_like_a_chromosome_is_an_allele_elsewhere() -> None:
    assert key_alleles(Locus("w", ("+", "W")), "+/W") == ("+", "W")


def test_heterogametic_sex() -> None:
    assert [is_heterogametic(system, "male") for system in ("XY", "ZW", "none")] == [
        True,
        False,
        False,
    ]
