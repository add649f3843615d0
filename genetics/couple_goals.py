"""The chances of a goal for many couples at once, the parents of each uncertain together.

What a couple gives hangs on the parents' genotypes alone, and most genotypes give the same: in
each space couples fall into a few kinds.  The chance of the goal is worked out once for every
combination of kinds; a couple is then weights over the kinds, read from the joint genotypes of the
two (`genetics.pair_tables`), and its chance of at least one success among n hatchlings is the
average of 1 − (1 − p)^n over them.  The same as `genetics.couple` for one couple and a goal alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from genetics.arrays import Bools, Bools1, Floats, Floats2, Floats3, Ints1, Ints2
from genetics.errors import BeyondExact
from genetics.pair_tables import held_tables
from genetics.population import Goal
from genetics.solving import Solved, World
from genetics.spaces import EITHER

MOST_KINDS = 5_000_000
"""Combinations of kinds of couples, over all spaces, before the answer is called too large."""
CELLS_AT_ONCE = 2_000_000
SEXES = ("female", "male")


@dataclass(frozen=True)
class GoalChances:
    """By dam (row) and sire (column): one hatchling, and at least one of so many, meets a goal."""

    one: Floats2
    at_least_one: Floats2


def goal_chances(
    solved: Solved, dams: Sequence[str], sires: Sequence[str], goal: Goal, eggs: int
) -> GoalChances:
    """The chances of every dam with every sire.

    Raises:
        BeyondExact: the pedigree, or the kinds of couples, are too many for exact answers.
    """
    index = solved.population.animal_index
    females, males = [index[name] for name in dams], [index[name] for name in sires]
    one = np.zeros((len(dams), len(sires)))
    at_least = np.zeros_like(one)
    for world, share in zip(solved.worlds, solved.chance, strict=True):
        asked = _Asked(world, goal, float(solved.population.females))
        # By group of spaces, in the order of the axes of `chance`.
        weights = [_weights(solved, world, asked, group, females, males) for group in asked.groups]
        chance = asked.chance()
        missed = (1.0 - chance) ** eggs
        one += share * _average(chance, weights, one.shape)
        at_least += share * (1.0 - _average(missed, weights, one.shape))
    return GoalChances(one, np.clip(at_least, 0.0, 1.0))


def test_bits(
    solved: Solved, dams: Sequence[str], sires: Sequence[str], question: CarrierQuestion
) -> Floats2:
    """What the hatchlings of every couple would tell of one of the two, in bits.

    Mutual information between "the suspect is one of the genotypes" and how many of the hatchlings
    show the trait; the same as `genetics.plans.matings` for one mating.

    Raises:
        BeyondExact: the pedigree, or the kinds of couples, are too many for exact answers.
    """
    index = solved.population.animal_index
    females, males = [index[name] for name in dams], [index[name] for name in sires]
    goal = Goal(shows={question.trait: True}, genotypes={})
    counts = np.arange(question.eggs + 1)
    # By whether it is, and how many show it.
    told = np.zeros((2, len(dams) * len(sires), len(counts)))
    for world, share in zip(solved.worlds, solved.chance, strict=True):
        asked = _Asked(world, goal, float(solved.population.females), also=question.locus)
        k = world.model.place(question.locus)
        of_suspect = world.model.spaces[k].accepts(question.locus, question.genotypes)
        chance = asked.chance()
        binomial = _binomial(chance.reshape(-1), question.eggs).reshape(*chance.shape, -1)
        for flag, mask in ((0, ~of_suspect), (1, of_suspect)):
            only = _Only(k, question.suspect, mask)
            weights = [
                _weights(solved, world, asked, group, females, males, only)
                for group in asked.groups
            ]
            for count in counts:
                shape = (len(dams), len(sires))
                told[flag, :, count] += share * _average(
                    binomial[..., count], weights, shape
                ).reshape(-1)
    return _information(told).reshape(len(dams), len(sires))


@dataclass(frozen=True)
class CarrierQuestion:
    """Is the dam, or the sire, of each couple one of some genotypes at a locus?

    Attributes:
        trait: what is looked for on each of the `eggs` hatchlings.
    """

    suspect: Literal["dam", "sire"]
    locus: str
    genotypes: tuple[str, ...]
    trait: str
    eggs: int


class _Only(NamedTuple):
    """The couples of which a parent's state in a space is one of these."""

    space: int
    parent: Literal["dam", "sire"]
    states: Bools1


