"""A book without an animal and all that descends from it, as far as that bears on some others.

Whoever is certain there lets nothing through: the walk from the asked animals along parents, young
and clutches stops there, and they stand at its border with their genotype.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Set
from dataclasses import dataclass, field
from typing import NamedTuple

from genetics.population import NO_SIRE, Animal, Clutch, Number, Population


class Certain(NamedTuple):
    """What is certain of an animal: genotype keys by locus, and whether they are all there is."""

    keys: Mapping[str, str]
    whole: bool


Fixed = Callable[[str], Certain | None]
"""What is certain of an animal in the remainder, or None."""


Ancestry = Callable[[Set[str]], Mapping[str, Set[str]]]
"""The ancestors of each of some animals."""


class Links:
    """Who bred what in a population: clutches by parent, young by clutch, young without one.

    `spoken_of` are the animals by the trust that what was said of them shares.
    """

    def __init__(self, population: Population) -> None:
        self.population = population
        self.bred: dict[str, list[str]] = defaultdict(list)
        self.hatched: dict[str, list[str]] = defaultdict(list)
        self.borne: dict[str, list[str]] = defaultdict(list)
        self.spoken_of: dict[str, list[str]] = defaultdict(list)
        self.parents: dict[str, tuple[str, ...]] = {}
        for clutch in population.clutches:
            named = (one for couple in clutch.candidates for one in (couple.dam, couple.sire))
            self.parents[clutch.id] = tuple(dict.fromkeys(_recorded(*named)))
            for parent in self.parents[clutch.id]:
                self.bred[parent].append(clutch.id)
        for animal in population.animals:
            if animal.clutch is not None:
                self.hatched[animal.clutch].append(animal.id)
            for one in _recorded(animal.dam, animal.sire):
                self.borne[one].append(animal.id)
            for said in animal.statements:
                self.spoken_of[said.trust].append(animal.id)

    def has_bred(self, animal: str) -> bool:
        """Whether an animal is, or may be, a parent."""
        return animal in self.bred or animal in self.borne

    def ancestry(self, animals: Set[str]) -> dict[str, Set[str]]:
        """All that each of some animals may descend from."""
        return {one: self._ancestors(one) for one in animals}

    def _ancestors(self, animal: str) -> set[str]:
        population = self.population
        found, ahead = set[str](), [animal]
        while ahead:
            one = population.animals[population.animal_index[ahead.pop()]]
            above = set(_recorded(one.dam, one.sire))
            if one.clutch is not None:
                above.update(self.parents[one.clutch])
            ahead += above - found
            found |= above
        return found

    def with_descendants(self, animal: str, stays: Callable[[str], bool]) -> set[str]:
        """An animal, all that may descend from it, and the clutches it and these may have bred.

        Down to whoever stays.
        """
        gone, ahead = {animal}, [animal]
        while ahead:
            name = ahead.pop()
            clutches = set(self.bred.get(name, ())) - gone
            young = {one for clutch in clutches for one in self.hatched.get(clutch, ())}
            young |= set(self.borne.get(name, ()))
            young = {one for one in young if not stays(one)}
            ahead += young - gone
            gone |= clutches | young
        return gone


@dataclass
class _Walk:
    """From some animals outwards: who is inside, who is certain at the border, what clutches.

    `known` is what is certain of some of those inside.
    """

    links: Links
    gone: Set[str]
    fixed: Fixed
    inside: set[str] = field(default_factory=set)
    border: dict[str, Mapping[str, str]] = field(default_factory=dict)
    known: dict[str, Mapping[str, str]] = field(default_factory=dict)
    clutches: set[str] = field(default_factory=set)
    ahead: list[str] = field(default_factory=list)

    def go(self) -> None:
        animals, index = self.links.population.animals, self.links.population.animal_index
        while self.ahead:
            name = self.ahead.pop()
            if name in self.gone or name in self.inside or name in self.border:
                continue
            certain = self.fixed(name)
            if certain is not None:
                (self.border if certain.whole else self.known)[name] = certain.keys
            if name in self.border:
                continue
            self.inside.add(name)
            self._beside(animals[index[name]])

    def _beside(self, one: Animal) -> None:
        animals, index = self.links.population.animals, self.links.population.animal_index
        self._meet(one)
        for said in one.statements:
            self.ahead += self.links.spoken_of[said.trust]
        for young in self.links.borne.get(one.id, ()):
            if young not in self.gone:
                self.ahead.append(young)
                self._meet(animals[index[young]])
        for clutch in self.links.bred.get(one.id, ()):
            self._enter(clutch)

    def _meet(self, one: Animal) -> None:
        """Go on to the parents of an animal."""
        if one.clutch is not None:
            self._enter(one.clutch)
        self.ahead += _recorded(one.dam, one.sire)

    def _enter(self, clutch: str) -> None:
        if clutch not in self.gone and clutch not in self.clutches:
            self.clutches.add(clutch)
            self.ahead += self.links.parents[clutch]
            self.ahead += self.links.hatched.get(clutch, ())


def remainder(
    links: Links, starts: Iterable[str], gone: Set[str], fixed: Fixed, mark: str = ""
) -> tuple[list[Animal], list[Clutch]]:
    """The records that bear on some animals where others, with their clutches, are gone.

    Sexes are written out, as recorded or as use for a parent tells.

    Args:
        links: of the population.
        starts: the animals asked about.
        gone: ids of animals and clutches, as `Links.with_descendants` gives them.
        fixed: what is certain of an animal in the remainder.
        mark: is put before each id, so that several remainders fit into one population.
    """
    walk = _Walk(links, gone, fixed, ahead=list(starts))
    walk.go()
    population = links.population
    there = sorted(walk.inside | walk.border.keys(), key=population.animal_index.__getitem__)
    animals = [
        _marked(_held(walk, population.animals[at])._replace(sex=population.sexes[at]), mark)
        for at in map(population.animal_index.__getitem__, there)
    ]
    clutches = [
        _marked_clutch(population.clutches[at], mark)
        for at in sorted(map(population.clutch_index.__getitem__, walk.clutches))
    ]
    return animals, clutches


def _held(walk: _Walk, one: Animal) -> Animal:
    """What is certain is held; one at the border as a child of somebody inside, else a founder.

    One of whom a parent is gone stays as one without parents.
    """
    if one.id in walk.inside:
        known = _genotypes(walk.known.get(one.id, {}))
        return one._replace(likelihood={**one.likelihood, **known}) if known else one
    genotypes = _genotypes(walk.border[one.id])
    bare = Animal(one.id, one.sex)
    parents = {one.dam, one.sire}
    if one.clutch in walk.clutches or (parents & walk.inside and not parents & walk.gone):
        return bare._replace(
            dam=one.dam, sire=one.sire, clutch=one.clutch, retained=one.retained,
            likelihood=genotypes, begins=one.begins,
        )  # fmt: skip
    return bare._replace(founder=genotypes)


def _genotypes(keys: Mapping[str, str]) -> dict[str, Mapping[str, Number]]:
    return {locus: {key: 1} for locus, key in keys.items()}


def _recorded(*parents: str | None) -> list[str]:
    """Those of some parents that have a record."""
    return [one for one in parents if one is not None and one != NO_SIRE]


def _name(mark: str, one: str | None) -> str | None:
    return one if one is None or one == NO_SIRE else mark + one


def _marked(one: Animal, mark: str) -> Animal:
    if not mark:
        return one
    return one._replace(
        id=mark + one.id,
        dam=_name(mark, one.dam),
        sire=_name(mark, one.sire),
        clutch=_name(mark, one.clutch),
    )


def _marked_clutch(one: Clutch, mark: str) -> Clutch:
    if not mark:
        return one
    candidates = tuple(
        couple._replace(dam=_name(mark, couple.dam), sire=_name(mark, couple.sire))
        for couple in one.candidates
    )
    return one._replace(id=mark + one.id, candidates=candidates)
