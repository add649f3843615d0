"""Eggs that a pair loses because of what they carry."""

from itertools import product
from typing import Any

from keeper.domain.inference.inheritance import Inheritance


def expected_loss(inheritance: Inheritance, solved: Any, dam: str, sire: str) -> float:
    """Return the expected share of eggs that die of their genotype.

    Over the parents' genotypes together, at every locus with recorded survival:
    1 − Π Σ Mendel × survival. Loci that are not linked die independently of one another.
    The population must have been solved with the couple's query.
    """
    living = 1.0
    for pk in sorted({one.locus_id for one in inheritance.survivals}):
        name = inheritance.loci[pk].name
        if any(locus.id == name for locus in solved.population.loci):
            living *= _living(inheritance, solved, pk, dam, sire)
    return max(0.0, 1.0 - living)


def _living(inheritance: Inheritance, solved: Any, locus: int, dam: str, sire: str) -> float:
    """Expected survival at one locus, relative to a genotype that always survives."""
    import genetics
    from genetics.crosses import cross

    name = inheritance.loci[locus].name
    bare = genetics.Population(
        loci=(inheritance.locus(locus),), animals=(),
        sex_determination=inheritance.species.sex_determination,
    )  # fmt: skip
    survival = {
        entry.genotype: float(entry.survival)
        for entry in solved.population.viability
        if entry.locus == name
    }
    total = 0.0
    chances = (solved.posterior(who, name) for who in (dam, sire))
    for (mother, p), (father, q) in product(*(one.items() for one in chances)):
        if p and q:
            young = cross(bare, {name: mother}, {name: father}).genotypes(name)
            kept = sum(float(c) * survival.get(_plain(keys[0]), 1.0) for keys, c in young.items())
            total += p * q * kept
    return total


def _plain(key: str) -> str:
    return "/".join(sorted(key.split("|"))) if "|" in key else key
