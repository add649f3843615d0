"""A smallest set of records that cannot all be true.

The set is smallest by inclusion: without any one of them the rest is possible.  Found by dividing
(Junker 2004, QuickXplain), with exact inference as the judge of what is possible.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import replace

from genetics.errors import ImpossibleEvidence
from genetics.keys import reported_keys
from genetics.population import Animal, Clutch, Population, Sex, Statement
from genetics.record_names import (
    RecordName,
    has_parents,
    parents_of,
    records,
    statement_of,
    tally_line,
    unused_id,
)
from genetics.solving import solve


def kept_only(population: Population, kept: Collection[RecordName]) -> Population:
    """The population with only the named records; what is dropped leaves all possible."""
    animals: list[Animal] = []
    clutches: list[Clutch] = []
    loose = set[str]()
    for clutch in population.clutches:
        lines = tuple(
            line if tally_line(clutch.id, i) in kept else replace(line, count=0)
            for i, line in enumerate(clutch.tally)
        )
        if parents_of(clutch) in kept:
            clutches.append(clutch._replace(tally=lines))
            continue
        loose.add(clutch.id)
        for i, line in enumerate(lines):
            if line.count:
                name = unused_id(population, str(tally_line(clutch.id, i)))
                animals.append(
                    _free(population, Animal(name, line.sex, shows=line.shows), line.sex)
                )
    for animal, sex in zip(population.animals, population.sexes, strict=True):
        animals.append(_kept_animal(population, animal, sex, kept, loose))
    return replace(population, animals=tuple(animals), clutches=tuple(clutches))


def _kept_animal(
    population: Population,
    animal: Animal,
    sex: Sex,
    kept: Collection[RecordName],
    loose: Collection[str],
) -> Animal:
    name = animal.id
    left = animal._replace(
        sex=sex,
        shows={
            trait: sighting
            for trait, sighting in animal.shows.items()
            if RecordName("animal", name, "shows", trait) in kept
        },
        likelihood={
            locus: weights
            for locus, weights in animal.likelihood.items()
            if RecordName("animal", name, "likelihood", locus) in kept
        },
        statements=tuple(
            one if statement_of(name, line) in kept else Statement(one.trust)
            for line, one in enumerate(animal.statements)
        ),
    )
    founder = dict(animal.founder)
    if animal.clutch in loose or (has_parents(animal) and parents_of(animal) not in kept):
        left = left._replace(dam=None, sire=None, clutch=None, retained=0, begins=())
        founder |= {
            locus.id: _anything(population, locus.id, sex)
            for locus in population.loci
            if locus.id not in animal.begins
        }
    for locus in animal.founder:
        if RecordName("animal", name, "founder", locus) not in kept:
            founder[locus] = _anything(population, locus, sex)
    if animal.founder_joint and RecordName("animal", name, "founder_joint") not in kept:
        for locus in {one for row in animal.founder_joint for one in row.genotypes}:
            founder[locus] = _anything(population, locus, sex)
        left = left._replace(founder_joint=())
    for line, one in enumerate(animal.statements):
        if statement_of(name, line) not in kept:
            founder |= {locus: _anything(population, locus, sex) for locus in one.founder_loci}
    return left._replace(founder=founder)


def _free(population: Population, animal: Animal, sex: Sex) -> Animal:
    """The animal as a founder of which every genotype is possible."""
    founder = {locus.id: _anything(population, locus.id, sex) for locus in population.loci}
    return animal._replace(founder=founder)


def _anything(population: Population, locus: str, sex: Sex) -> dict[str, float]:
    one = population.loci[population.locus_index[locus]]
    keys = reported_keys(one, population.sex_determination, sex)
    return dict.fromkeys(keys, 1.0 / len(keys))


def possible(population: Population, kept: Collection[RecordName]) -> bool:
    """Whether the named records alone can all be true."""
    try:
        solve(kept_only(population, kept))
    except ImpossibleEvidence:
        return False
    return True


def smallest_conflict(
    population: Population, among: Collection[RecordName] | None = None
) -> tuple[RecordName, ...]:
    """A set of records, smallest by inclusion, that cannot all be true.

    Of several such sets it is one and the same: of any two that differ, the last in order of all
    records wherein they differ is in the other.  So `among`, which looks in these records alone,
    finds the same wherever they hold it.

    Empty if none clash, and where even no record leaves nothing possible (a background that
    contradicts what is certain of the lines).
    """
    names = records(population)
    if among is not None:
        names = tuple(name for name in names if name in among)
    if possible(population, set(names)) or not possible(population, ()):
        return ()
    found = set(_divide(lambda kept: possible(population, set(kept)), (), False, names))
    return tuple(name for name in names if name in found)


def _divide(
    holds: Callable[[Sequence[RecordName]], bool],
    base: tuple[RecordName, ...],
    grown: bool,
    names: tuple[RecordName, ...],
) -> tuple[RecordName, ...]:
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
