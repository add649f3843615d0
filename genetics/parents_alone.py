"""What the parents alone give: the figure a breeder would print of a young, and nothing else.

It is worked out from the parents' figures and the animal's own look: Mendel, the parents taken as
independent of each other.  Their figures are those that the book would have if this animal had
never been entered (`genetics.parents_without`): neither its own look, which counts by itself, nor
what its young and theirs showed of it is in them; what its sibs and all others showed is.

So a normal young of two possible hets, 2/3 each, has one copy with chance 1/2: of 36 such young 16
have a couple of hets and are +/+, het, visual as 4 : 8 : 4; 16 have one het and are half +/+, half
het; 4 have none.  Of the 32 that look normal, 4 + 8 + 4 = 16 are +/+ and 8 + 8 = 16 are hets.

Each young gets parents of its own: founders with the parents' chances, joint over the loci that
hang together.  Where loci are plain that is a formula (`genetics.small_families`), else they are a
population of small families that is solved.  For a founder it is what is stated of it, with its own
look.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from genetics.copies import Copies, Counted, Table, count_copies, count_in_tables, joined
from genetics.errors import ImpossibleEvidence
from genetics.parents_without import ParentsWithout
from genetics.population import (
    NO_SIRE,
    NOTHING,
    Animal,
    Clutch,
    Couple,
    Number,
    Population,
    Sex,
    Sighting,
)
from genetics.remainder import Ancestry
from genetics.small_families import Family, SmallFamilies
from genetics.solving import Solved, solve

Parents = tuple[tuple[str | None, str | None, Number] | Couple, ...]
"""Possible couples: dam, sire and chance, and what young without sire retain."""


class Alone(NamedTuple):
    """Copies by the parents alone; each animal counted stands for itself and those like it."""

    copies: Copies
    stands_for: Mapping[str, Sequence[str]]


def by_parents_alone(
    solved: Solved,
    population: Population,
    young: Iterable[str],
    asked: Sequence[Counted],
    *,
    unseen: Collection[str] = (),
    parents: Mapping[str, Parents] = NOTHING,
    ancestry: Ancestry | None = None,
) -> Alone | None:
    """Count copies of some animals as the parents alone give them.

    None where a look is one that these parents cannot give by themselves, or there are no young.

    Args:
        solved: where the parents' posteriors stand.
        population: the animals with what was seen of them.
        young: ids of those who are asked about.
        asked: what is counted, as for `count_copies`.
        unseen: traits that are not looked at.
        parents: possible couples of animals whose parents the population does not have.
        ancestry: the ancestors of some animals, where the population does not have them all.
    """
    families = _Families(solved, population, frozenset(unseen), ancestry)
    for one in young:
        families.add(one, parents.get(one))
    if not families.stands_for:
        return None
    first = {members[0]: members for members in families.stands_for.values()}
    try:
        return Alone(families.copies(_of(asked, first)), first)
    except ImpossibleEvidence:
        return None


class _Families:
    """Small families, one for all young of whom the same is asked."""

    def __init__(
        self,
        solved: Solved,
        population: Population,
        unseen: frozenset[str],
        ancestry: Ancestry | None,
    ) -> None:
        self.solved, self.population, self.unseen = solved, population, unseen
        self.without = ParentsWithout(solved, ancestry)
        self.stands_for: dict[Hashable, list[str]] = {}
        # Record and couples of each that is asked; without couples it is a founder.
        self._asked: dict[str, tuple[Animal, Parents]] = {}
        self._looks: dict[int, Hashable] = {}

    def add(self, young: str, parents: Parents | None) -> None:
        at = self.population.animal_index[young]
        # An animal named as a dam or a sire is of that sex as if it were recorded.
        record = self.population.animals[at]._replace(sex=self.population.sexes[at])
        if parents is None:
            parents = self._recorded(record)
        likeness = self._likeness(record, parents) if parents else young
        same = self.stands_for.setdefault(likeness, [])
        same.append(young)
        if len(same) > 1:
            return
        self._asked[young] = record, parents
        named = dict.fromkeys(one for couple in parents for one in couple[:2])
        asked = [one for one in named if one is not None and one != NO_SIRE]
        if asked:
            self.without.ask(young, asked)

    def _shown(self, record: Animal) -> Mapping[str, Sighting]:
        if self.unseen.isdisjoint(record.shows):
            return record.shows
        return {name: look for name, look in record.shows.items() if name not in self.unseen}

    def _likeness(self, one: Animal, parents: Parents) -> Hashable:
        """Childless animals of the same parents of whom the same is recorded are asked once."""
        if self.without.links.has_bred(one.id) or one.statements or one.begins:
            return one.id
        shows = tuple(sorted((name, self._look(look)) for name, look in one.shows.items()))
        tests = tuple(
            sorted((locus, tuple(sorted(keys.items()))) for locus, keys in one.likelihood.items())
        )
        return parents, one.sex, (one.clutch, one.dam, one.sire, one.retained), shows, tests

    def _look(self, look: Sighting) -> Hashable:
        """What a sighting says; records share theirs."""
        if id(look) not in self._looks:
            misread = float(look.false_negative), float(look.false_positive)
            self._looks[id(look)] = (look.seen, *misread)
        return self._looks[id(look)]

    def _recorded(self, one: Animal) -> Parents:
        """The couples that the population has of an animal; without any it is a founder."""
        if one.clutch is not None:
            index = self.population.clutch_index
            return self.population.clutches[index[one.clutch]].candidates
        if one.dam is None and one.sire is None:
            return ()
        return (Couple(one.dam, one.sire, 1, one.retained),)

    def copies(self, asked: Sequence[Counted]) -> Copies:
        """Count copies: in closed form where that does, else by solving.

        Raises:
            ImpossibleEvidence: some parents cannot give a look by themselves.
        """
        closed, tables = self._closed(asked)
        parts = [count_in_tables(closed, tables, _of(asked, {*closed}))] if closed else []
        left = self._asked.keys() - {*closed}
        if left:
            small = self._made([one for one in self._asked if one in left])
            # What was said of other founders of the lot is not what this one's own word is.
            alone = solve(small.words_apart() if small.columns.told else small)
            parts.append(count_copies(alone, _of(asked, left)))
        return joined(parts)

    # --- in closed form ---------------------------------------------------------------------------

    def _closed(self, asked: Sequence[Counted]) -> tuple[list[str], dict[str, Table]]:
        """Those who are had in closed form, and the chances of their keys at each locus."""
        loci = [(count.label, count.locus) for part in asked for count in part.counts]
        scattered = len({label for label, _ in loci}) < len({*loci})
        if scattered or not (self.without.are_loci_apart and SmallFamilies.fits(self.solved)):
            return [], {}
        small = SmallFamilies(self.solved)
        founders = [one for one in self._asked if self._is_plain_founder(one)]
        families: dict[str, Family] = {}
        for name, (record, parents) in self._asked.items():
            if self._is_plain_young(record, parents):
                family = self._family(small, record, *parents[0][:2])
                if not family.is_faint:
                    families[name] = family
        index = self.solved.population.animal_index
        return [*founders, *families], small.tables(
            [index[one] for one in founders], list(families.values())
        )

    def _is_plain_founder(self, name: str) -> bool:
        """Whether what is recorded of a founder itself is all, and is in the solved book."""
        record, parents = self._asked[name]
        return (
            not (parents or record.founder_joint or record.statements or record.begins)
            and self.solved.population is self.population
            and self.unseen.isdisjoint(record.shows)
        )

    def _is_plain_young(self, record: Animal, parents: Parents) -> bool:
        return (
            len(parents) == 1
            and parents[0][1] != NO_SIRE
            and not record.statements
            and not record.begins
        )

    def _family(
        self, small: SmallFamilies, record: Animal, dam: str | None, sire: str | None
    ) -> Family:
        of_dam, of_sire = (
            small.unrecorded()
            if parent is None
            else small.parent(self.without.spreads(record.id, parent))
            for parent in (dam, sire)
        )
        return Family(of_dam, of_sire, small.shown(self._shown(record)))

    # --- as a population of small families --------------------------------------------------------

    def _made(self, names: Sequence[str]) -> Population:
        """The population of some of the small families."""
        born = [one for one in names if self._asked[one][1]]
        animals = [
            record._replace(shows=self._shown(record))
            for record, parents in map(self._asked.__getitem__, names)
            if not parents
        ]
        clutches = []
        for record, parents in map(self._asked.__getitem__, born):
            couples = []
            stand_ins: dict[str, Animal] = {}
            for one in (Couple(*each) for each in parents):
                dam = self._stand_in(stand_ins, record.id, one.dam, "female")
                sire = self._stand_in(stand_ins, record.id, one.sire, "male")
                couples.append(one._replace(dam=dam, sire=sire))
            # No id has a line break in it, so the clutch's is nobody's own.
            clutch = f"{record.id}\nclutch"
            clutches.append(Clutch(clutch, tuple(couples), stated_candidates=len(parents) > 1))
            young = Animal(record.id, record.sex, clutch=clutch, shows=self._shown(record))
            if record.begins:
                young = young._replace(
                    begins=record.begins, founder=record.founder,
                    founder_joint=record.founder_joint,
                    statements=tuple(replace(one, likelihood={}) for one in record.statements),
                )  # fmt: skip
            animals += [*stand_ins.values(), young]
        return replace(
            self.population, animals=tuple(animals), clutches=tuple(clutches), same_locus=()
        )

    def _stand_in(
        self, stand_ins: dict[str, Animal], young: str, parent: str | None, sex: Sex
    ) -> str | None:
        """A founder with what the parent has without this young, for this one alone."""
        if parent is None or parent == NO_SIRE:
            return parent
        name = f"{young}\n{sex}\n{parent}"
        if name not in stand_ins:
            stated = self.without.stated(young, parent)
            stand_ins[name] = Animal(name, sex, None, None, None, *stated)
        return name


def _of(asked: Sequence[Counted], names: Collection[str]) -> list[Counted]:
    """What is counted, of some animals alone."""
    return [
        part._replace(animals=tuple(one for one in part.animals if one in names)) for part in asked
    ]
