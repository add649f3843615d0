"""What the parents alone give: their posteriors as if independent, Mendel, and the young's look.

Each young gets parents of its own in a population of small families, solved by the same engine:
founders with the parents' posterior probabilities.  Young with the same parents, the same sex and
the same look share one family.  For a founder it is what is stated of it, with its own look.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from genetics.copies import Copies, Counted, count_copies
from genetics.errors import ImpossibleEvidence
from genetics.keys import reported_keys
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
    """
    families = _Families(solved, population, frozenset(unseen))
    for one in young:
        families.add(one, parents.get(one))
    if not families.animals:
        return None
    small = replace(
        population,
        animals=tuple(families.animals), clutches=tuple(families.clutches), same_locus=(),
    )  # fmt: skip
    try:
        # What was said of other founders of the lot is not what this one's own word is.
        alone = solve(small.words_apart() if small.columns.told else small)
    except ImpossibleEvidence:
        return None
    first = {members[0]: members for members in families.stands_for.values()}
    counted = [
        part._replace(animals=tuple(one for one in part.animals if one in first)) for part in asked
    ]
    return Alone(count_copies(alone, counted), first)


class _Families:
    def __init__(self, solved: Solved, population: Population, unseen: frozenset[str]) -> None:
        self.solved, self.population, self.unseen = solved, population, unseen
        self.animals: list[Animal] = []
        self.clutches: list[Clutch] = []
        self.stands_for: dict[object, list[str]] = {}
        self._named = set[str]()
        self._posteriors: dict[str, dict[str, dict[str, float]]] = {}
        self._rows: dict[str, list[list[float]]] = {}
        self._reported: dict[tuple[str, Sex], list[tuple[str, int]]] = {}

    def add(self, young: str, parents: Parents | None) -> None:
        record = self.population.animals[self.population.animal_index[young]]
        if parents is None:
            parents = self._recorded(record)
        shows: Mapping[str, Sighting] = record.shows
        if self.unseen and not self.unseen.isdisjoint(shows):
            shows = {name: look for name, look in shows.items() if name not in self.unseen}
        if parents:
            looks = tuple(sorted((name, look.seen) for name, look in shows.items()))
            same = self.stands_for.setdefault((parents, record.sex, looks), [])
        else:
            same = self.stands_for.setdefault(young, [])
        same.append(young)
        if len(same) > 1:
            return
        if not parents:
            self.animals.append(record._replace(shows=shows))
            return
        couples = tuple(
            one._replace(
                dam=self._stand_in(young, one.dam, "female"),
                sire=self._stand_in(young, one.sire, "male"),
            )
            for one in (Couple(*each) for each in parents)
        )
        # No id has a line break in it, so the clutch's is nobody's own.
        clutch = f"{young}\nclutch"
        self.clutches.append(Clutch(clutch, couples, stated_candidates=len(parents) > 1))
        self.animals.append(Animal(young, record.sex, clutch=clutch, shows=shows))

    def _recorded(self, one: Animal) -> Parents:
        """The couples that the population has of an animal; without any it is a founder."""
        if one.clutch is not None:
            index = self.population.clutch_index
            return self.population.clutches[index[one.clutch]].candidates
        if one.dam is None and one.sire is None:
            return ()
        return (Couple(one.dam, one.sire, 1, one.retained),)

    def _stand_in(self, young: str, parent: str | None, sex: Sex) -> str | None:
        """A founder with the parent's posterior, for this young alone; wild needs none."""
        if parent is None or parent == NO_SIRE:
            return parent
        name = f"{young}\n{sex}\n{parent}"
        if name not in self._named:
            self._named.add(name)
            self.animals.append(Animal(name, sex, founder=self._posterior(parent)))
        return name

    def _posterior(self, parent: str) -> dict[str, dict[str, float]]:
        if parent not in self._posteriors:
            i = self.population.animal_index[parent]
            found = {}
            for locus in self.population.loci:
                row = self._table(locus.id)[i]
                reported = self._keys(locus.id, self.population.sexes[i])
                whole = sum(row[at] for _, at in reported)
                found[locus.id] = {key: row[at] / whole for key, at in reported if row[at] > 0}
            self._posteriors[parent] = found
        return self._posteriors[parent]

    def _table(self, locus: str) -> list[list[float]]:
        if locus not in self._rows:
            self._rows[locus] = self.solved.posterior_table(locus)[2].tolist()
        return self._rows[locus]

    def _keys(self, locus: str, sex: Sex) -> list[tuple[str, int]]:
        """The keys of an answer for that sex, with their columns."""
        if (locus, sex) not in self._reported:
            place = {key: i for i, key in enumerate(self.solved.posterior_table(locus)[1])}
            one = self.population.loci[self.population.locus_index[locus]]
            keys = reported_keys(one, self.population.sex_determination, sex)
            self._reported[locus, sex] = [(key, place[key]) for key in keys]
        return self._reported[locus, sex]
