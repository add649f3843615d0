"""Genotypes over all loci that a question looks at, numbered, in every hypothesis at once.

A question about what a couple may hatch hangs on several loci together: a look may rest on more
than one, another trait may hide it.  So a genotype here is what an animal has at all of them, and
it has a number: those of the first hypothesis of which lines are one locus come first, then those
of the second.  What is summed over numbers is thereby summed over hypotheses too.

Only genotypes that can occur are numbered: those of the animals asked about, and what descends of
them within some generations.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from genetics.arrays import Bools1, Floats, Floats1, Floats3, Ints, Ints1, Ints2
from genetics.errors import BeyondExact
from genetics.model import genotype
from genetics.population import Population
from genetics.solving import Solved, World, solve

MOST_CELLS = 2.0**24
"""Cells of a table: joint genotypes of animals, or of the young of couples."""

Query = tuple[tuple[str, str], ...]


class Joint(NamedTuple):
    """What some animals may be together: chances, and a row of genotypes for each."""

    chance: Floats1
    genotypes: Ints2


def loci_of_looks(population: Population, traits: Iterable[str]) -> set[str]:
    """Loci on which it depends whether some traits are visible: their own, and those of hiders."""
    wanted = set(traits)
    found: set[str] = set()
    for trait in population.traits:
        if trait.id in wanted or "*" in trait.hides or not wanted.isdisjoint(trait.hides):
            found |= set(trait.recessive_at).union(*trait.shown_by)
    return found if wanted else set()


def loci_of_sexes(population: Population) -> set[str]:
    """Loci on which the chance of a hatchling's sex depends: survival on the sex chromosomes."""
    harmed = {entry.locus for entry in population.viability}
    return {
        locus.id
        for locus in population.loci
        if locus.chromosome != "autosome" and locus.id in harmed
    }


def joint_query(animals: Sequence[str], loci: Sequence[str]) -> Query:
    """What `solve` is to be asked for the joint genotypes of some animals."""
    return tuple((animal, locus) for animal in animals for locus in loci)


class Genotypes:
    """The genotypes that some animals and their descendants may have at some loci."""

    def __init__(
        self, solved: Solved, animals: Sequence[str], loci: Iterable[str], generations: int
    ) -> None:
        """Number what may occur; `generations`: how far the descendants are followed."""
        population, wanted = solved.population, set(loci)
        self.solved = solved
        self.loci = tuple(locus.id for locus in population.loci if locus.id in wanted)
        index = population.animal_index
        at = [index[animal] for animal in animals]
        self.parts: list[_Part] = []
        self.size = 0
        for world in solved.worlds:
            self.parts.append(_Part(world, self.loci, at, generations, self.size))
            self.size += self.parts[-1].size
        females = float(population.females)
        self.shares = (females, 1.0 - females)

    def visible(self, trait: str) -> Bools1:
        """Of each genotype, whether the trait is visible."""
        return np.concatenate([part.visible(trait) for part in self.parts])

    def accepted(self, locus: str, keys: Sequence[str]) -> Bools1:
        """Of each genotype, whether its key at a locus is one of those stated."""
        return np.concatenate([part.accepted(locus, keys) for part in self.parts])

    def key_numbers(self, loci: Iterable[str]) -> Ints2:
        """Of each genotype, a row of numbers, equal where the keys at all of some loci are."""
        wanted = [locus for locus in self.loci if locus in set(loci)]
        rows = [[part.keys(locus) for locus in wanted] for part in self.parts]
        blocks = [
            np.array(row, dtype=np.int64).reshape(len(wanted), part.size)
            for row, part in zip(rows, self.parts, strict=True)
        ]
        return np.concatenate(blocks, axis=1).T

    def possible(self, animal: str) -> Bools1:
        """Genotypes that no locus by itself excludes of an animal."""
        i = self.solved.population.animal_index[animal]
        return np.concatenate([part.possible(i) for part in self.parts])

    def young(self, dams: Ints1, sires: Ints1) -> Floats3:
        """Of couples by their genotypes, the chances of a hatchling's sex and genotype.

        An array (2, couples, genotypes), females first.  It sums to one over the sexes and
        genotypes of a couple, or is all zeros where no hatchling can live or the two genotypes
        are of different hypotheses.

        Raises:
            BeyondExact: it would have too many cells.
        """
        cells = 2.0 * len(dams) * self.size
        if cells > MOST_CELLS:
            raise BeyondExact(cells, MOST_CELLS)
        found = np.zeros((2, len(dams), self.size))
        for part in self.parts:
            both = part.owns(dams) & part.owns(sires)
            place = slice(part.first, part.first + part.size)
            found[:, both, place] = part.young(dams[both], sires[both], self.shares)
        return found

    def joint(self, asked: Solved, animals: Sequence[str], among: Sequence[str] = ()) -> Joint:
        """What some animals may be together, by a solution asked for them or for more, `among`.

        Raises:
            BeyondExact: there is too much that they may be.
        """
        by_classes = {part.world.classes: part for part in self.parts}
        index = asked.population.animal_index
        at = [index[animal] for animal in animals]
        more = [index[animal] for animal in among or animals]
        found = [
            by_classes[world.classes].joint(world, share, at, more)
            for world, share in zip(asked.worlds, asked.chance, strict=True)
        ]
        return Joint(
            np.concatenate([one.chance for one in found]),
            np.concatenate([one.genotypes for one in found]),
        )