def _binomial(chances: Floats, n: int) -> Floats2:
    """Of n hatchlings each with a chance: how likely each number of them is."""
    counts = np.arange(n + 1)
    ways = np.array([math.comb(n, k) for k in counts], dtype=float)
    found: Floats2 = ways * chances[:, None] ** counts * (1.0 - chances[:, None]) ** (n - counts)
    return found


def _information(told: Floats) -> Floats:
    """Mutual information in bits between the first axis and the last, by the middle one."""
    whole = told.sum(axis=(0, 2), keepdims=True)
    joint = np.divide(told, whole, out=np.zeros_like(told), where=whole > 0)
    apart = joint.sum(axis=0, keepdims=True) * joint.sum(axis=2, keepdims=True)
    ratio = np.divide(joint, apart, out=np.ones_like(joint), where=joint > 0)
    found: Floats = np.maximum((joint * np.log2(ratio)).sum(axis=(0, 2)), 0.0)
    return found


class _Asked:
    """A goal in one hypothesis: the spaces that it hangs on, and kinds of couples in each."""

    def __init__(self, world: World, goal: Goal, females: float, also: str | None = None) -> None:
        self.world, self.goal, self.females = world, goal, females
        looks = world.model.looks
        spaces = {k for trait in goal.shows for k in looks.spaces_of(trait)}
        spaces |= {world.model.place(locus) for locus in goal.genotypes}
        if also is not None:
            spaces.add(world.model.place(also))
        # Where survival on the sex chromosomes differs, it moves the share of the sexes.
        spaces |= {k for k, space in enumerate(world.model.spaces) if space.carries_sex}
        grouped: dict[int, list[int]] = {}
        for k in sorted(spaces):
            grouped.setdefault(id(world.group_of[k]), []).append(k)
        self.groups = list(grouped.values())
        self.spaces = [k for group in self.groups for k in group]
        self.marks = {k: self._marks(k) for k in self.spaces}
        self.kinds = {k: _kinds(world, k, self.marks[k]) for k in self.spaces}
        combined = math.prod(len(self.kinds[k].chances) for k in self.spaces)
        if combined > MOST_KINDS:
            raise BeyondExact(float(combined), float(MOST_KINDS))

    def _marks(self, k: int) -> dict[str, Bools1]:
        """What the goal looks at in a space: conditions of traits, and genotypes asked."""
        looks = self.world.model.looks
        found = {}
        for trait in self._traits():
            for number, alternative in enumerate(looks.expressions[trait].alternatives):
                if k in alternative:
                    found[f"{number} {trait}"] = alternative[k]
        for locus, keys in self.goal.genotypes.items():
            if self.world.model.place(locus) == k:
                found[f"at {locus}"] = self.world.model.spaces[k].accepts(locus, keys)
        return found

    def _traits(self) -> list[str]:
        """The traits of the goal and those that may hide them."""
        hidden_by = self.world.model.looks.hidden_by
        traits = dict.fromkeys(self.goal.shows)
        for trait in self.goal.shows:
            traits |= dict.fromkeys(hidden_by[trait])
        return list(traits)

    def chance(self) -> Floats:
        """The chance of the goal, an axis a space, by kind of couple there."""
        total: Floats = np.zeros([len(self.kinds[k].chances) for k in self.spaces])
        sexed = any(self.world.model.spaces[k].sex_linked for k in self.spaces)
        shares = (0.5, 0.5) if sexed else (self.females, 1.0 - self.females)
        for sex, share in enumerate(shares):
            if self.goal.sex not in (None, SEXES[sex]):
                continue
            met: Floats = self._met().astype(float)
            for k in self.spaces:
                # The first axis is that of the codes of this space; that of its kinds comes last.
                met = np.tensordot(met, self.kinds[k].of_sex(sex), axes=(0, 1))
            total += share * met
        return np.minimum(total, 1.0)

    def _met(self) -> Bools:
        """Whether a hatchling meets the goal, an axis a space, by what is so of it there."""
        shape = [len(self.kinds[k].codes) for k in self.spaces]
        looks = self.world.model.looks

        def holds(mark: str) -> Bools:
            found: Bools = np.ones(shape, dtype=bool)
            for axis, k in enumerate(self.spaces):
                if mark in self.marks[k]:
                    bit = list(self.marks[k]).index(mark)
                    own = (self.kinds[k].codes >> bit) & 1 == 1
                    found &= own.reshape([-1 if a == axis else 1 for a in range(len(shape))])
            return found

        def expressed(trait: str) -> Bools:
            found: Bools = np.zeros(shape, dtype=bool)
            for number in range(len(looks.expressions[trait].alternatives)):
                found |= holds(f"{number} {trait}")
            return found

        met: Bools = np.ones(shape, dtype=bool)
        for trait, wanted in self.goal.shows.items():
            visible = expressed(trait)
            for hider in looks.hidden_by[trait]:
                visible &= ~expressed(hider)
            met &= visible == wanted
        for locus in self.goal.genotypes:
            met &= holds(f"at {locus}")
        return met


