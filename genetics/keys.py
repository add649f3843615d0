"""Genotype keys: how a genotype of a locus is written, in each sex.

Two copies are `"a/b"`, the alleles in the order of the locus's list; one copy is `"a/Y"` or
`"a/W"`; a locus on both sex chromosomes is `"a|b"` in the heterogametic sex, the allele on the
X (Z) first.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations_with_replacement, product
from typing import Literal

from genetics.population import Locus, Sex, SexDetermination

KnownSex = Literal["female", "male"]

SEXES: tuple[KnownSex, KnownSex] = ("female", "male")
HETEROGAMETIC: dict[str, KnownSex | None] = {"XY": "male", "ZW": "female", "none": None}
SINGLE: dict[str, str] = {"X": "Y", "Z": "W"}
"""Chromosomes of which the heterogametic sex has one copy, and how the other is written."""


def is_heterogametic(sex_determination: SexDetermination, sex: KnownSex) -> bool:
    """Whether that sex has two unlike sex chromosomes (males in XY, females in ZW)."""
    return HETEROGAMETIC[sex_determination] == sex


@lru_cache(maxsize=4096)
def genotype_keys(
    locus: Locus, sex_determination: SexDetermination, sex: KnownSex
) -> tuple[str, ...]:
    """Every genotype that an animal of that sex can have at the locus, in canonical order.

    With k alleles: k(k + 1)/2 unordered pairs; k single copies at an X or Z locus in the
    heterogametic sex; k² ordered pairs at a locus of both sex chromosomes there.

    >>> genotype_keys(Locus("sg", ("+", "har", "pel")), "XY", "male")
    ('+/+', '+/har', '+/pel', 'har/har', 'har/pel', 'pel/pel')
    >>> genotype_keys(Locus("xl", ("+", "x"), "X"), "XY", "male")
    ('+/Y', 'x/Y')
    >>> genotype_keys(Locus("mk", ("+", "mk"), "sex", 0.05), "ZW", "female")
    ('+|+', '+|mk', 'mk|+', 'mk|mk')
    """
    alleles = locus.alleles
    if locus.chromosome != "autosome" and is_heterogametic(sex_determination, sex):
        if locus.chromosome == "sex":
            return tuple(f"{a}|{b}" for a, b in product(alleles, repeat=2))
        return tuple(f"{a}/{SINGLE[locus.chromosome]}" for a in alleles)
    return tuple(f"{a}/{b}" for a, b in combinations_with_replacement(alleles, 2))


@lru_cache(maxsize=4096)
def covered_keys(
    locus: Locus, sex_determination: SexDetermination, sex: KnownSex
) -> dict[str, tuple[str, ...]]:
    """Each key that may be written for that sex, with the genotypes that it stands for.

    A canonical key stands for itself.  At a locus of both sex chromosomes in the heterogametic
    sex `"a/b"` stands for both arrangements.  Treat the result as read-only.

    >>> covered_keys(Locus("mk", ("+", "mk"), "sex"), "XY", "male")["+/mk"]
    ('+|mk', 'mk|+')
    """
    covered: dict[str, tuple[str, ...]] = {
        key: (key,) for key in genotype_keys(locus, sex_determination, sex)
    }
    if locus.chromosome == "sex" and is_heterogametic(sex_determination, sex):
        for a, b in combinations_with_replacement(locus.alleles, 2):
            covered[f"{a}/{b}"] = (f"{a}|{b}",) if a == b else (f"{a}|{b}", f"{b}|{a}")
    return covered


def key_alleles(locus: Locus, key: str) -> tuple[str, ...]:
    """The alleles in a genotype key: two, or the one of a single copy.

    >>> key_alleles(Locus("xl", ("+", "x"), "X"), "x/Y")
    ('x',)
    """
    first, second = key.split("|" if "|" in key else "/")
    return (first,) if second == SINGLE.get(locus.chromosome) else (first, second)


@lru_cache(maxsize=4096)
def accepted_keys(
    locus: Locus, sex_determination: SexDetermination, sex: Sex = "unknown"
) -> frozenset[str]:
    """The keys that may be written for an animal of that sex; of either for `"unknown"`.

    >>> sorted(accepted_keys(Locus("xl", ("+", "x"), "X"), "XY"))
    ['+/+', '+/Y', '+/x', 'x/Y', 'x/x']
    """
    sexes = SEXES if sex == "unknown" else (sex,)
    return frozenset(key for one in sexes for key in covered_keys(locus, sex_determination, one))


def reported_keys(
    locus: Locus, sex_determination: SexDetermination, sex: Sex = "unknown"
) -> tuple[str, ...]:
    """The keys of an answer for an animal of that sex: females' first, then males' own.

    >>> reported_keys(Locus("xl", ("+", "x"), "X"), "XY")
    ('+/+', '+/x', 'x/x', '+/Y', 'x/Y')
    """
    if sex != "unknown":
        return genotype_keys(locus, sex_determination, sex)
    both = (key for one in SEXES for key in genotype_keys(locus, sex_determination, one))
    return tuple(dict.fromkeys(both))
