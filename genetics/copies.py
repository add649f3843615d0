"""How many copies of some alleles animals have: the chance of two, of one and of none.

Alleles are counted together under a label of the caller's, at one locus or at several: two copies
are then two at one of them, and copies at different loci are `mixed` unless these turn out to be
one locus.  Answers are columns, so that those of a large book travel and are read at once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product
from math import nextafter
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from genetics.arrays import Floats2
from genetics.couple import joint
from genetics.solving import Solved, World

Table = tuple[tuple[str, ...], Floats2]
"""Genotype keys and the array of their chances, animals × keys."""

BELOW_ONE = nextafter(1.0, 0.0)
"""A chance beside which something else is possible is never exactly 1, however near it is."""


class Count(NamedTuple):
    """Alleles that are counted together at a locus, under a label."""

    label: Hashable
    locus: str
    alleles: frozenset[str]


class Counted(NamedTuple):
    """Whose copies are counted, and of what; a label may stand at several loci."""

    animals: tuple[str, ...]
    counts: tuple[Count, ...]


class Row(NamedTuple):
    """The chances of one animal and label."""

    animal: str
    label: Hashable
    two: float
    one: float
    none: float
    error: float
    mixed: float


@dataclass(frozen=True)
class Copies:
    """Chances of everyone who may have a copy, as columns.

    Attributes:
        animals, labels: what the first two columns number.
        animal, label: positions in these.
        two, one, none: chances; a sum of exact zeros is 0, and below 1 what is not certain.
        error: half width of the 95 % interval; 0 where inference was exact.
        mixed: chance of copies at two different loci of the label.
    """

    animals: tuple[str, ...]
    labels: tuple[Hashable, ...]
    animal: NDArray[np.int64]
    label: NDArray[np.int64]
    two: NDArray[np.float64]
    one: NDArray[np.float64]
    none: NDArray[np.float64]
    error: NDArray[np.float64]
    mixed: NDArray[np.float64]

    def rows(self) -> Iterator[Row]:
        """Each row with its animal and its label."""
        numbers = (self.two, self.one, self.none, self.error, self.mixed)
        return map(
            Row,
            map(self.animals.__getitem__, self.animal.tolist()),
            map(self.labels.__getitem__, self.label.tolist()),
            *(column.tolist() for column in numbers),
        )


def count_copies(solved: Solved, asked: Sequence[Counted]) -> Copies:
    """Count copies in a solved population; who certainly has none of a label has no row of it.

    Raises:
        ImpossibleEvidence, BeyondExact: as `solve`, where labels stand at several loci.
    """
    tables: dict[str, Table] = {}

    def table(locus: str) -> Table:
        if locus not in tables:
            tables[locus] = solved.posterior_table(locus)[1:]
        return tables[locus]

    return _Counter(asked, solved.population.animal_index, table, solved).counted()


def count_in_tables(
    animals: Sequence[str], tables: Mapping[str, Table], asked: Sequence[Counted]
) -> Copies:
    """Count copies by chances of genotypes that are known, of labels that stand at one locus each.

    Args:
        animals: whose the rows of the tables are.
        tables: by locus the genotype keys and their chances, animals × keys.
        asked: as for `count_copies`.
    """
    return _Counter(
        asked, {one: at for at, one in enumerate(animals)}, tables.__getitem__
    ).counted()


def joined(parts: Sequence[Copies]) -> Copies:
    """Copies of different animals, counted of the same labels, as one."""
    if len(parts) == 1:
        return parts[0]
    first = np.cumsum([0, *(len(one.animals) for one in parts)])
    numbers = zip(
        *((one.two, one.one, one.none, one.error, one.mixed) for one in parts), strict=True
    )
    return Copies(
        tuple(animal for one in parts for animal in one.animals),
        parts[0].labels,
        np.concatenate([one.animal + at for one, at in zip(parts, first, strict=False)]),
        np.concatenate([one.label for one in parts]),
        *map(np.concatenate, numbers),
    )


class _Counter:
    """Counts in tables of chances; labels that stand at several loci need what was solved."""

    def __init__(
        self,
        asked: Sequence[Counted],
        index: Mapping[str, int],
        table: Callable[[str], Table],
        solved: Solved | None = None,
    ) -> None:
        self.asked, self.index, self.table, self.solved = asked, index, table, solved
        self.animals = tuple(dict.fromkeys(one for part in asked for one in part.animals))
        self.number = {one: i for i, one in enumerate(self.animals)}
        # Label → the loci at which it stands, with its alleles there.
        self.places: dict[Hashable, dict[str, frozenset[str]]] = defaultdict(dict)
        for part in asked:
            for count in part.counts:
                self.places[count.label][count.locus] = count.alleles
        self.labels = tuple(self.places)
        self.label_number = {label: i for i, label in enumerate(self.labels)}
        # Rows are collected block by block, a label's animals each.
        self.blocks: list[tuple[NDArray[np.int64], int, tuple[NDArray[np.float64], ...]]] = []
        self.scattered: dict[tuple[str, Hashable], list[Row]] = defaultdict(list)

    def counted(self) -> Copies:
        for part in self.asked:
            self._count(part)
        single = [rows[0] for rows in self.scattered.values() if len(rows) == 1]
        several = [place for place, rows in self.scattered.items() if len(rows) > 1]
        return self._columns([*single, *self._jointly(several)])

    def _count(self, part: Counted) -> None:
        at = np.array([self.index[one] for one in part.animals], dtype=np.int64)
        number = np.array([self.number[one] for one in part.animals], dtype=np.int64)
        here: dict[str, NDArray[np.float64]] = {}
        for label, locus, alleles in part.counts:
            keys, table = self.table(locus)
            if locus not in here:
                here[locus] = table[at]
            copies = np.array([_copies(key, alleles) for key in keys])
            two, one, none = (here[locus][:, copies == n].sum(axis=1) for n in (2, 1, 0))
            rows = np.flatnonzero((two > 0) | (one > 0))
            numbers = _tidied(two[rows], one[rows], none[rows])
            error = np.zeros(len(rows))
            if self.solved is not None and not self.solved.exact:
                names = (part.animals[row] for row in rows.tolist())
                error[:] = [self.solved.error(name, locus) for name in names]
            if len(self.places[label]) == 1:
                block = (*numbers, error, np.zeros(len(rows)))
                self.blocks.append((number[rows], self.label_number[label], block))
                continue
            columns = (column.tolist() for column in (rows, *numbers, error))
            for row, *found in zip(*columns, strict=True):
                name = part.animals[row]
                self.scattered[name, label].append(Row._make((name, label, *found, 0.0)))

    def _jointly(self, wanted: Sequence[tuple[str, Hashable]]) -> list[Row]:
        """Rows of labels with copies at several loci, from joint tables of each animal."""
        if not wanted:
            return []
        assert self.solved is not None
        solved = self.solved.asked(
            [tuple((name, locus) for locus in self.places[label]) for name, label in wanted]
        )
        keys = {
            locus: solved.posterior_table(locus)[1]
            for locus in {locus for _, label in wanted for locus in self.places[label]}
        }
        return [_joint_row(solved, name, label, self.places[label], keys) for name, label in wanted]

    def _columns(self, rows: Sequence[Row]) -> Copies:
        blocks = [
            (animal, np.full(len(animal), label), *numbers)
            for animal, label, numbers in self.blocks
        ]
        if rows:
            turned = list(zip(*rows, strict=True))
            blocks.append(
                (
                    np.array([self.number[name] for name in turned[0]]),
                    np.array([self.label_number[label] for label in turned[1]]),
                    *(np.array(column, dtype=float) for column in turned[2:]),
                )
            )
        if not blocks:
            nothing = np.zeros(0)
            none = np.zeros(0, dtype=np.int64)
            return Copies(self.animals, self.labels, none, none, *[nothing] * 5)
        return Copies(
            self.animals, self.labels, *(np.concatenate(one) for one in zip(*blocks, strict=True))
        )


def _copies(key: str, alleles: frozenset[str]) -> int:
    return sum(allele in alleles for allele in key.replace("|", "/").split("/"))


def _tidied(
    two: NDArray[np.float64], one: NDArray[np.float64], none: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Sums of exact zeros are zeros; a sum of the others may pass 1 by a rounding error."""
    heterozygous = (none <= 0) & (two <= 0)
    homozygous = (none <= 0) & (one <= 0) & ~heterozygous
    certain = heterozygous | homozygous
    return (
        np.where(certain, homozygous, np.minimum(two, BELOW_ONE)),
        np.where(certain, heterozygous, np.minimum(one, BELOW_ONE)),
        np.where(certain, 0.0, np.minimum(none, BELOW_ONE)),
    )


