"""How likely animals are to show looks: traits that must all be visible on one animal.

A look may rest on several loci, and other traits may hide a part of it.  So its chance is a sum
over the joint genotypes of all loci that bear on it.  Where all but one of these are certain the
posteriors say it; only for the other animals a joint table is worked out.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import nextafter
from typing import NamedTuple

import numpy as np

from genetics.arrays import Bools, Bools1, Floats, Ints1
from genetics.looks import expression, looks
from genetics.model import genotype
from genetics.population import Population, Trait
from genetics.solving import Solved, World, hypotheses
from genetics.space_list import make_spaces

BELOW_ONE = nextafter(1.0, 0.0)


class ShownPart(NamedTuple):
    """A trait of the population that must be visible; `by`: one that must be expressed besides."""

    trait: str
    by: Trait | None = None


class LookAsked(NamedTuple):
    """A look, under a label of the caller's, and the animals of whom it is asked."""

    label: Hashable
    animals: tuple[str, ...]
    parts: tuple[ShownPart, ...]


class LookChance(NamedTuple):
    """The chance that an animal has the genes to show a look, and nothing that hides it.

    Exactly 1 where nothing else is possible; `error` is the half width of the 95 % interval.
    """

    animal: str
    label: Hashable
    chance: float
    error: float


def look_chances(solved: Solved, asked: Sequence[LookAsked]) -> tuple[LookChance, ...]:
    """The chances of looks; who certainly does not show one has no row of it.

    Raises:
        ImpossibleEvidence, BeyondExact: as `solve`, where a look rests on several loci.
    """
    views = [_View(solved, one) for one in asked]
    queries = [query for view in views for query in view.queries()]
    again = solved.asked(queries) if queries else solved
    return tuple(row for view in views for row in view.rows(again))


def can_be_seen(population: Population, parts: Sequence[ShownPart]) -> bool:
    """Whether some genotype shows all of these traits at once, however the open lines turn out."""
    wanted = set(_loci(population, parts))
    for _, classes in hypotheses(population):
        spaces = make_spaces(population, classes, {})
        axes = [k for k, one in enumerate(spaces) if wanted & {locus.id for locus in one.loci}]
        seen = looks(population, spaces)
        sizes = [spaces[k].size for k in axes]
        table = np.ones(tuple(sizes), dtype=bool)
        for part in parts:
            table &= seen.visible(part.trait, axes)
            if part.by is not None:
                table &= expression(part.by, spaces).over(axes, sizes)
        if table.any():
            return True
    return False


class _View:
    """One look over the hypotheses of a solved population."""

    def __init__(self, solved: Solved, asked: LookAsked) -> None:
        index = solved.population.animal_index
        self.solved, self.asked = solved, asked
        self.at: Ints1 = np.array([index[one] for one in asked.animals], dtype=np.int64)
        self.loci = _loci(solved.population, asked.parts)
        self.tables = [_table(world, self.loci, asked.parts) for world in solved.worlds]

    @cached_property
    def possible(self) -> list[int]:
        """Positions, among the animals asked about, of those who may show it."""
        found = np.zeros(len(self.at), dtype=bool)
        for world, table in zip(self.solved.worlds, self.tables, strict=True):
            found |= table.possible(world, self.at)
        return [int(position) for position in np.flatnonzero(found)]

    def queries(self) -> Iterator[tuple[tuple[str, str], ...]]:
        """The joint tables without which the chance cannot be told."""
        worlds = list(zip(self.solved.worlds, self.tables, strict=True))
        for position in self.possible:
            if any(table.needs_joint(world, int(self.at[position])) for world, table in worlds):
                name = self.asked.animals[position]
                yield tuple((name, locus) for locus in self.loci)

    def rows(self, again: Solved) -> Iterator[LookChance]:
        """The chance of everyone who may show it, by the tables asked for."""
        for position in self.possible:
            i, name = int(self.at[position]), self.asked.animals[position]
            shown = hidden = 0.0
            for world, share, table in zip(again.worlds, again.chance, self.tables, strict=True):
                yes, no = table.chances(world, i)
                shown += share * yes
                hidden += share * no
            if shown > 0:
                chance = min(shown / (shown + hidden), BELOW_ONE) if hidden > 0 else 1.0
                yield LookChance(name, self.asked.label, chance, self._error(name))

    def _error(self, name: str) -> float:
        if self.solved.exact:
            return 0.0
        return max(self.solved.error(name, locus) for locus in self.loci)


