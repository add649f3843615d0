"""The pedigree as arrays: recorded animals, unrecorded parents, drawn parents, tally lines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from functools import cached_property, partial
from itertools import compress

import numpy as np

from genetics.arrays import Bools1, Codes1, Ints1
from genetics.columns import FEMALE, MALE, SEX_CODE
from genetics.population import NO_SIRE, Clutch, Couple, Population, Retained, Sighting

SightingKey = tuple[str, bool, float, float]
OwnDraw = Callable[[int], tuple[int, int]]
"""Draws the parents of one animal, given its position (-1 for a hatchling without record)."""


@dataclass(frozen=True)
class Draw:
    """A choice among candidate couples, shared by a clutch or made by one animal alone.

    `dam` and `sire` are the individuals that stand for the parents drawn; where all candidates
    agree on a parent it is that parent itself.
    """

    clutch: int
    animal: int
    prior: tuple[float, ...]
    dams: tuple[int, ...]
    sires: tuple[int, ...]
    dam: int
    sire: int


@dataclass
class Individuals:
    """Columns over individuals; the first `recorded` of them are the population's animals.

    Attributes:
        dam, sire: positions of the parents, -1 for none.
        sex: 0 female, 1 male, 2 unknown.
        count: hatchlings that the individual stands for (tally lines), else 1.
        drawn: whether it stands for a parent drawn among candidates.
        tally: whether it is a tally line.
        sightings: individuals by what was seen of them.
        stated, tested: animals with a founder's statement, and those with likelihoods.
        nobody: those that stand for no sire, each with the way in which dams alone have young
            (a position in the profiles of the columns).
        begins: those that have nothing from their parents at some loci, with these.
    """

    population: Population
    recorded: int = 0
    dam: Ints1 = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    sire: Ints1 = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    sex: Codes1 = field(default_factory=lambda: np.zeros(0, dtype=np.int8))
    count: Ints1 = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    drawn: Bools1 = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))
    tally: Bools1 = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))
    draws: list[Draw] = field(default_factory=list)
    sightings: dict[SightingKey, Ints1] = field(default_factory=dict)
    stated: list[int] = field(default_factory=list)
    tested: list[int] = field(default_factory=list)
    nobody: dict[int, int] = field(default_factory=dict)
    begins: dict[int, tuple[str, ...]] = field(default_factory=dict)

    @cached_property
    def alone(self) -> Bools1:
        """Whether an individual may be of a dam alone."""
        found = np.zeros(self.size, dtype=np.bool_)
        if self.nobody:
            sires = [*self.nobody]
            sires += [
                one.sire for one in self.draws if not self.nobody.keys().isdisjoint(one.sires)
            ]
            found = np.isin(self.sire, sires)
        return found

    def born(self, loci: Collection[str]) -> Bools1:
        """Whether each has parents at some loci, which begin together or not at all."""
        found: Bools1 = self.dam >= 0
        for individual, begun in self.begins.items():
            if any(locus in loci for locus in begun):
                found[individual] = False
        return found

    @property
    def size(self) -> int:
        """Number of individuals of every kind."""
        return len(self.dam)


class _Rows:
    """The pedigree while it is laid out: columns of the animals, then lists of what follows."""

    def __init__(self, population: Population) -> None:
        self.population = population
        self.columns = population.columns
        self.recorded = len(population.animals)
        self.dam: Ints1 = np.array(self.columns.dam, dtype=np.int64)
        self.sire: Ints1 = np.array(self.columns.sire, dtype=np.int64)
        self.more: list[int] = []  # sex, dam, sire and count, one individual after the other
        self.drawn: list[int] = []
        self.tally: list[int] = []
        self.draws: list[Draw] = []
        self.sightings: dict[SightingKey, list[int]] = defaultdict(list)
        # Records often share one sighting; the population holds it, so its id stays its own.
        self.seen: dict[tuple[str, int], list[int]] = {}
        self.nobody: dict[Retained, int] = {}  # the individual that stands for no sire

    def add(self, sex: int, dam: int = -1, sire: int = -1, count: int = 1) -> int:
        self.more += (sex, dam, sire, count)
        return self.recorded + len(self.more) // 4 - 1

    def see(self, individuals: list[int], shows: Mapping[str, Sighting]) -> None:
        for trait, sighting in shows.items():
            seen = self.seen.get((trait, id(sighting)))
            if seen is None:
                key = (
                    trait,
                    sighting.seen,
                    float(sighting.false_negative),
                    float(sighting.false_positive),
                )
                seen = self.seen[trait, id(sighting)] = self.sightings[key]
            seen += individuals

    def add_missing_parents(self) -> None:
        """The unrecorded parent of each animal of which one parent is recorded, or none."""
        for i in self.columns.alone:
            self.sire[i] = self.no_sire(self.columns.retained[i])
        for i in np.flatnonzero((self.dam < 0) != (self.sire < 0)).tolist():
            parent, code = (self.dam, FEMALE) if self.dam[i] < 0 else (self.sire, MALE)
            parent[i] = self.add(code)

    def lay_clutches(self) -> None:
        """Parents of all that hatched in a clutch, then the tally lines."""
        columns, clutches = self.columns, self.population.clutches
        clutch: Ints1 = np.array(columns.clutch, dtype=np.int64)
        pairs = np.array((columns.couple_dam, columns.couple_sire), dtype=np.int64).T
        for position in columns.couple_alone:
            pairs[position, 1] = self.no_sire(columns.couple_retained[position])
        pairs = pairs[columns.first_couple]
        several = np.array(columns.couples, dtype=np.int64) > 1
        own: dict[int, OwnDraw] = {}
        for position in np.flatnonzero(several | (pairs < 0).any(axis=1)).tolist():
            draw = self.candidates(position, clutches[position].candidates)
            if several[position] and clutches[position].paternity == "each":
                own[position] = draw
            else:
                pairs[position] = draw(-1)
        hatched = clutch >= 0
        self.dam[hatched], self.sire[hatched] = pairs[clutch[hatched]].T
        for position, draw in own.items():
            for member in np.flatnonzero(clutch == position).tolist():
                self.dam[member], self.sire[member] = draw(member)
        shared = pairs.tolist()
        for position in compress(range(len(shared)), columns.tally):
            self.lay_tally(clutches[position], shared[position], own.get(position))

    def candidates(self, clutch: int, couples: tuple[Couple, ...]) -> OwnDraw:
        """The function that draws among couples; one unrecorded parent a role, if any."""
        dams = self.resolve([couple.dam for couple in couples], FEMALE)
        sires = self.resolve([couple.sire for couple in couples], MALE)
        for position, couple in enumerate(couples):
            if couple.sire == NO_SIRE:
                sires[position] = self.no_sire(couple.retained)
        return partial(self.draw, clutch, couples, dams, sires)

    def resolve(self, names: list[str | None], code: int) -> list[int]:
        """Positions of candidate parents of one sex, -1 for no sire."""
        unrecorded = self.add(code) if None in names else -1
        index = self.columns.index
        return [unrecorded if name is None else index.get(name, -1) for name in names]

    def no_sire(self, retained: Retained) -> int:
        """The individual that stands for no sire, with what the young retain."""
        if retained not in self.nobody:
            self.nobody[retained] = self.add(MALE)
        return self.nobody[retained]

    def draw(
        self, clutch: int, couples: tuple[Couple, ...], dams: list[int], sires: list[int],
        animal: int,
    ) -> tuple[int, int]:  # fmt: skip
        """The individuals that stand for the parents of one draw."""
        if len(couples) == 1:
            return dams[0], sires[0]
        stand_in = []
        for parents, code in ((dams, FEMALE), (sires, MALE)):
            if len(set(parents)) == 1:
                stand_in.append(parents[0])
            else:
                stand_in.append(self.add(code))
                self.drawn.append(stand_in[-1])
        prior = tuple(float(c.p) for c in couples)
        made = Draw(clutch, animal, prior, tuple(dams), tuple(sires), stand_in[0], stand_in[1])
        self.draws.append(made)
        return made.dam, made.sire

    def lay_tally(self, clutch: Clutch, shared: list[int], draw: OwnDraw | None) -> None:
        """An individual a line, or one a hatchling where each has parents of its own."""
        for line in clutch.tally:
            alone = line.count if draw is None else 1
            for _ in range(min(line.count, 1) if draw is None else line.count):
                dam, sire = shared if draw is None else draw(-1)
                individual = self.add(SEX_CODE[line.sex], dam, sire, alone)
                self.tally.append(individual)
                self.see([individual], line.shows)


def lay_out(population: Population) -> Individuals:
    """Arrays of a population: one row an animal, then the parents and tallies implied."""
    rows, columns = _Rows(population), population.columns
    for members in columns.alike:
        rows.see(members, columns.shows[members[0]])
    rows.add_missing_parents()
    rows.lay_clutches()
    sex, dam, sire, count = np.array(rows.more, dtype=np.int64).reshape(-1, 4).T
    recorded = np.frombuffer(bytes(map(SEX_CODE.__getitem__, columns.sex)), dtype=np.int8)
    n = rows.recorded + len(sex)
    drawn = np.zeros(n, dtype=np.bool_)
    drawn[rows.drawn] = True
    tally = np.zeros(n, dtype=np.bool_)
    tally[rows.tally] = True
    return Individuals(
        population,
        rows.recorded,
        np.concatenate((rows.dam, dam)),
        np.concatenate((rows.sire, sire)),
        np.concatenate((recorded, sex), dtype=np.int8),
        np.concatenate((np.ones(rows.recorded, dtype=np.int64), count)),
        drawn,
        tally,
        rows.draws,
        {key: np.array(seen, dtype=np.int64) for key, seen in rows.sightings.items()},
        columns.stated,
        columns.tested,
        {rows.nobody[one]: position for position, one in enumerate(columns.profiles)},
        columns.begins,
    )
