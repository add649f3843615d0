"""The records of a population field by field, with positions for ids.

A large book is checked and laid out a column at a time; single records are looked at only where a
column shows that something is unusual about them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from itertools import chain, compress, repeat
from typing import Any

import numpy as np
from numpy.typing import NDArray

from genetics.population import NOTHING, Animal, Clutch, Couple, Population, Sex

Ints = NDArray[np.int64]
FEMALE, MALE, UNKNOWN = 0, 1, 2
SEX_NAMES: tuple[Sex, ...] = ("female", "male", "unknown")
SEX_CODE: dict[str, int] = {name: code for code, name in enumerate(SEX_NAMES)}


class Columns:
    """Fields of all animals, clutches and couples; a position is -1 where nothing is named.

    `dam`, `sire` and `clutch` are by animal, `couple_dam` and `couple_sire` by couple; the
    `couples[c]` couples of clutch c start at `first_couple[c]`.  An unknown id has no position either: `parents_known`
    and `couples_known` tell whether there is none.
    """

    def __init__(self, population: Population) -> None:
        animals = _turned(population.animals, len(Animal._fields))
        self.ids, self.sexes, dams, sires, clutches = animals[:5]
        self.founder, self.founder_joint, self.shows, self.likelihood = animals[5:]
        listed = _turned(population.clutches, len(Clutch._fields))
        self.clutch_ids, self.candidates, self.paternity, self.tally, _ = listed
        self.index = dict(zip(self.ids, range(len(self.ids)), strict=True))
        self.clutch_index = dict(zip(self.clutch_ids, range(len(self.clutch_ids)), strict=True))
        couples = _turned(chain.from_iterable(self.candidates), len(Couple._fields))
        self.dam, dams_known = _positions(dams, self.index)
        self.sire, sires_known = _positions(sires, self.index)
        self.clutch, clutches_known = _positions(clutches, self.clutch_index)
        self.parents_known = dams_known and sires_known and clutches_known
        self.couple_dam, dams_known = _positions(couples[0], self.index)
        self.couple_sire, sires_known = _positions(couples[1], self.index)
        self.couples_known = dams_known and sires_known
        self.couples = np.fromiter(map(len, self.candidates), np.int64, len(self.candidates))
        self.first_couple: Ints = np.cumsum(self.couples) - self.couples

    @cached_property
    def dams(self) -> NDArray[np.bool_]:
        """Mask of the animals named as a dam."""
        return self._named(self.dam, self.couple_dam)

    @cached_property
    def sires(self) -> NDArray[np.bool_]:
        """Mask of the animals named as a sire."""
        return self._named(self.sire, self.couple_sire)

    def _named(self, own: Ints, of_couples: Ints) -> NDArray[np.bool_]:
        # The place after the last takes the -1s.
        mask = np.zeros(len(self.ids) + 1, dtype=np.bool_)
        mask[own] = True
        mask[of_couples] = True
        return mask[:-1]

    @cached_property
    def recorded_sex(self) -> NDArray[np.int8]:
        """Sex of each animal as recorded; a `KeyError` if it is none of the three words."""
        return np.frombuffer(bytes(map(SEX_CODE.__getitem__, self.sexes)), dtype=np.int8)

    @cached_property
    def sex(self) -> NDArray[np.int8]:
        """Sex of each animal, as recorded or as its use for a dam or sire tells."""
        told = self.recorded_sex.copy()
        told[self.dams] = FEMALE
        told[self.sires] = MALE
        return told

    @property
    def in_order(self) -> bool:
        """Whether every parent is listed before its children: then none descends from itself."""
        above = np.maximum(self.dam, self.sire)
        if len(self.candidates):
            couples = np.maximum(self.couple_dam, self.couple_sire)
            latest = np.maximum.reduceat(couples, self.first_couple)
            born = self.clutch >= 0
            above[born] = latest[self.clutch[born]]
        return bool((above < np.arange(len(above))).all())

    @cached_property
    def alike(self) -> list[list[int]]:
        """Positions of the animals of which the same was seen, where anything was.

        Records often share a mapping or its sightings; the population holds them, so that the id
        of each stays its own.
        """
        groups: dict[tuple[Any, ...], list[int]] = {}
        known: dict[int, list[int]] = {id(NOTHING): []}
        for position, shows in enumerate(self.shows):
            group = known.get(id(shows))
            if group is None:
                content = (*shows, *map(id, shows.values()))
                group = known[id(shows)] = groups.setdefault(content, [])
            group.append(position)
        groups.pop((), None)
        return list(groups.values())

    @cached_property
    def stated(self) -> list[int]:
        """Positions of the animals with a founder's statement."""
        animals = range(len(self.ids))
        found = set(compress(animals, self.founder)) | set(compress(animals, self.founder_joint))
        return sorted(found)

    @cached_property
    def tested(self) -> list[int]:
        """Positions of the animals with likelihoods."""
        return list(compress(range(len(self.ids)), self.likelihood))


def _turned(records: Iterable[tuple[Any, ...]], fields: int) -> list[list[Any]]:
    """The fields of equally long records, each as one list."""
    flat = list(chain.from_iterable(records))
    return [flat[field::fields] for field in range(fields)]


def _positions(names: Sequence[str | None], index: Mapping[str, int]) -> tuple[Ints, bool]:
    """Position of each name, -1 for none and for a name without one; whether there is none such."""
    named = set(names)
    named.discard(None)
    if not named:
        return np.full(len(names), -1, dtype=np.int64), True
    found = np.fromiter(map(index.get, names, repeat(-1)), np.int64, len(names))  # type: ignore[arg-type]
    return found, named <= index.keys()
