"""A component of the book as a population of the engine, and its records led back to rows."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from types import MappingProxyType
from typing import TypedDict

import genetics
from keeper import models as m
from keeper.domain.inference.reading.asked_traits import LABORATORY, WORD, again
from keeper.domain.inference.reading.carriers import Component
from keeper.domain.inference.reading.founders import said
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.keys_of import couple
from keeper.domain.inference.reading.looks import SeenRow, Source, can_differ, sighting
from keeper.domain.inference.reading.papers import bred_elsewhere, once
from keeper.domain.inference.reading.rows import (
    ALONE,
    AnimalRow,
    ClutchRow,
    Rows,
    TestedRow,
)
from keeper.domain.inference.reading.statements import StatedRow, lots, shared, weighed

_NO_LOOKS: dict[int, SeenRow] = {}


@dataclass
class EngineBook:
    """A population with the rows behind each of its records.

    Attributes:
        population: for `genetics`.
        groups: what was asked about whom.
        sources: name of each record → rows.
        clutch_ids: what the engine calls each clutch.
    """

    population: genetics.Population
    groups: Mapping[LocusGroup, set[int]]
    sources: dict[genetics.RecordName, tuple[Source, ...]] = field(default_factory=dict)
    clutch_ids: Mapping[int, str] = field(default_factory=dict)


def parent_code(rows: Rows, pk: int | None) -> str | None:
    """What the engine calls a parent: one that is recorded, is not recorded, or was none."""
    if pk is None:
        return None
    return genetics.NO_SIRE if pk == ALONE else rows.animals[pk].code


def clutch_ids(rows: Rows, animals: Iterable[int], clutches: Iterable[int]) -> dict[int, str]:
    """What the engine calls clutches: their codes, marked where one of the animals has it too.

    Animals go by their codes; in the engine's words an animal and a clutch never share one.
    """
    taken = {rows.animals[pk].code for pk in animals}
    codes = {pk: rows.clutches[pk].code for pk in clutches}
    # No code has a space in it, so a marked one is nobody's own.
    return {pk: f"{code} (clutch)" if code in taken else code for pk, code in codes.items()}


def engine_book(
    inheritance: Inheritance,
    rows: Rows,
    component: Component,
    *,
    also: Iterable[int] = (),
    certain: Mapping[int, Mapping[str, str]] = MappingProxyType({}),
) -> EngineBook:
    """Write a component in the words of `genetics`; mates from outside it are normal founders.

    `also` names animals that must be there whether they are of the component or not. `certain`
    gives the genotypes of those outside the component who are not normal: keys by name of locus.
    """
    return _Maker(inheritance, rows, component, set(also), certain).make()


class _Parents(TypedDict, total=False):
    """The parents of an animal as arguments of an engine's `Animal`; none of a founder."""

    dam: str | None
    sire: str | None
    clutch: str


