"""Which traits a genotype expresses and which of them can be seen."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from genetics.arrays import Bools
from genetics.errors import BeyondExact
from genetics.population import Population, Trait
from genetics.spaces import Space

MOST_SEEN = 2.0**24
"""Genotypes on which it may hang together whether a look is visible."""


@dataclass(frozen=True, eq=False)
class Expression:
    """When a trait is expressed: any alternative whose every condition on a space holds."""

    alternatives: tuple[dict[int, Bools], ...]

    @property
    def spaces(self) -> frozenset[int]:
        """The spaces it looks at."""
        return frozenset(space for one in self.alternatives for space in one)

    def over(self, axes: Sequence[int], sizes: Sequence[int]) -> Bools:
        """Boolean table over the states of the given spaces, which include its own."""
        found = np.zeros(tuple(sizes), dtype=bool)
        for alternative in self.alternatives:
            term = np.ones(tuple(sizes), dtype=bool)
            for space, mask in alternative.items():
                shape = [1] * len(axes)
                shape[axes.index(space)] = len(mask)
                term &= mask.reshape(shape)
            found |= term
        return found


@dataclass(frozen=True, eq=False)
class Looks:
    """All traits of a population over one set of spaces."""

    traits: tuple[Trait, ...]
    expressions: dict[str, Expression]
    hidden_by: dict[str, tuple[str, ...]]
    sizes: tuple[int, ...]

    def spaces_of(self, trait: str) -> tuple[int, ...]:
        """Spaces on which it depends whether the trait is visible, in order."""
        found = set(self.expressions[trait].spaces)
        for hider in self.hidden_by[trait]:
            found |= self.expressions[hider].spaces
        return tuple(sorted(found))

    def visible(self, trait: str, axes: Sequence[int]) -> Bools:
        """Table over the states of `axes` of whether the trait is visible.

        Raises:
            BeyondExact: it would have more than `MOST_SEEN` cells.
        """
        sizes = [self.sizes[a] for a in axes]
        if math.prod(sizes) > MOST_SEEN:
            raise BeyondExact(
                float(math.prod(sizes)), MOST_SEEN,
                f"{trait}: its look hangs on {len(axes)} loci or groups of them, with more "
                f"genotypes together than the limit of {MOST_SEEN:.3g}",
            )  # fmt: skip
        seen = self.expressions[trait].over(axes, sizes)
        for hider in self.hidden_by[trait]:
            seen = seen & ~self.expressions[hider].over(axes, sizes)
        return seen


def looks(population: Population, spaces: Sequence[Space]) -> Looks:
    """Expressions of every trait over the given spaces."""
    expressions = {trait.id: expression(trait, spaces) for trait in population.traits}
    hidden_by = {
        trait.id: tuple(
            other.id
            for other in population.traits
            if other.id != trait.id and ("*" in other.hides or trait.id in other.hides)
        )
        for trait in population.traits
    }
    return Looks(population.traits, expressions, hidden_by, tuple(space.size for space in spaces))


def expression(trait: Trait, spaces: Sequence[Space]) -> Expression:
    """When one trait is expressed, over the given spaces; it need not be the population's own."""
    place = {locus.id: k for k, space in enumerate(spaces) for locus in space.loci}
    alternatives: list[dict[int, Bools]] = []
    for stated in trait.shown_by:
        conditions: dict[int, Bools] = {}
        for locus, keys in stated.items():
            mask = spaces[place[locus]].accepts(locus, keys)
            known = conditions.get(place[locus])
            conditions[place[locus]] = mask if known is None else known & mask
        alternatives.append(conditions)
    for locus in trait.recessive_at:
        space = spaces[place[locus]]
        alternatives.append({place[locus]: space.copies[space.locus_position(locus)] >= 2})
    return Expression(tuple(alternatives))
