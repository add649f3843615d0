"""The pedigree as arrays: recorded animals, unrecorded parents, drawn parents, tally lines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from genetics.population import Animal, Clutch, Couple, Population, Sighting

SEX_CODE = {"female": 0, "male": 1, "unknown": 2}
SightingKey = tuple[str, bool, float, float]


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
        record: name of the tally record for messages, by individual.
        sightings: individuals by what was seen of them.
    """

    population: Population
    recorded: int = 0
    dam: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    sire: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    sex: NDArray[np.int8] = field(default_factory=lambda: np.zeros(0, dtype=np.int8))
    count: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    drawn: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))
    tally: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))
    draws: list[Draw] = field(default_factory=list)
    record: dict[int, str] = field(default_factory=dict)
    sightings: dict[SightingKey, list[int]] = field(default_factory=lambda: defaultdict(list))
    stated: list[tuple[int, Animal]] = field(default_factory=list)
    tested: list[tuple[int, Animal]] = field(default_factory=list)

    @property
    def size(self) -> int:
        """Number of individuals of every kind."""
        return len(self.dam)


class _Rows:
    """Growing columns while the pedigree is laid out."""

    def __init__(self, population: Population) -> None:
        self.population = population
        self.index = population.animal_index
        n = len(population.animals)
        self.dam = [-1] * n
        self.sire = [-1] * n
        self.sex = [SEX_CODE[sex] for sex in population.sexes]
        self.count = [1] * n
        self.drawn: list[int] = []
        self.tally: list[int] = []
        self.draws: list[Draw] = []
        self.record: dict[int, str] = {}
        self.sightings: dict[SightingKey, list[int]] = defaultdict(list)
        # Animals often share one sighting; the population holds it, so its id stays its own.
        self.seen: dict[tuple[str, int], list[int]] = {}

    def add(self, sex: int, dam: int = -1, sire: int = -1, count: int = 1) -> int:
        self.dam.append(dam)
        self.sire.append(sire)
        self.sex.append(sex)
        self.count.append(count)
        return len(self.dam) - 1

    def see(self, individual: int, shows: Mapping[str, Sighting]) -> None:
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
            seen.append(individual)

    def resolve(self, couples: tuple[Couple, ...]) -> tuple[list[int], list[int]]:
        """Positions of candidate dams and sires; one unrecorded parent per role if any."""
        dams = [-1 if c.dam is None else self.index[c.dam] for c in couples]
        sires = [-1 if c.sire is None else self.index[c.sire] for c in couples]
        for parents, code in ((dams, 0), (sires, 1)):
            if -1 in parents:
                unrecorded = self.add(code)
                parents[:] = [unrecorded if p == -1 else p for p in parents]
        return dams, sires

    def draw(
        self, clutch: int, animal: int, couples: tuple[Couple, ...], dams: list[int],
        sires: list[int],
    ) -> tuple[int, int]:  # fmt: skip
        """The individuals that stand for the parents of one draw."""
        if len(couples) == 1:
            return dams[0], sires[0]
        stand_in = []
        for parents, code in ((dams, 0), (sires, 1)):
            if len(set(parents)) == 1:
                stand_in.append(parents[0])
            else:
                stand_in.append(self.add(code))
                self.drawn.append(stand_in[-1])
        prior = tuple(float(c.p) for c in couples)
        made = Draw(clutch, animal, prior, tuple(dams), tuple(sires), stand_in[0], stand_in[1])
        self.draws.append(made)
        return made.dam, made.sire

    def lay_clutch(self, position: int, clutch: Clutch, members: list[int]) -> None:
        couples = clutch.candidates
        dams, sires = self.resolve(couples)
        each = clutch.paternity == "each" and len(couples) > 1
        shared = None if each else self.draw(position, -1, couples, dams, sires)
        for member in members:
            parents = shared or self.draw(position, member, couples, dams, sires)
            self.dam[member], self.sire[member] = parents
        for number, line in enumerate(clutch.tally):
            for _ in range(line.count if each else min(line.count, 1)):
                parents = shared or self.draw(position, -1, couples, dams, sires)
                count = 1 if each else line.count
                individual = self.add(SEX_CODE[line.sex], *parents, count)
                self.tally.append(individual)
                self.record[individual] = f"{clutch.id}.tally[{number}]"
                self.see(individual, line.shows)


def lay_out(population: Population) -> Individuals:
    """Arrays of a population: one row an animal, then the parents and tallies implied."""
    rows = _Rows(population)
    members: dict[str, list[int]] = {clutch.id: [] for clutch in population.clutches}
    stated, tested = [], []
    for i, animal in enumerate(population.animals):
        if animal.shows:
            rows.see(i, animal.shows)
        if animal.founder or animal.founder_joint:
            stated.append((i, animal))
        if animal.likelihood:
            tested.append((i, animal))
        if animal.clutch is not None:
            members[animal.clutch].append(i)
        elif animal.dam is not None or animal.sire is not None:
            rows.dam[i] = rows.add(0) if animal.dam is None else rows.index[animal.dam]
            rows.sire[i] = rows.add(1) if animal.sire is None else rows.index[animal.sire]
    for position, clutch in enumerate(population.clutches):
        rows.lay_clutch(position, clutch, members[clutch.id])
    n = len(rows.dam)
    drawn = np.zeros(n, dtype=np.bool_)
    drawn[rows.drawn] = True
    tally = np.zeros(n, dtype=np.bool_)
    tally[rows.tally] = True
    return Individuals(
        population,
        len(population.animals),
        np.array(rows.dam, dtype=np.int64),
        np.array(rows.sire, dtype=np.int64),
        np.array(rows.sex, dtype=np.int8),
        np.array(rows.count, dtype=np.int64),
        drawn,
        tally,
        rows.draws,
        rows.record,
        rows.sightings,
        stated,
        tested,
    )
