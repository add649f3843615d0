"""A young of two parents who are independent of each other, in closed form where loci are plain.

At a locus on which nothing else hangs the young has the genotype x with chance

    ∝ λ(x) Σ_{d, s} p(d) q(s) P(x | d, s)

with p and q the chances of what its parents have and λ(x) the chance of what it shows; several
such loci are independent of one another.  That is what `solve` gives of a population of these
families, here for all of them at once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from genetics.arrays import Floats1
from genetics.copies import Table
from genetics.errors import ImpossibleEvidence
from genetics.population import NOTHING, Population, Sighting
from genetics.solving import Solved
from genetics.spaces import EITHER

FLOOR = 1e-250
"""Where a product of three chances may come below it, `solve` is to be asked, which scales them."""

AT_ONCE = 2**20
"""Cells of tables of young that are worked on at once."""

Chances = tuple[Sequence[float] | Floats1, ...]
"""Chances of the states of each locus."""


class Family(NamedTuple):
    """What the parents of a young have and how likely its states make what it shows, by locus."""

    dam: Chances
    sire: Chances
    shown: Chances

    @property
    def is_faint(self) -> bool:
        """Whether something that is possible may be lost, its chance being too small."""
        return any(
            _least(dam) * _least(sire) * _least(shown) < FLOOR
            for dam, sire, shown in zip(*self, strict=True)
        )


class SmallFamilies:
    """Families at the loci of a solved population, of which each is plain."""

    def __init__(self, solved: Solved) -> None:
        self.model = solved.worlds[0].model
        self._keys = [
            [(space.keys[0][key],) for key in space.key_of[0].tolist()]
            for space in self.model.spaces
        ]
        self._shown: dict[tuple[tuple[str, int], ...], Chances] = {}
        self._sightings: list[Sighting] = []

    @staticmethod
    def fits(solved: Solved) -> bool:
        """Whether every locus is an autosomal one of its own, and every look is decided at one."""
        population: Population = solved.population
        looks = solved.worlds[0].model.looks
        return not (
            population.same_locus
            or population.linkage
            or population.viability
            or population.columns.profiles
            or any(locus.chromosome != "autosome" for locus in population.loci)
            or any(len(looks.spaces_of(trait.id)) != 1 for trait in population.traits)
        )

    def unrecorded(self) -> Chances:
        """What a parent has of whom nothing is recorded."""
        background = self.model.people.population.background
        return tuple(space.founder({}, background, NOTHING, EITHER) for space in self.model.spaces)

    def parent(self, spread: Sequence[Mapping[tuple[str, ...], float]]) -> Chances:
        """What a parent has, from the chances of its keys at each locus."""
        return tuple(
            [chances.get(key, 0.0) for key in keys]
            for chances, keys in zip(spread, self._keys, strict=True)
        )

    def shown(self, shows: Mapping[str, Sighting]) -> Chances:
        """How likely each state makes what is seen."""
        name = tuple(sorted((trait, id(look)) for trait, look in shows.items()))
        if name not in self._shown:
            # Records share their sightings; those that name something here are held.
            self._sightings += shows.values()
            self._shown[name] = self._weights(shows)
        return self._shown[name]

    def _weights(self, shows: Mapping[str, Sighting]) -> Chances:
        found = [np.ones(space.size) for space in self.model.spaces]
        for trait, look in shows.items():
            (k,) = self.model.looks.spaces_of(trait)
            visible = self.model.looks.visible(trait, (k,))
            missed, imagined = float(look.false_negative), float(look.false_positive)
            chance = np.where(visible, 1.0 - missed, imagined)
            found[k] = found[k] * (chance if look.seen else 1.0 - chance)
        return tuple(found)

    def tables(self, founders: Sequence[int], families: Sequence[Family]) -> dict[str, Table]:
        """The chances of the keys at each locus: of founders, then of the young of each family.

        Args:
            founders: their positions in the solved population; by what is recorded of each itself.

        Raises:
            ImpossibleEvidence: parents cannot give what their young shows.
        """
        found = {}
        for k, space in enumerate(self.model.spaces):
            dams, sires, shown = (
                np.array([one[role][k] for one in families]).reshape(-1, space.size)
                for role in range(3)
            )
            step = max(1, AT_ONCE // space.size**2)
            parts = [self.model.own[k][founders]]
            for at in range(0, len(families), step):
                dam, sire = dams[at : at + step, :, None], sires[at : at + step, None, :]
                passed = np.einsum("nds,dsx->nx", dam * sire, space.table)
                parts.append(passed * shown[at : at + step])
            p = np.concatenate(parts)
            whole = p.sum(axis=1, keepdims=True)
            if not whole.all():
                raise ImpossibleEvidence("parents cannot give what their young shows")
            table = np.zeros((len(p), len(space.keys[0])))
            for state, key in enumerate(space.key_of[0].tolist()):
                table[:, key] += p[:, state] / whole[:, 0]
            found[space.loci[0].id] = space.keys[0], table
        return found


def _least(chances: Sequence[float] | Floats1) -> float:
    """The smallest chance of what is possible."""
    return min((float(p) for p in chances if p > 0), default=1.0)
