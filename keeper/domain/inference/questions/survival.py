"""Eggs that a pair loses because of what they carry."""

import genetics
from keeper.domain.inference.reading.inheritance import Inheritance

Query = tuple[tuple[str, str], ...]


def loss_queries(
    inheritance: Inheritance, loci: frozenset[int], dam: str, sire: str
) -> list[Query]:
    """What a population must be solved with before `expected_loss` is asked."""
    return [
        tuple((who, inheritance.loci[pk].name) for who in (dam, sire))
        for pk in _lethal(inheritance, loci)
    ]


def expected_loss(
    inheritance: Inheritance, solved: "genetics.Solved", loci: frozenset[int], dam: str, sire: str
) -> float:
    """Return the expected share of eggs that die of their genotype.

    1 − E[Σ Mendel × survival] at each locus with recorded survival, over what the parents are
    there together. Loci that are not linked kill independently of one another.
    """
    living = 1.0
    for pk in _lethal(inheritance, loci):
        living *= _living(inheritance, solved, pk, dam, sire)
    return max(0.0, 1.0 - living)


def _lethal(inheritance: Inheritance, loci: frozenset[int]) -> list[int]:
    return sorted({one.locus_id for one in inheritance.survivals} & loci)


def _living(
    inheritance: Inheritance, solved: "genetics.Solved", locus: int, dam: str, sire: str
) -> float:
    """Expected survival at one locus, relative to a genotype that always survives."""
    name = inheritance.loci[locus].name
    bare = genetics.Population(
        loci=(inheritance.locus(locus),), animals=(),
        sex_determination=inheritance.sex_determination,
    )  # fmt: skip
    survival = {
        entry.genotype: float(entry.survival)
        for entry in solved.population.viability
        if entry.locus == name
    }
    total = 0.0
    for (mother, father), p in genetics.pair_keys(solved, dam, sire, name).items():
        young = genetics.cross(bare, {name: mother}, {name: father}).genotypes(name)
        total += p * sum(float(c) * survival.get(_plain(k[0]), 1.0) for k, c in young.items())
    return total


def _plain(key: str) -> str:
    return "/".join(sorted(key.split("|"))) if "|" in key else key