@dataclass
class _Table:
    """Whether a look is visible, by the states of the spaces that bear on it, in order."""

    axes: tuple[int, ...]
    visible: Bools

    def possible(self, world: World, at: Ints1) -> Bools1:
        """Of some individuals: whether no space by itself rules the look out."""
        found: Bools1 = np.ones(len(at), dtype=bool)
        for place, k in enumerate(self.axes):
            others = tuple(axis for axis in range(len(self.axes)) if axis != place)
            allowed = self.visible.any(axis=others)
            found &= (world.group_of[k].posterior[k][at][:, allowed] > 0).any(axis=1)
        return found

    def needs_joint(self, world: World, i: int) -> bool:
        """Whether the posteriors alone do not say how likely an individual shows it."""
        states = [np.flatnonzero(world.group_of[k].posterior[k][i]) for k in self.axes]
        here = self.visible[np.ix_(*states)]
        if here.all() or not here.any():
            return False
        open_groups = [
            id(world.group_of[k])
            for k, some in zip(self.axes, states, strict=True)
            if len(some) > 1
        ]
        return len(set(open_groups)) < len(open_groups)

    def chances(self, world: World, i: int) -> tuple[float, float]:
        """Chance that an individual shows it and that it does not, under one hypothesis."""
        by_group: dict[int, list[int]] = {}
        for k in self.axes:
            by_group.setdefault(id(world.group_of[k]), []).append(k)
        whole: Floats = np.ones(())
        order: list[int] = []
        for spaces in by_group.values():
            whole = np.multiply.outer(whole, _joint(world, tuple(spaces), i))
            order += spaces
        whole = np.transpose(whole, [order.index(k) for k in self.axes])
        whole = whole[tuple(slice(size) for size in self.visible.shape)]
        return float(whole[self.visible].sum()), float(whole[~self.visible].sum())


def _joint(world: World, spaces: tuple[int, ...], i: int) -> Floats:
    """The joint chances of an individual's states; independent where no table was asked for."""
    result = world.group_of[spaces[0]]
    asked = result.joint.get(tuple(genotype(k, i) for k in spaces))
    if asked is not None:
        return asked
    whole: Floats = np.ones(())
    for k in spaces:
        whole = np.multiply.outer(whole, result.posterior[k][i])
    return whole


def _table(world: World, loci: Sequence[str], parts: Sequence[ShownPart]) -> _Table:
    model = world.model
    axes = tuple(sorted({model.place(locus) for locus in loci}))
    sizes = [model.spaces[k].size for k in axes]
    visible: Bools = np.ones(tuple(sizes), dtype=bool)
    for part in parts:
        visible = visible & model.looks.visible(part.trait, axes)
        if part.by is not None:
            visible = visible & expression(part.by, model.spaces).over(axes, sizes)
    # No animal has the state that stands for no sire.
    return _Table(axes, visible[tuple(slice(model.spaces[k].genotypes) for k in axes)])


def _loci(population: Population, parts: Sequence[ShownPart]) -> tuple[str, ...]:
    """Every locus that decides whether some traits are visible, in the population's order."""
    by_name = {trait.id: trait for trait in population.traits}
    wanted = {part.trait for part in parts}
    deciding = [by_name[name] for name in wanted]
    deciding += [part.by for part in parts if part.by is not None]
    deciding += [
        one for one in population.traits if "*" in one.hides or not wanted.isdisjoint(one.hides)
    ]
    found = {locus for trait in deciding for locus in trait.recessive_at}
    found |= {locus for trait in deciding for stated in trait.shown_by for locus in stated}
    return tuple(locus.id for locus in population.loci if locus.id in found)
