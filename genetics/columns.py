"""The records of a population field by field, with positions for ids.

A large book is checked and laid out a column at a time; single records are looked at only where a
column shows that something is unusual about them.  Plain lists: checking loads no number library.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from itertools import accumulate, chain, compress, count, repeat
from operator import lt
from typing import Any

from genetics.animal_table import AnimalTable
from genetics.population import (
    NO_SIRE,
    NOTHING,
    Animal,
    Clutch,
    Couple,
    Population,
    Retained,
    Sex,
)

FEMALE, MALE, UNKNOWN = 0, 1, 2
SEX_NAMES: tuple[Sex, ...] = ("female", "male", "unknown")
SEX_CODE: dict[str, int] = {name: code for code, name in enumerate(SEX_NAMES)}


class Columns:
    """Fields of all animals, clutches and couples; a position is -1 where nothing is named.

    `dam`, `sire` and `clutch` are by animal, `couple_dam` and `couple_sire` by couple; the
    `couples[c]` couples of clutch c start at `first_couple[c]`.  An unknown id has no position
    either: `parents_known` and `couples_known` tell whether there is none.
    """

    def __init__(self, population: Population) -> None:
        animals = _fields(population.animals)
        self.ids, self.recorded_sex, dams, sires, clutches = animals[:5]
        self.founder, self.founder_joint, self.shows, self.likelihood = animals[5:9]
        self.retained, self.statements, begins = animals[9:]
        # Position of each animal with which anything begins: its loci that do.
        self.begins = {i: loci for i, loci in enumerate(begins) if loci}
        listed = _turned(population.clutches, len(Clutch._fields))
        self.clutch_ids, self.candidates, self.paternity, self.tally, _ = listed
        self.index = dict(zip(self.ids, range(len(self.ids)), strict=True))
        self.clutch_index = dict(zip(self.clutch_ids, range(len(self.clutch_ids)), strict=True))
        couples = _turned(chain.from_iterable(self.candidates), len(Couple._fields))
        self.dam, dams_known = _positions(dams, self.index)
        self.sire, sires_known = _positions(sires, self.index, NO_SIRE)
        self.clutch, clutches_known = _positions(clutches, self.clutch_index)
        self.parents_known = dams_known and sires_known and clutches_known
        self.couple_dam, dams_known = _positions(couples[0], self.index)
        self.couple_sire, sires_known = _positions(couples[1], self.index, NO_SIRE)
        self.couple_retained = couples[3]
        self.couples_known = dams_known and sires_known
        self.couples = list(map(len, self.candidates))
        self.first_couple = list(accumulate(self.couples, initial=0))[:-1]
        # Positions of the animals, and of the couples, that have a dam alone.
        self.alone = [i for i, name in enumerate(sires) if name == NO_SIRE]
        self.couple_alone = [i for i, name in enumerate(couples[1]) if name == NO_SIRE]

    @cached_property
    def own(self) -> list[int]:
        """Positions of the animals that name a dam or a sire, or none, themselves."""
        if self.dam.count(-1) == self.sire.count(-1) == len(self.ids) and not self.alone:
            return []
        pairs = zip(self.dam, self.sire, strict=True)
        named = [i for i, (dam, sire) in enumerate(pairs) if dam >= 0 or sire >= 0]
        return sorted({*named, *self.alone}) if self.alone else named

    @cached_property
    def profiles(self) -> tuple[Retained, ...]:
        """Every way in which dams alone have young here, by what the young retain."""
        found = [self.retained[i] for i in self.alone]
        found += [self.couple_retained[i] for i in self.couple_alone]
        return tuple(dict.fromkeys(found))

    @cached_property
    def dams(self) -> set[int]:
        """Positions of the animals named as a dam."""
        return {*(self.dam[i] for i in self.own), *self.couple_dam} - {-1}

    @cached_property
    def sires(self) -> set[int]:
        """Positions of the animals named as a sire."""
        return {*(self.sire[i] for i in self.own), *self.couple_sire} - {-1}

    @cached_property
    def sex(self) -> tuple[Sex, ...]:
        """Sex of each animal, as recorded or as its use for a dam or sire tells."""
        sexes: list[Sex] = self.recorded_sex.copy()
        for position in self.dams:
            sexes[position] = "female"
        for position in self.sires:
            sexes[position] = "male"
        return tuple(sexes)

    @property
    def in_order(self) -> bool:
        """Whether every parent is listed before its children: then none descends from itself."""
        latest = list(map(max, self.couple_dam, self.couple_sire))
        if self.couples.count(1) < len(self.couples):
            latest = [
                max(latest[first : first + couples])
                for first, couples in zip(self.first_couple, self.couples, strict=True)
            ]
        latest.append(-1)  # where the -1 of an animal without clutch leads
        hatched = all(map(lt, map(latest.__getitem__, self.clutch), count()))
        return hatched and all(self.dam[i] < i and self.sire[i] < i for i in self.own)

    @cached_property
    def alike(self) -> list[list[int]]:
        """Positions of the animals of which the same was seen, where anything was.

        Records often share a mapping or its sightings; the population holds them, so that the id
        of each stays its own.
        """
        by_mapping: dict[int, list[int]] = defaultdict(list)
        for position, mapping in enumerate(map(id, self.shows)):
            by_mapping[mapping].append(position)
        groups: dict[tuple[str | int, ...], list[int]] = defaultdict(list)
        for positions in by_mapping.values():
            shows = self.shows[positions[0]]
            groups[*shows, *map(id, shows.values())] += positions
        groups.pop((), None)
        return list(map(sorted, groups.values()))

    @cached_property
    def stated(self) -> list[int]:
        """Positions of the animals with a founder's statement in their own fields."""
        found = set(compress(range(len(self.ids)), self.founder_joint))
        return sorted(found.union(_holding(self.founder)))

    @cached_property
    def told(self) -> list[int]:
        """Positions of the animals with statements that hang on a trust."""
        return list(compress(range(len(self.ids)), self.statements))

    @cached_property
    def tested(self) -> list[int]:
        """Positions of the animals with likelihoods."""
        return _holding(self.likelihood)


def _holding(column: Sequence[Mapping[str, object]]) -> list[int]:
    # Most records hold nothing, and that is quicker to see by identity than by length.
    if column.count(NOTHING) == len(column):
        return []
    return [i for i, held in enumerate(column) if held is not NOTHING and held]


def _fields(animals: Sequence[Animal]) -> list[list[Any]]:
    """The fields of all animals; a table has them and makes no records."""
    if isinstance(animals, AnimalTable):
        return list(map(list, animals.columns))
    return _turned(animals, len(Animal._fields))


def _turned(records: Iterable[tuple[Any, ...]], fields: int) -> list[list[Any]]:
    """The fields of equally long records, each as one list."""
    flat = list(chain.from_iterable(records))
    return [flat[field::fields] for field in range(fields)]


def _positions(
    names: Sequence[str | None], index: Mapping[str, int], nobody: str | None = None
) -> tuple[list[int], bool]:
    """Position of each name, -1 for none and for a name without one; whether there is none such.

    `nobody` is no name either.
    """
    named = set(names)
    named -= {None, nobody}
    if not named:
        return [-1] * len(names), True
    found: list[int] = list(map(index.get, names, repeat(-1)))  # type: ignore[arg-type]
    return found, named <= index.keys()