@dataclass(frozen=True)
class _Kinds:
    """Kinds of couples in one space.

    Attributes:
        of: the kind of each dam's state (row) with each sire's (column).
        codes: which marks hold, as bits, of each sort of hatchling.
        chances: by kind, sex and code: the chance of such a hatchling, given its sex where the
            space tells the sex (then of both sexes together it sums to 2).
    """

    of: Ints2
    codes: Ints1
    chances: Floats3

    def of_sex(self, sex: int) -> Floats2:
        """By kind and code, for a hatchling of that sex."""
        return np.asarray(self.chances[:, sex, :])


def _kinds(world: World, k: int, marks: dict[str, Bools1]) -> _Kinds:
    space = world.model.spaces[k]
    table = np.asarray(space.table)
    bits = np.zeros(table.shape[2], dtype=np.int64)
    for bit, mask in enumerate(marks.values()):
        bits |= mask[: len(bits)].astype(np.int64) << bit
    codes, code = np.unique(bits, return_inverse=True)
    chances = np.zeros((*table.shape[:2], 2, len(codes)))
    for state in range(table.shape[2]):
        for sex in (0, 1):
            if space.sex[state] in (sex, EITHER):
                chances[:, :, sex, code[state]] += table[:, :, state]
    if space.sex_linked and space.carries_sex:
        chances *= 2.0
    rows = chances.reshape(-1, 2 * len(codes))
    # The same chances must not fall apart into kinds by rounding errors.
    kinds, found = np.unique(np.round(rows, 14), axis=0, return_inverse=True)
    of: Ints2 = found.astype(np.int64).reshape(table.shape[0], table.shape[1])
    return _Kinds(of, codes, kinds.astype(np.float64).reshape(len(kinds), 2, len(codes)))


def _weights(
    solved: Solved, world: World, asked: _Asked, group: list[int],
    females: Sequence[int], males: Sequence[int], only: _Only | None = None,
) -> Floats:  # fmt: skip
    """By dam, sire and kind in each space of a group: how likely such a couple is.

    With `only` it is how likely such a couple is that is also one of these.
    """
    here = only is not None and only.space in group
    kinds = [asked.kinds[k] for k in group]
    counts = [len(kind.chances) for kind in kinds]
    sizes = [world.model.spaces[k].size for k in group]
    found = np.zeros((len(females), len(males), math.prod(counts)))
    held_dams = len(females) < len(males)
    held, others = (females, males) if held_dams else (males, females)
    for given in held_tables(solved, world, group, held, others):
        # The kind in each space for every genotype of the other, combined into one number.
        code: Ints1 = np.zeros(1, dtype=np.int64)
        for kind, count, size, state in zip(kinds, counts, sizes, given.states, strict=True):
            own = kind.of[state, :size] if held_dams else kind.of[:size, state]
            code = (code[:, None] * count + own[None, :]).reshape(-1)
        onehot = np.zeros((len(code), math.prod(counts)))
        onehot[np.arange(len(code)), code] = 1.0
        if here and only is not None:
            place = group.index(only.space)
            if held_dams == (only.parent == "dam"):
                if not only.states[given.states[place]]:
                    continue
            else:
                grid = np.indices(sizes)[place].reshape(-1)
                onehot[~only.states[grid]] = 0.0
        weights = given.joint @ onehot
        if held_dams:
            found[given.individual] += weights
        else:
            found[:, given.individual] += weights
    return found.reshape(len(females), len(males), *counts)


def _average(values: Floats, weights: Sequence[Floats], shape: tuple[int, int]) -> Floats2:
    """The average of values by kind, an axis a space, over each couple's weights by group."""
    couples = shape[0] * shape[1]
    found = np.empty(couples)
    step = max(1, int(CELLS_AT_ONCE / values.size))
    for first in range(0, couples, step):
        own = [weight.reshape(couples, -1)[first : first + step] for weight in weights]
        flat: Floats = values.reshape(1, -1)
        for rows in own:
            left = flat.reshape(len(flat), rows.shape[1], -1)
            flat = np.einsum(
                "ck,ckr->cr", rows, np.broadcast_to(left, (len(rows), *left.shape[1:]))
            )
        found[first : first + step] = flat[:, 0] if weights else values
    return found.reshape(shape)
