"""The part of a book that can bear on one animal at one locus.

Two cuts, both exact for the posterior of that animal there: animals without evidence of their
own or below them tell nothing of their relatives, nor do families with no such path to the
animal; and loci that nothing joins to the asked one are independent of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import TypeVar

from genetics.population import (
    NO_SIRE,
    Animal,
    Clutch,
    Population,
    Retained,
    TallyLine,
    Trait,
)

Place = tuple[str, str]
"""What evidence travels through: ("animal", id), ("clutch", id) or ("trust", name)."""


def relevant(population: Population, animal: str, locus: str) -> Population:
    """The smallest book, by these rules, with the same posterior of the animal at the locus.

    Sexes are written out, as recorded or as use for a parent tells, so that a relation can be
    left out later without losing a sex.  Evidence that is impossible in a part that is cut off
    goes unnoticed.  Cost: linear in the records.
    """
    near = _connected(population, animal)
    return _connected(at_loci(near, coupled_loci(near, locus)), animal)


def coupled_loci(population: Population, locus: str) -> frozenset[str]:
    """The loci that linkage, traits, statements, lines, sex or parentage join to one locus."""
    every = frozenset(one.id for one in population.loci)
    if any(len(clutch.candidates) > 1 for clutch in population.clutches):
        return every  # which couple it was is told by all loci together
    groups: list[frozenset[str]] = [frozenset(one.loci) for one in population.linkage]
    groups += [frozenset(entry.loci) for entry in population.same_locus]
    groups.append(frozenset(one.id for one in population.loci if one.chromosome != "autosome"))
    groups += [_joint_loci(animal) for animal in population.animals]
    groups += _said_together(population)
    by_trait = _sighted_loci(population)
    groups += list(by_trait.values())
    found = frozenset((locus,))
    grown = True
    while grown:
        wider = found.union(*(group for group in groups if group & found))
        grown, found = wider != found, wider
    return found


def _joint_loci(animal: Animal) -> frozenset[str]:
    return frozenset(locus for row in animal.founder_joint for locus in row.genotypes)


def _said_together(population: Population) -> list[frozenset[str]]:
    """The loci that one trust speaks of: that words fail at one tells of the others."""
    found: dict[str, frozenset[str]] = {}
    for animal in population.animals:
        for one in animal.statements:
            found[one.trust] = found.get(one.trust, frozenset()) | one.founder_loci
            found[one.trust] |= one.likelihood.keys()
    return list(found.values())


def _trait_loci(trait: Trait) -> frozenset[str]:
    return frozenset(trait.recessive_at).union(*trait.shown_by)


def _hiders(population: Population, name: str) -> Iterator[Trait]:
    for other in population.traits:
        if other.id != name and ("*" in other.hides or name in other.hides):
            yield other


def _sighted_loci(population: Population) -> dict[str, frozenset[str]]:
    """For each trait that was looked for, the loci on which its being visible depends."""
    seen = {name for animal in population.animals for name in animal.shows}
    for clutch in population.clutches:
        seen.update(name for line in clutch.tally for name in line.shows)
    return {
        trait.id: _trait_loci(trait).union(
            *(_trait_loci(other) for other in _hiders(population, trait.id))
        )
        for trait in population.traits
        if trait.id in seen
    }


Value = TypeVar("Value")


def _only(mapping: Mapping[str, Value], wanted: Iterable[str]) -> dict[str, Value]:
    chosen = set(wanted)
    return {name: value for name, value in mapping.items() if name in chosen}


def at_loci(population: Population, loci: frozenset[str]) -> Population:
    """The book at a set of loci that nothing joins to the others."""
    sighted = {name for name, on in _sighted_loci(population).items() if on & loci}
    wanted = set(sighted)
    for name in sighted:
        wanted.update(trait.id for trait in _hiders(population, name))
    traits = tuple(
        replace(trait, hides=tuple(h for h in trait.hides if h == "*" or h in wanted))
        for trait in population.traits
        if trait.id in wanted
    )
    viability = tuple(one for one in population.viability if one.locus in loci)
    return replace(
        population,
        loci=tuple(one for one in population.loci if one.id in loci),
        traits=traits,
        linkage=tuple(one for one in population.linkage if loci.issuperset(one.loci)),
        viability=viability,
        background=_only(population.background, loci),
        same_locus=tuple(one for one in population.same_locus if loci.issuperset(one.loci)),
        animals=tuple(_animal_at(animal, loci, sighted) for animal in population.animals),
        clutches=tuple(
            clutch._replace(
                tally=tuple(_line_at(line, sighted, bool(viability)) for line in clutch.tally),
                candidates=tuple(
                    one._replace(retained=_retained_at(one.retained, loci))
                    for one in clutch.candidates
                ),
            )
            for clutch in population.clutches
        ),
    )


def _animal_at(animal: Animal, loci: frozenset[str], sighted: set[str]) -> Animal:
    return animal._replace(
        founder=_only(animal.founder, loci),
        founder_joint=animal.founder_joint if _joint_loci(animal) & loci else (),
        shows=_only(animal.shows, sighted),
        likelihood=_only(animal.likelihood, loci),
        retained=_retained_at(animal.retained, loci),
        statements=tuple(one.at(loci) for one in animal.statements),
        begins=tuple(locus for locus in animal.begins if locus in loci),
    )


def _retained_at(retained: Retained, loci: frozenset[str]) -> Retained:
    if not isinstance(retained, tuple):
        return retained
    return tuple((locus, chance) for locus, chance in retained if locus in loci)


def _line_at(line: TallyLine, sighted: set[str], viability: bool) -> TallyLine:
    shows = _only(line.shows, sighted)
    return replace(line, shows=shows, count=line.count if shows or viability else 0)


def _connected(population: Population, animal: str) -> Population:
    """The animals with a path to one animal along which evidence can travel.

    Whether two lines are one locus is one question for the whole book, so that where it is open
    every animal with evidence has such a path.
    """
    informative = _ancestral(population, animal)
    if population.same_locus:
        return _kept(population, informative)
    ties: dict[Place, list[Place]] = {place: [] for place in informative}
    for place in informative:
        for other in _above(population, place):
            ties[place].append(other)
            ties[other].append(place)
    reached: set[Place] = {("animal", animal)}
    ahead = list(reached)
    while ahead:
        for place in ties[ahead.pop()]:
            if place not in reached:
                reached.add(place)
                ahead.append(place)
    return _kept(population, reached)


def _kept(population: Population, places: set[Place]) -> Population:
    animals = zip(population.animals, population.sexes, strict=True)
    return replace(
        population,
        animals=tuple(a._replace(sex=s) for a, s in animals if ("animal", a.id) in places),
        clutches=tuple(c for c in population.clutches if ("clutch", c.id) in places),
    )


def _ancestral(population: Population, animal: str) -> set[Place]:
    """The animal, all that carry evidence, and everything above these."""
    living = bool(population.viability)  # that a hatchling lived then tells of its parents
    ahead: list[Place] = [("animal", animal)]
    lines = bool(population.same_locus)  # that two statements fit one locus tells of the lines
    ahead += _told_by_sex(population)
    ahead += [("animal", a.id) for a in population.animals if _is_informative(a, living, lines)]
    ahead += [("clutch", c.id) for c in population.clutches if _clutch_is_informative(c, living)]
    found = set(ahead)
    while ahead:
        for place in _above(population, ahead.pop()):
            if place not in found:
                found.add(place)
                ahead.append(place)
    return found


def _told_by_sex(population: Population) -> Iterator[Place]:
    """Clutches that may have no sire, with the young of known sex, which tells of it."""
    doubtful = {
        clutch.id
        for clutch in population.clutches
        if len(clutch.candidates) > 1 and any(one.sire == NO_SIRE for one in clutch.candidates)
    }
    if not doubtful or population.sex_determination == "none":
        return
    for animal, sex in zip(population.animals, population.sexes, strict=True):
        if animal.clutch in doubtful and sex != "unknown":
            yield "animal", animal.id
    for clutch in population.clutches:
        if clutch.id in doubtful and any(one.sex != "unknown" for one in clutch.tally):
            yield "clutch", clutch.id


def _is_informative(animal: Animal, living: bool, lines: bool) -> bool:
    born = animal.clutch is not None or animal.dam is not None or animal.sire is not None
    stated = lines and bool(animal.founder or animal.founder_joint or animal.statements)
    tested = animal.likelihood or any(one.likelihood for one in animal.statements)
    return bool(animal.shows or tested) or stated or (living and born)


def _clutch_is_informative(clutch: Clutch, living: bool) -> bool:
    return any(line.count and (line.shows or living) for line in clutch.tally)


def _above(population: Population, place: Place) -> Iterator[Place]:
    kind, name = place
    if kind == "trust":
        return
    if kind == "clutch":
        for couple in population.clutches[population.clutch_index[name]].candidates:
            for parent in (couple.dam, couple.sire):
                if parent is not None and parent != NO_SIRE:
                    yield "animal", parent
        return
    animal = population.animals[population.animal_index[name]]
    for one in animal.statements:
        yield "trust", one.trust
    if animal.clutch is not None:
        yield "clutch", animal.clutch
    for parent in (animal.dam, animal.sire):
        if parent is not None and parent != NO_SIRE:
            yield "animal", parent