def barren_loci(solved: Solved, animals: Sequence[str], generations: int) -> set[str]:
    """Autosomal loci at which some couple among animals and descendants may have no living young.

    That a couple has young tells of its genotypes there, though nobody asks for them.
    """
    index = solved.population.animal_index
    at = [index[animal] for animal in animals]
    lethal = {entry.locus for entry in solved.population.viability if entry.survival == 0}
    found: set[str] = set()
    for world in solved.worlds:
        for k, space in enumerate(world.model.spaces):
            loci = {locus.id for locus in space.loci}
            if space.sex_linked or lethal.isdisjoint(loci):
                continue
            states = _reached(world, k, at, generations)
            if not (space.table[np.ix_(states, states)] > 0).any(axis=2).all():
                found |= loci
    return found


def joint_cells(solved: Solved, animals: int, loci: Iterable[str]) -> float:
    """Cells of the largest table that holds the joint genotypes of so many animals."""
    most = 1.0
    for world in solved.worlds:
        sizes: dict[int, float] = {}
        for k in {world.model.place(locus) for locus in loci}:
            group = id(world.group_of[k])
            sizes[group] = sizes.get(group, 1.0) * float(world.model.spaces[k].size) ** animals
        most = max(most, *sizes.values(), 1.0)
    return most


def asked_exactly(solved: Solved, queries: Sequence[Query]) -> Solved:
    """Solve a population again with joint tables.

    Raises:
        BeyondExact: it would take sampling.
    """
    return solve(
        solved.population, limit=solved.limit, queries=queries, spaces=solved.spaces,
        exact_only=True,
    )  # fmt: skip