class _Maker:
    def __init__(
        self,
        inheritance: Inheritance,
        rows: Rows,
        component: Component,
        also: set[int],
        certain: Mapping[int, Mapping[str, str]],
    ) -> None:
        self.inheritance = inheritance
        self.also = also
        self.certain = certain
        self.rows = rows
        self.component = component
        self.inside = set().union(*component.animals.values())
        self.clutches = set().union(*component.clutches.values())
        self.loci = frozenset(pk for group in component.animals for pk in group.loci)
        self.traits = {pk for group in component.animals for pk in group.traits}
        self.sources: dict[genetics.RecordName, tuple[Source, ...]] = {}
        self.sightings: dict[tuple[int, tuple[bool, ...]], genetics.Sighting] = {}
        # Traits seen, and those looked for and not seen, on hatchlings without records of theirs.
        self.alike: dict[tuple[frozenset[int], ...], dict[str, genetics.Sighting]] = {}
        # Traits of which looks at one animal contradict each other.
        self.contradicted: set[int] = set()
        self.lines = {pk for group in component.animals for pk in group.lines}
        # Question put to a laboratory: line, copies asked for, and which time → its trait.
        self.questions: dict[tuple[int, str, int], str] = {}
        # Question whether a source's word is true → trait, line and claim.
        self.words: dict[str, tuple[int, int | None, m.Claim]] = {}
        # What animals are seen not to be by what they bred elsewhere.
        self.bred: list[genetics.Trait] = []
        # Words that hold together or not at all: statement → its trust.
        self.bought = lots(rows, sorted(self.inside), self.traits)
        self.trusts = shared(self.bought)
        self.retained = inheritance.retained(self.loci)

    def make(self) -> EngineBook:
        border = {parent for pk in self.clutches for parent in self.rows.clutches[pk].parents} | {
            parent for pk in self.inside for parent in self.rows.parents(self.rows.animals[pk])
        }
        everyone = sorted(self.inside | border | self.also)
        self.clutch_ids = clutch_ids(self.rows, everyone, sorted(self.clutches))
        animals = [self._animal(self.rows.animals[pk]) for pk in everyone]
        clutches = [self._clutch(self.rows.clutches[pk]) for pk in sorted(self.clutches)]
        parts = self.inheritance.engine_parts(self.loci, self.traits, self.contradicted)
        # What a laboratory looked for is seen like a trait, by its own eye.
        parts["traits"] += tuple(
            self.inheritance.tested(line, copies, name)
            for (line, copies, _), name in self.questions.items()
        )
        parts["traits"] += tuple(
            self.inheritance.worded(*word, name) for name, word in self.words.items()
        )
        parts["traits"] += tuple(self.bred)
        population = genetics.Population(
            animals=tuple(animals), clutches=tuple(clutches), trust=self._trust(), **parts
        )
        return EngineBook(population, self.component.animals, self.sources, self.clutch_ids)

    def _trust(self) -> dict[str, Fraction]:
        """How far the words are taken that share a trust."""
        words = (word for lot in self.bought.values() for word in lot.values())
        return {self.trusts[one.pk]: one.reliability for one in words if one.pk in self.trusts}

    def _code(self, pk: int | None) -> str | None:
        return parent_code(self.rows, pk)

    def _animal(self, one: AnimalRow) -> genetics.Animal:
        if one.pk not in self.inside:
            return self._outside(one)
        shows = self._shows(one, self._traits(one.pk))
        parents, begun = self._parents(one), self._begun(one.pk)
        if parents and not begun:
            return genetics.Animal(id=one.code, sex=one.sex, shows=shows, **parents)
        loci, stated, seen = self._said(one, begun if parents else self._groups(one.pk))
        spoken = {row.trait for row in stated}
        told = said(
            self.inheritance,
            sex=one.sex,
            loci=loci,
            statements=stated,
            seen=seen,
            tested=[
                test.line
                for test in self._tests(one)
                if test.found != m.Found.NONE
                and self.inheritance.lines[test.line].trait_id not in spoken
            ],
            began=self._began(one.pk),
            trusts=self.trusts,
        )
        for (part, locus), rests in told.rests_on.items():
            name = genetics.RecordName("animal", one.code, part, locus)
            self.sources[name] = rests or (("animal", one.pk),)
        for place, statement in enumerate(told.spoken):
            name = genetics.RecordName("animal", one.code, "statements", line=place)
            self.sources[name] = (("statement", statement),)
        found = genetics.Animal(
            id=one.code, sex=one.sex, shows=shows,
            founder=told.founder, founder_joint=told.founder_joint, statements=told.statements,
        )  # fmt: skip
        if not parents:
            return found
        begins = tuple(self.inheritance.loci[pk].name for pk in sorted(loci))
        return found._replace(**parents, begins=begins)

    def _outside(self, one: AnimalRow) -> genetics.Animal:
        """Somebody certain: as a parent a founder, as a young held to its genotype."""
        keys = self.certain.get(one.pk, {})
        parents = self._near_parents(one) if one.pk in self.certain else {}
        if not parents:
            known = {locus: {key: 1} for locus, key in keys.items()}
            return genetics.Animal(id=one.code, sex=one.sex, founder=known)
        held = {}
        for pk in self.loci:
            name = self.inheritance.loci[pk].name
            normal = self.inheritance.wild_keys(pk, one.sex)
            held[name] = {keys[name]: 1} if name in keys else dict.fromkeys(normal, 1)
        shows = self._shows(one, self.traits)
        return genetics.Animal(id=one.code, sex=one.sex, shows=shows, likelihood=held, **parents)

    def _near_parents(self, one: AnimalRow) -> _Parents:
        """Its parents, where one of them is in question."""
        if self._began(one.pk):
            return {}
        if one.clutch is not None and one.clutch in self.clutches:
            return {"clutch": self.clutch_ids[one.clutch]}
        if {one.dam, one.sire} & self.inside:
            return {"dam": self._code(one.dam), "sire": self._code(one.sire)}
        return {}

    def _parents(self, one: AnimalRow) -> _Parents:
        if len(self._begun(one.pk)) == len(self.component.animals):
            return {}
        if one.clutch is not None and one.clutch in self.clutches:
            return {"clutch": self.clutch_ids[one.clutch]}
        if one.dam is None and one.sire is None:
            return {}
        self.sources[genetics.RecordName("animal", one.code, "parents")] = (("animal", one.pk),)
        return {"dam": self._code(one.dam), "sire": self._code(one.sire)}

    def _began(self, pk: int) -> dict[int, int]:
        """Lines of the component that began with an animal, and the rows that say so."""
        found = self.rows.arisen.get(pk)
        return {line: row for line, row in found.items() if line in self.lines} if found else {}

    def _begun(self, pk: int) -> list[LocusGroup]:
        """Groups of the component of which an animal has nothing from its parents."""
        lines = self._began(pk).keys()
        return [group for group in self.component.animals if group.lines & lines] if lines else []

    def _traits(self, pk: int) -> Collection[int]:
        """The traits that are decided here of an animal that is inside."""
        if len(self.component.animals) == 1:
            return self.traits
        return {trait for group in self._groups(pk) for trait in group.traits}

    def _groups(self, pk: int) -> list[LocusGroup]:
        return [group for group, animals in self.component.animals.items() if pk in animals]

    def _said(
        self, one: AnimalRow, groups: list[LocusGroup]
    ) -> tuple[frozenset[int], list[StatedRow], list[int]]:
        """Loci of some groups, and what is said and was seen of one that is a founder there."""
        traits = {pk for group in groups for pk in group.traits}
        stated = [row for row in self.rows.first_words(one.pk) if row.trait in traits]
        spoken = {row.trait for row in stated}
        # Of a double form that was seen, a word on its base says as much as one on itself.
        spoken |= {t for t in traits if self.inheritance.traits[t].base_id in spoken}
        seen = [
            trait
            for trait, row in sorted(self.rows.observations.get(one.pk, {}).items())
            if row.seen and trait in traits and trait not in spoken
        ]
        return frozenset(pk for group in groups for pk in group.loci), stated, seen

    def _shows(self, one: AnimalRow, traits: Collection[int]) -> dict[str, genetics.Sighting]:
        found: dict[str, genetics.Sighting] = {}
        looks = self.rows.observations.get(one.pk, _NO_LOOKS)
        # An animal is looked at for all traits of its species; few of them are decided here.
        for trait in looks.keys() & traits if len(traits) == 1 else looks:
            if trait in traits:
                for name, told in self._told(trait, looks[trait]):
                    found[name] = self._sighting(trait, *(look.seen for look in told))
                    self.sources[_look(one, name)] = tuple(sorted(look.source for look in told))
        for said_of in once(self.rows.other_words(one.pk)):
            if said_of.claim == m.Claim.RESULTS and said_of.trait in traits:
                for trait_of, seen in bred_elsewhere(self.inheritance, said_of):
                    self.bred.append(trait_of)
                    found[trait_of.id] = seen
                    self.sources[_look(one, trait_of.id)] = (("statement", said_of.pk),)
            elif said_of.trait in traits and said_of.reliability > 0:
                name = self._word(said_of, found)
                found[name] = weighed(said_of)
                self.sources[_look(one, name)] = (("statement", said_of.pk),)
        for test in self._tests(one):
            copies = m.Found.CARRIES if test.found == m.Found.NONE else test.found
            times = sum(name in found for name in self._asked(test.line, copies))
            name = self._question(test.line, copies, times)
            found[name] = genetics.Sighting(
                seen=test.found != m.Found.NONE,
                false_negative=test.misses,
                false_positive=test.mistakes,
            )
            self.sources[_look(one, name)] = (("labtest", test.pk),)
        return found

    def _tests(self, one: AnimalRow) -> list[TestedRow]:
        tests = self.rows.lab_tests.get(one.pk)
        return [test for test in tests if test.line in self.lines] if tests else []

    def _asked(self, line: int, copies: str) -> list[str]:
        return [name for key, name in self.questions.items() if key[:2] == (line, copies)]

    def _question(self, line: int, copies: str, times: int) -> str:
        """The trait that stands for a question to a laboratory; one for each time it is put."""
        key = (line, copies, times)
        if key not in self.questions:
            again = f" ({times + 1})" if times else ""
            label = m.Found(copies).label
            self.questions[key] = f"{LABORATORY}{self.inheritance.lines[line]}, {label}{again}"
        return self.questions[key]

    def _word(self, said_of: StatedRow, taken: Collection[str]) -> str:
        """The trait that stands for the question whether a word is true; one for each time."""
        claim = m.Claim.CARRIES if said_of.claim == m.Claim.CLEAR else m.Claim(said_of.claim)
        times = 0
        while (name := f"{WORD}{said_of.trait} {said_of.line} {claim} {times}") in taken:
            times += 1
        self.words[name] = (said_of.trait, said_of.line, claim)
        return name

    def _told(self, trait: int, last: SeenRow) -> list[tuple[str, list[SeenRow]]]:
        """The looks at one animal for one trait, by the engine's trait that they speak of.

        Looks that cannot all be true are two records: one may be wrong without the other.
        """
        looks, name = list(last.all()), self.inheritance.traits[trait].name
        seen = [look for look in looks if look.seen]
        unseen = [look for look in looks if not look.seen]
        one = self.inheritance.traits[trait]
        if not (seen and unseen) or can_differ(one, len(seen), len(unseen)):
            return [(name, looks)]
        self.contradicted.add(trait)
        return [(name, seen), (again(name), unseen)]

    def _sighting(self, trait: int, *seen: bool) -> genetics.Sighting:
        """What looks at one animal say, taken together."""
        key = trait, tuple(sorted(seen))
        if key not in self.sightings:
            self.sightings[key] = sighting(self.inheritance.traits[trait], key[1])
        return self.sightings[key]

    def _traits_in(self, clutch: int) -> set[int]:
        """The traits that are decided here of what hatched in a clutch."""
        if len(self.component.clutches) == 1:
            return self.traits
        groups = self.component.clutches.items()
        return {pk for group, clutches in groups if clutch in clutches for pk in group.traits}

    def _tallied(
        self, seen: frozenset[int], unseen: frozenset[int]
    ) -> dict[str, genetics.Sighting]:
        """What was seen and not seen on hatchlings that are only counted."""
        shows = self.alike.get((seen, unseen))
        if shows is None:
            shows = self.alike[seen, unseen] = {
                self.inheritance.traits[trait].name: self._sighting(trait, trait in seen)
                for trait in sorted(seen | unseen)
            }
        return shows

    def _clutch(self, one: ClutchRow) -> genetics.Clutch:
        traits, own = self._traits_in(one.pk), self.clutch_ids[one.pk]
        self.sources[genetics.RecordName("clutch", own, "parents")] = (("clutch", one.pk),)
        tally: list[genetics.TallyLine] = []
        for row in self.rows.tallies.get(one.pk, ()):
            if row.tally:
                self.sources[genetics.tally_line(own, len(tally))] = (("hatchrow", row.pk),)
                shows = self._tallied(row.seen & traits, row.unseen & traits)
                tally.append(genetics.TallyLine(count=row.tally, sex=row.sex, shows=shows))
        sires = one.sires
        return genetics.Clutch(
            id=own,
            candidates=tuple(
                couple(self._code(one.dam), self._code(sire), share, self.retained)
                for sire, share in sires
            ),
            paternity=one.paternity,
            tally=tuple(tally),
            stated_candidates=len(sires) > 1,
        )


def _look(one: AnimalRow, trait: str) -> genetics.RecordName:
    return genetics.RecordName("animal", one.code, "shows", trait)
