"""The genotypes that a goal turns on: which loci matter, and what hatches, is seen and is meant.

Only loci are followed that decide the goal, its traits and what hides these, or whether a couple
has living young at all, and what is solved together with them.  Of each space those states are
kept that the animals at hand or their descendants can have.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np

from genetics.arrays import Bools1, Floats1, Floats2, Ints1, Ints2, Marks2
from genetics.errors import BeyondExact
from genetics.kernels.protocols import Genes
from genetics.model import Model
from genetics.population import Goal, Number, Population, Trait
from genetics.solving import Solved
from genetics.spaces import EITHER, FEMALE, MALE, Space, survivals

MOST_GENOTYPES = 2_000
"""Genotypes told apart, at all loci that matter and over all hypotheses."""


def loci_that_matter(population: Population, goal: Goal, animals: Sequence[str]) -> tuple[str, ...]:
    """The loci that a forecast follows, in the order of the population.

    They decide the goal, or a trait that tells of it, or hide one; or have genotypes that do not
    hatch; or tell the sex of an animal at hand of which it is not recorded.
    """
    looked_at = [one for one in population.traits if one.id in goal.shows]
    looked_at += [one for one in population.traits if goal.genotypes.keys() & _loci_of(one)]
    names = {one.id for one in looked_at}
    hiding = [
        one for one in population.traits if "*" in one.hides or not names.isdisjoint(one.hides)
    ]
    found = set(goal.genotypes)
    found = found.union(*map(_loci_of, looked_at), *map(_loci_of, hiding if looked_at else []))
    sexed = [one.id for one in population.loci if one.chromosome != "autosome"]
    for locus, by_key in survivals(population).items():
        if locus in sexed or not all(by_key.values()):
            found.add(locus)
    index, sexes = population.animal_index, population.sexes
    if any(sexes[index[one]] == "unknown" for one in animals) and len(sexed) == 1:
        found.update(sexed)
    return tuple(locus.id for locus in population.loci if locus.id in found)


def _loci_of(trait: Trait) -> set[str]:
    return set(trait.recessive_at).union(*trait.shown_by)


@dataclass(frozen=True)
class Reading:
    """The genotypes under one hypothesis of which lines are one locus.

    Attributes:
        model: the hypothesis's model.
        spaces: positions of the spaces that matter.
        states: for each, the states that animals can have.
        tables: for each, chances by sex of the hatchling, dam, sire and hatchling, positions in
            `states`; they sum to 1 over hatchlings, or to 0.
        carrier: which space decides how many are female, -1 for none; `share`: the share of
            females by its states of dam and sire, or the one there is.
    """

    model: Model
    spaces: tuple[int, ...]
    states: tuple[Ints1, ...]
    tables: tuple[np.ndarray[tuple[int, int, int, int], np.dtype[np.float64]], ...]
    carrier: int
    share: Floats1

    @property
    def sizes(self) -> tuple[int, ...]:
        """Numbers of states."""
        return tuple(map(len, self.states))

    @cached_property
    def digits(self) -> Ints2:
        """State of each genotype (row) in each space, as a position in `states`."""
        rows = list(product(*map(range, self.sizes)))
        found: Ints2 = np.array(rows, dtype=np.int64).reshape(len(rows), len(self.sizes))
        return found

    def female_shares(self) -> Floats2:
        """The share of females among hatchlings, by genotypes of dam and sire."""
        n = len(self.digits)
        if self.carrier < 0:
            return np.full((n, n), self.share[0])
        own = self.digits[:, self.carrier]
        found: Floats2 = self.share[own[:, None] * self.sizes[self.carrier] + own[None, :]]
        return found

    def in_space(self, place: int) -> Ints1:
        """State of each genotype in one of the spaces, as the space numbers it."""
        found: Ints1 = self.states[place][self.digits[:, place]]
        return found

    def can_be(self, sex: int) -> Bools1:
        """Whether an animal of this sex can have each genotype."""
        found: Bools1 = np.ones(len(self.digits), dtype=bool)
        for place, k in enumerate(self.spaces):
            found &= self.model.spaces[k].allowed(sex)[self.in_space(place)]
        return found

    def met(self, goal: Goal) -> Marks2:
        """Whether a hatchling meets the goal, by sex and genotype."""
        expressed = self._expressed()
        met: Bools1 = np.ones(len(self.digits), dtype=bool)
        for trait, wanted in goal.shows.items():
            met &= self._visible(trait, expressed) == wanted
        for locus, keys in goal.genotypes.items():
            place = self.spaces.index(self.model.place(locus))
            met &= self.model.spaces[self.spaces[place]].accepts(locus, keys)[self.in_space(place)]
        rows = [met & (goal.sex in (None, sex)) for sex in ("female", "male")]
        return np.array(rows).astype(np.uint8)

    def looks(self) -> list[tuple[str, ...]]:
        """What is seen of each genotype: the traits visible that loci followed here decide."""
        expressed = self._expressed()
        known = set(self.spaces)
        traits = [
            one for one in self.model.looks.expressions
            if known.issuperset(self.model.looks.spaces_of(one))
        ]  # fmt: skip
        columns = [self._visible(one, expressed).tolist() for one in traits]
        return [
            tuple(trait for trait, seen in zip(traits, row, strict=True) if seen)
            for row in zip(*columns, strict=True)
        ] or [()] * len(self.digits)

    def _expressed(self) -> dict[str, Bools1]:
        """Whether each genotype expresses a trait, for traits decided by loci followed here."""
        found = {}
        for trait, expression in self.model.looks.expressions.items():
            if not expression.spaces.issubset(self.spaces):
                continue
            any_of: Bools1 = np.zeros(len(self.digits), dtype=bool)
            for alternative in expression.alternatives:
                all_of: Bools1 = np.ones(len(self.digits), dtype=bool)
                for k, mask in alternative.items():
                    all_of &= mask[self.in_space(self.spaces.index(k))]
                any_of |= all_of
            found[trait] = any_of
        return found

    def _visible(self, trait: str, expressed: dict[str, Bools1]) -> Bools1:
        seen: Bools1 = expressed[trait].copy()
        for hider in self.model.looks.hidden_by[trait]:
            seen &= ~expressed[hider]
        return seen


def read_genes(
    model: Model, loci: Sequence[str], animals: Sequence[int], females: Number
) -> Reading:
    """The genotypes at some loci that animals, by position, or their descendants can have.

    `females` is the share of females among hatchlings where no locus decides it.
    """
    spaces = tuple(sorted({model.place(locus) for locus in loci}))
    states, tables = [], []
    carrier, share = -1, np.array([float(females)])
    for place, k in enumerate(spaces):
        space = model.spaces[k]
        own = _reached(space, {int(s) for i in animals for s in model.states(k, i)})
        whole = np.ascontiguousarray(space.table[np.ix_(own, own, own)])
        by_sex = np.array([whole * space.allowed(sex)[own] for sex in (FEMALE, MALE)])
        mass = by_sex.sum(axis=3, keepdims=True)
        if space.carries_sex:
            both = mass.sum(axis=0)
            halves = np.full(both.shape, 0.5)
            carrier = place
            share = np.divide(mass[0], both, out=halves, where=both > 0).reshape(-1)
        np.divide(by_sex, mass, out=by_sex, where=mass > 0)
        states.append(own)
        tables.append(by_sex)
    return Reading(model, spaces, tuple(states), tuple(tables), carrier, share)


def _reached(space: Space, known: set[int]) -> Ints1:
    """These states of a space and all that their descendants can have."""
    known = {state for state in known if state < space.genotypes}
    while True:
        own = np.array(sorted(known), dtype=np.int64)
        children = space.table[np.ix_(own, own)].any(axis=(0, 1))
        more = known.union(np.flatnonzero(children).tolist())
        if more == known:
            return own
        known = more


@dataclass(frozen=True)
class Genome:
    """All genotypes, those of one hypothesis after those of another.

    Attributes:
        readings: the hypotheses that are left.
        prior: how likely each is.
        first: where the genotypes of each begin, and the end of the last.
        look: number of what is seen, by genotype; `looks` of them.
        goal: whether a hatchling meets the goal, by sex and genotype.
    """

    readings: tuple[Reading, ...]
    prior: Floats1
    first: Ints1
    look: Ints1
    looks: int
    goal: Marks2

    @property
    def size(self) -> int:
        """Number of genotypes."""
        return int(self.first[-1])

    @property
    def sexed(self) -> bool:
        """Whether anything that is followed lies on the sex chromosomes."""
        return any(r.model.spaces[k].sex_linked for r in self.readings for k in r.spaces)

    def can_be(self, sex: int) -> Bools1:
        """Whether an animal of this sex can have each genotype."""
        found: Bools1 = np.concatenate([one.can_be(sex) for one in self.readings])
        return found

    def packed(self) -> Genes:
        """The same as flat arrays for the loops; a hypothesis of fewer spaces is filled up."""
        most = max(1, *(len(one.spaces) for one in self.readings))
        shape = (len(self.readings), most)
        strides, sizes = np.zeros(shape, dtype=np.int64), np.ones(shape, dtype=np.int64)
        starts = np.zeros(shape, dtype=np.int64)
        digits = np.zeros((self.size, most), dtype=np.int64)
        tables = [np.ones(2)]
        share = np.zeros((self.size, self.size))
        length = 2
        for w, one in enumerate(self.readings):
            own = slice(self.first[w], self.first[w + 1])
            digits[own, : len(one.spaces)] = one.digits
            share[own, own] = one.female_shares()
            for place, table in enumerate(one.tables):
                sizes[w, place], starts[w, place] = len(one.states[place]), length
                strides[w, place] = int(np.prod(one.sizes[place + 1 :], dtype=np.int64))
                tables.append(table.reshape(-1))
                length += table.size
        world = np.repeat(np.arange(len(self.readings)), np.diff(self.first)).astype(np.int64)
        return (
            self.first, digits, world, strides, sizes, starts, np.concatenate(tables), share,
            self.look, self.goal, self.prior,
        )  # fmt: skip


def genome(solved: Solved, goal: Goal, animals: Sequence[str], females: Number | None) -> Genome:
    """The genotypes at the loci that a goal turns on, over all hypotheses that are left.

    Raises:
        BeyondExact: there are more than `MOST_GENOTYPES`.
    """
    population = solved.population
    loci = loci_that_matter(population, goal, animals)
    index = population.animal_index
    at = [index[one] for one in animals]
    free = population.sex_determination == "none"
    share = population.females if females is None or not free else females
    readings = tuple(read_genes(world.model, loci, at, share) for world in solved.worlds)
    counts = [int(np.prod(one.sizes, dtype=np.float64)) for one in readings]
    if sum(counts) > MOST_GENOTYPES:
        raise BeyondExact(
            float(sum(counts)), float(MOST_GENOTYPES),
            f"the goal turns on {sum(counts)} genotypes of {len(loci)} loci, more than the "
            f"{MOST_GENOTYPES} that a forecast tells apart",
        )  # fmt: skip
    seen = [look for one in readings for look in one.looks()]
    number = {look: i for i, look in enumerate(dict.fromkeys(seen))}
    return Genome(
        readings, np.array(solved.chance), np.concatenate(([0], np.cumsum(counts))),
        np.array([number[look] for look in seen], dtype=np.int64), len(number),
        np.ascontiguousarray(np.concatenate([one.met(goal) for one in readings], axis=1)),
    )  # fmt: skip


SEX_CODES = {"female": FEMALE, "male": MALE, "unknown": EITHER}