def _joint_row(
    solved: Solved,
    name: str,
    label: Hashable,
    places: dict[str, frozenset[str]],
    keys: dict[str, tuple[str, ...]],
) -> Row:
    loci = list(places)
    by_count = {
        locus: {
            n: [key for key in keys[locus] if _copies(key, places[locus]) == n] for n in (0, 1, 2)
        }
        for locus in loci
    }
    two = none = mixed = together = 0.0
    for world, share in zip(solved.worlds, solved.chance, strict=True):
        chance = _chance_in(solved, world, name, by_count)
        none += share * chance(dict.fromkeys(loci, 0))
        classes = [{*one} for one in world.classes]
        for counts in product((0, 1, 2), repeat=len(loci)):
            one_gene = _joined(loci, counts, classes)
            doubled = 2 in counts or any(one_gene)
            scattered = not all(one_gene)
            there = share * chance(dict(zip(loci, counts, strict=True)))
            two += there * doubled
            mixed += there * scattered
            together += there * (not scattered)
    tidied = _tidied(*(np.array([p]) for p in (two, max(0.0, 1 - two - none), none)))
    figures = [float(chance[0]) for chance in tidied]
    return Row._make((name, label, *figures, 0.0, min(mixed, BELOW_ONE) if together else 1.0))


def _chance_in(
    solved: Solved, world: World, name: str, by_count: dict[str, dict[int, list[str]]]
) -> Callable[[dict[str, int]], float]:
    """Chance, under one hypothesis about the lines, of so many copies at each locus."""
    alone = replace(solved, worlds=[world], chance=[1.0])

    def chance(counts: dict[str, int]) -> float:
        keys = {locus: by_count[locus][n] for locus, n in counts.items()}
        return float(joint(alone, name, keys))

    return chance


def _joined(loci: list[str], counts: tuple[int, ...], classes: list[set[str]]) -> list[bool]:
    """For each two loci with copies, whether they are one locus under this hypothesis."""
    there = [locus for locus, count in zip(loci, counts, strict=True) if count]
    return [any({a, b} <= one for one in classes) for a, b in combinations(there, 2)]
