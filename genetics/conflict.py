"""A smallest set of records that cannot all be true.

Records are named as in the contract: `K1.shows.Saltgrass`, `M1.founder.sg`, `M1.founder_joint`,
`K2.likelihood.sg`, `C1.tally[0]`, `K1.parents`, `C1.parents`.  The set is smallest by inclusion:
without any one of them the rest is possible.  Found by dividing (Junker 2004, QuickXplain), with
exact inference as the judge of what is possible.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from genetics.errors import ImpossibleEvidence
from genetics.keys import reported_keys
from genetics.population import Animal, Population, Sex
from genetics.solving import solve


def records(population: Population) -> tuple[str, ...]:
    """Names of all records that may be in conflict, those most often wrong last."""
    parents, stated, seen = [], [], []
    for animal in population.animals:
        if animal.dam is not None or animal.sire is not None:
            parents.append(f"{animal.id}.parents")
        stated += [f"{animal.id}.founder.{locus}" for locus in animal.founder]
        if animal.founder_joint:
            stated.append(f"{animal.id}.founder_joint")
        seen += [f"{animal.id}.shows.{trait}" for trait in animal.shows]
        seen += [f"{animal.id}.likelihood.{locus}" for locus in animal.likelihood]
    for clutch in population.clutches:
        parents.append(f"{clutch.id}.parents")
        seen += [f"{clutch.id}.tally[{i}]" for i, line in enumerate(clutch.tally) if line.count]
    return tuple(parents + stated + seen)


def keep(population: Population, kept: set[str]) -> Population:
    """The population with only the named records; what is dropped leaves all possible."""
    sexes = population.sexes
    animals, clutches = [], []
    for clutch in population.clutches:
        lines = [
            line if f"{clutch.id}.tally[{i}]" in kept else replace(line, count=0)
            for i, line in enumerate(clutch.tally)
        ]
        if f"{clutch.id}.parents" in kept:
            clutches.append(clutch._replace(tally=tuple(lines)))
            continue
        for i, line in enumerate(lines):
            if line.count:
                stand_in = Animal(f"{clutch.id}.tally[{i}]", line.sex, shows=line.shows)
                animals.append(_free(population, stand_in, line.sex))
    loose = {clutch.id for clutch in population.clutches} - {clutch.id for clutch in clutches}
    for animal, sex in zip(population.animals, sexes, strict=True):
        animals.append(_keep_animal(population, animal, sex, kept, loose))
    return replace(population, animals=tuple(animals), clutches=tuple(clutches))


def _keep_animal(
    population: Population, animal: Animal, sex: Sex, kept: set[str], loose: set[str]
) -> Animal:
    shows = {t: s for t, s in animal.shows.items() if f"{animal.id}.shows.{t}" in kept}
    likelihood = {
        locus: w
        for locus, w in animal.likelihood.items()
        if f"{animal.id}.likelihood.{locus}" in kept
    }
    left = animal._replace(sex=sex, shows=shows, likelihood=likelihood)
    own = animal.dam is not None or animal.sire is not None
    if animal.clutch in loose or (own and f"{animal.id}.parents" not in kept):
        return _free(population, left._replace(dam=None, sire=None, clutch=None), sex)
    founder = dict(animal.founder)
    for locus in animal.founder:
        if f"{animal.id}.founder.{locus}" not in kept:
            founder[locus] = _anything(population, locus, sex)
    if animal.founder_joint and f"{animal.id}.founder_joint" not in kept:
        for locus in {one for row in animal.founder_joint for one in row.genotypes}:
            founder[locus] = _anything(population, locus, sex)
        left = left._replace(founder_joint=())
    return left._replace(founder=founder)


def _free(population: Population, animal: Animal, sex: Sex) -> Animal:
    """The animal as a founder of which every genotype is possible."""
    founder = {locus.id: _anything(population, locus.id, sex) for locus in population.loci}
    return animal._replace(founder=founder)


def _anything(population: Population, locus: str, sex: Sex) -> dict[str, float]:
    one = population.loci[population.locus_index[locus]]
    keys = reported_keys(one, population.sex_determination, sex)
    return dict.fromkeys(keys, 1.0 / len(keys))


def possible(population: Population, kept: set[str]) -> bool:
    """Whether the named records alone can all be true."""
    try:
        solve(keep(population, kept))
    except ImpossibleEvidence:
        return False
    return True


def smallest_conflict(population: Population) -> tuple[str, ...]:
    """A set of records, smallest by inclusion, that cannot all be true.

    Empty if none clash, and where even no record leaves nothing possible (a background that
    contradicts what is certain of the lines).
    """
    names = records(population)
    if possible(population, set(names)) or not possible(population, set()):
        return ()
    found = _divide(lambda kept: possible(population, set(kept)), (), False, names)
    return tuple(name for name in names if name in set(found))


def _divide(
    holds: Callable[[Sequence[str]], bool],
    base: tuple[str, ...],
    grown: bool,
    names: tuple[str, ...],
) -> tuple[str, ...]:
    """Smallest part of `names` that clashes given `base` (QuickXplain)."""
    if grown and not holds(base):
        return ()
    if len(names) == 1:
        return names
    half = len(names) // 2
    first, second = names[:half], names[half:]
    right = _divide(holds, base + first, bool(first), second)
    left = _divide(holds, base + right, bool(right), first)
    return left + right