class _Part:
    """The genotypes of one hypothesis: the product of the states of its spaces."""

    def __init__(
        self, world: World, loci: Sequence[str], at: Sequence[int], generations: int, first: int
    ) -> None:
        self.world, self.first = world, first
        self.axes = tuple(sorted({world.model.place(locus) for locus in loci}))
        self.states = [_reached(world, k, at, generations) for k in self.axes]
        sizes = [len(states) for states in self.states]
        self.sizes = tuple(sizes)
        self.size = math.prod(sizes)
        if self.size > MOST_CELLS:
            raise BeyondExact(float(self.size), MOST_CELLS)
        # Of each genotype the state in each space.
        grid = np.indices(self.sizes).reshape(len(sizes), self.size)
        self.state = [states[row] for states, row in zip(self.states, grid, strict=True)]

    def owns(self, genotypes: Ints1) -> Bools1:
        """Which of some genotypes are of this hypothesis."""
        owned: Bools1 = (genotypes >= self.first) & (genotypes < self.first + self.size)
        return owned

    def visible(self, trait: str) -> Bools1:
        looks = self.world.model.looks
        axes = looks.spaces_of(trait)
        seen = looks.visible(trait, axes)[tuple(self._state_in(k) for k in axes)]
        found: Bools1 = np.broadcast_to(seen, self.size)
        return found

    def accepted(self, locus: str, keys: Sequence[str]) -> Bools1:
        k = self.world.model.place(locus)
        accepted: Bools1 = self.world.model.spaces[k].accepts(locus, keys)[self._state_in(k)]
        return accepted

    def keys(self, locus: str) -> Ints1:
        k = self.world.model.place(locus)
        space = self.world.model.spaces[k]
        keys: Ints1 = space.key_of[space.locus_position(locus)][self._state_in(k)]
        return keys

    def possible(self, i: int) -> Bools1:
        found = np.ones(self.size, dtype=bool)
        for k in self.axes:
            found &= self.world.group_of[k].posterior[k][i][self._state_in(k)] > 0
        return found

    def _state_in(self, k: int) -> Ints1:
        return self.state[self.axes.index(k)]

    def young(self, dams: Ints1, sires: Ints1, shares: tuple[float, float]) -> Floats3:
        """As `Genotypes.young`, of couples of this hypothesis and over its own genotypes."""
        dams, sires = dams - self.first, sires - self.first
        spaces = [self.world.model.spaces[k] for k in self.axes]
        whole: list[Floats] = []
        carried = any(space.carries_sex for space in spaces)
        for sex in (0, 1):
            table = np.full((len(dams), 1), 1.0 if carried else shares[sex])
            for place, space in enumerate(spaces):
                states = self.states[place]
                one = space.table[self.state[place][dams], self.state[place][sires]][:, states]
                if space.sex_linked:
                    one = one * (space.sex[states] == sex)
                table = (table[:, :, None] * one[:, None, :]).reshape(len(dams), -1)
            whole.append(table)
        return np.stack(whole)

    def joint(self, world: World, share: float, at: Sequence[int], more: Sequence[int]) -> Joint:
        """Joint genotypes of individuals in this hypothesis, by a world asked for those `more`."""
        chance = np.array([share])
        position = np.zeros((1, len(at), len(self.axes)), dtype=np.int64)
        by_group: dict[int, list[int]] = {}
        for place, k in enumerate(self.axes):
            by_group.setdefault(id(world.group_of[k]), []).append(place)
        for places in by_group.values():
            cells, values = self._group_cells(world, places, at, more)
            if len(chance) * len(values) * len(at) > MOST_CELLS:
                raise BeyondExact(float(len(chance)) * len(values), MOST_CELLS)
            old = np.repeat(np.arange(len(chance)), len(values))
            new = np.tile(np.arange(len(values)), len(chance))
            chance, position = chance[old] * values[new], position[old]
            position[:, :, places] = cells[new]
        numbers = np.zeros(position.shape[:2], dtype=np.int64)
        for place, size in enumerate(self.sizes):
            numbers = numbers * size + position[:, :, place]
        return Joint(chance, numbers + self.first)

    def _group_cells(
        self, world: World, places: Sequence[int], at: Sequence[int], more: Sequence[int]
    ) -> tuple[Ints, Floats1]:
        """Possible cells of one group: positions (cells, animals, places) with their chances."""
        asked = tuple(sorted({genotype(self.axes[place], i) for place in places for i in more}))
        table = world.group_of[self.axes[places[0]]].joint[asked]
        table = table.sum(axis=tuple(n for n, node in enumerate(asked) if node[2] not in at))
        nodes = tuple(node for node in asked if node[2] in at)
        found = np.argwhere(table > 0)
        column = {node: number for number, node in enumerate(nodes)}
        cells = np.zeros((len(found), len(at), len(places)), dtype=np.int64)
        for which, place in enumerate(places):
            where = np.zeros(world.model.spaces[self.axes[place]].size, dtype=np.int64)
            where[self.states[place]] = np.arange(self.sizes[place])
            for animal, i in enumerate(at):
                cells[:, animal, which] = where[found[:, column[genotype(self.axes[place], i)]]]
        chances: Floats1 = table[table > 0]
        return cells, chances


def _reached(world: World, k: int, at: Sequence[int], generations: int) -> Ints1:
    """States of a space that some individuals and their descendants may have."""
    table = world.model.spaces[k].table
    reached = np.zeros(len(table), dtype=bool)
    posterior = world.group_of[k].posterior[k][list(at)]
    reached[: posterior.shape[1]] = (posterior > 0).any(axis=0)
    for _ in range(generations):
        parents = np.flatnonzero(reached)
        reached |= (table[np.ix_(parents, parents)] > 0).any(axis=(0, 1))
    return np.flatnonzero(reached)
