"""Steps of a route: what couples may be once the young of earlier steps are kept, and what follows.

A step mates two animals and keeps young of one look.  What is kept is a record: an animal with
these parents, this look and the sex that later steps use; of both sexes, two such animals.  Its
record tells of its parents too.  So what a couple may be is worked out from the joint genotypes of
the animals at hand and, one after another, the records of the steps that the couple descends from.

The figures of a step hang on these records alone (its context), not on the whole route, and are
kept by them.  Bounds on them need no chances of the animals at hand: they follow from the genotypes
that these may have.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import NamedTuple

import numpy as np

from genetics.arrays import Bools1, Floats1, Floats2, Floats3, Ints1, Ints2
from genetics.errors import BeyondExact
from genetics.plans.genotypes import (
    MOST_CELLS,
    Genotypes,
    asked_exactly,
    barren_loci,
    joint_cells,
    joint_query,
    loci_of_looks,
    loci_of_sexes,
)
from genetics.plans.questions import RoutesQuestion
from genetics.population import Population
from genetics.solving import Solved

FEMALE, MALE, BOTH = 0, 1, 2
MOST_TOGETHER = 2.0**18
"""Cells up to which the animals at hand are all asked about at once."""
MOST_WAYS = 64
"""Distributions of what young may be that a bound tells apart."""
MOST_COUPLES = 100_000
"""Couples whose figures are worked out before a question is called too large."""


@dataclass(frozen=True, eq=False, slots=True)
class Step:
    """A dam, a sire and the look that is kept; a parent is at hand (its position) or kept.

    `before` are the steps that it descends from, in order.
    """

    dam: Parent
    sire: Parent
    look: int
    generation: int
    number: int
    before: tuple[Step, ...]


Parent = int | Step
Context = tuple[tuple[Step, int], ...]
"""Steps, oldest first, each with the sexes of what it keeps: FEMALE, MALE or BOTH."""
Individual = int | tuple[Step, int]
"""An animal at hand, or the young of one sex that a step kept."""


class Rows(NamedTuple):
    """What some individuals may be together: weights, and the genotypes of each."""

    weight: Floats1
    genotypes: Mapping[Individual, Ints1]


MOST_NEEDED = 1_000
ENOUGH = 0.95
"""Chance at which so many hatchlings are called enough."""


class Figures(NamedTuple):
    """Figures of a couple, by look where they are lists.

    Attributes:
        chance: that a hatchling has the look.
        clutch: by look a row: that a clutch has one of the look, a female, a male, one of each.
        goal, goal_clutch: that a hatchling meets the goal, that one of a clutch does.
    """

    chance: Floats1
    clutch: Floats2
    goal: float
    goal_clutch: float


class Crossed(NamedTuple):
    """What follows from what two parents may be, by look.

    Attributes:
        kept: by sex and look the number of what young may be, -1 where there can be none.
        clutch: by look a row of the highest chances of a female, a male, one of each in a clutch.
    """

    kept: Ints2
    clutch: Floats2


def individual(parent: Parent, sex: int) -> Individual:
    """Who it is that a step takes as a parent of that sex."""
    return parent if isinstance(parent, int) else (parent, sex)


def descent(dam: Parent, sire: Parent) -> tuple[Step, ...]:
    """All steps that a couple descends from, oldest first."""
    found: dict[Step, None] = {}
    for parent in (dam, sire):
        if isinstance(parent, Step):
            found |= dict.fromkeys((*parent.before, parent))
    return tuple(sorted(found, key=lambda step: (step.generation, step.number)))


class Breeding:
    """All that may be bred from animals at hand towards a goal."""

    def __init__(self, solved: Solved, question: RoutesQuestion) -> None:
        """Raises BeyondExact where there are too many genotypes or looks to be told apart."""
        population = solved.population
        if not solved.exact:
            solved = asked_exactly(solved, ())
        sexes = [population.sexes[population.animal_index[one]] for one in question.animals]
        self.solved, self.question, self.animals = solved, question, question.animals
        self.females = [i for i, sex in enumerate(sexes) if sex == "female"]
        self.males = [i for i, sex in enumerate(sexes) if sex == "male"]
        self.loci = _loci(solved, question)
        self.genotypes = Genotypes(solved, self.animals, self.loci, question.generations)
        n = self.genotypes.size
        if 2.0 * n**3 > MOST_CELLS:
            raise BeyondExact(2.0 * n**3, MOST_CELLS)
        every = np.arange(n)
        young = self.genotypes.young(np.repeat(every, n), np.tile(every, n))
        self.young = young.reshape(2, n, n, n)
        self.traits = tuple(question.goal.shows)
        self.looks = tuple(product((True, False), repeat=len(self.traits)))
        self.look = _look_of(self.genotypes, self.traits)
        self.goal_look = self.looks.index(tuple(question.goal.shows.values()))
        self.odds = self._odds()
        self._steps: dict[tuple[Parent, Parent, int], Step] = {}
        self._rows: dict[tuple[Context, frozenset[Individual]], Rows] = {}
        self._figures: dict[tuple[Context, Parent, Parent], Figures] = {}
        self._numbers: dict[bytes, int] = {}
        self._prospects: list[Floats2] = []
        self._towards_goal: list[Floats2] = []
        self._bred: dict[tuple[bytes, bytes], Ints2] = {}
        self._crossed: dict[tuple[int, int], Crossed] = {}

    def step(self, dam: Parent, sire: Parent, look: int) -> Step:
        """The step that keeps a look of a couple."""
        key = dam, sire, look
        if key not in self._steps:
            before = descent(dam, sire)
            generation = 1 + max((one.generation for one in before), default=0)
            made = Step(dam, sire, look, generation, len(self._steps), before)
            self._steps[key] = made
        return self._steps[key]

    # --- figures ----------------------------------------------------------------------------------

    def _odds(self) -> Floats3:
        """Chances by figure, dam's genotype and sire's: by look four, then two of the goal."""
        n = self.question.eggs
        tables = []
        for look in range(len(self.looks)):
            female, male = self.young[:, :, :, self.look == look].sum(axis=3)
            tables += [female + male, _some(female, n), _some(male, n), _one_each(female, male, n)]
        sexes = {"female": [FEMALE], "male": [MALE]}.get(
            self.question.goal.sex or "", [FEMALE, MALE]
        )
        success = self.young[sexes][:, :, :, self.meets].sum(axis=(0, 3))
        return np.stack([*tables, success, _some(success, n)])

    @cached_property
    def meets(self) -> Bools1:
        """Of each genotype whether it meets the goal, its sex aside."""
        found: Bools1 = self.look == self.goal_look
        for locus, keys in self.question.goal.genotypes.items():
            found = found & self.genotypes.accepted(locus, keys)
        return found

    def figures(self, context: Context, dam: Parent, sire: Parent) -> Figures:
        """The figures of a couple, given the records of the steps that it descends from.

        Raises:
            BeyondExact: more couples were asked about than can be.
        """
        key = context, dam, sire
        if key not in self._figures:
            if len(self._figures) >= MOST_COUPLES:
                message = f"more than {MOST_COUPLES} couples would have to be weighed"
                raise BeyondExact(float(MOST_COUPLES), float(MOST_COUPLES), message)
            couple = individual(dam, FEMALE), individual(sire, MALE)
            rows = self.rows(context, frozenset(couple))
            dams, sires = (rows.genotypes[one] for one in couple)
            whole = rows.weight.sum()
            found = self.odds[:, dams, sires] @ rows.weight / (whole or 1.0)
            looks = found[:-2].reshape(-1, 4)
            self._figures[key] = Figures(
                looks[:, 0], looks[:, 1:], float(found[-2]), float(found[-1])
            )
        return self._figures[key]

    def needed(
        self, context: Context, dam: Parent, sire: Parent, kept: Bools1, sexes: Sequence[int]
    ) -> int | None:
        """Hatchlings among which one of each sex (none named: of either) is kept in 95 of 100.

        `kept` says of each genotype whether it is. None where no number up to `MOST_NEEDED` is
        enough, as the parents may not be what it takes.
        """
        couple = individual(dam, FEMALE), individual(sire, MALE)
        rows = self.rows(context, frozenset(couple))
        dams, sires = (rows.genotypes[one] for one in couple)
        weight = rows.weight / rows.weight.sum()
        female, male = self.young[:, dams, sires][:, :, kept].sum(axis=2)
        for n in range(1, MOST_NEEDED + 1):
            if len(sexes) == 2:
                met = _one_each(female, male, n)
            else:
                met = _some({FEMALE: female, MALE: male}[sexes[0]] if sexes else female + male, n)
            if met @ weight >= ENOUGH - 1e-12:
                return n
        return None

    def known(
        self, context: Context, dam: Parent, sire: Parent, look: int, sexes: Sequence[int]
    ) -> bool:
        """Whether all young of a look and sex have the same keys at the loci of the goal."""
        couple = individual(dam, FEMALE), individual(sire, MALE)
        rows = self.rows(context, frozenset(couple))
        dams, sires = (rows.genotypes[one] for one in couple)
        found = [
            (sex, self.young[sex][dams, sires].any(axis=0) & (self.look == look)) for sex in (0, 1)
        ]
        together = found[FEMALE][1] | found[MALE][1]
        groups = [together] if len(sexes) == 0 else [found[sex][1] for sex in sexes]
        return all(len(np.unique(self.keys[group], axis=0)) <= 1 for group in groups)

    @cached_property
    def keys(self) -> Ints2:
        """Of each genotype its keys at every locus of the goal and of its traits, as numbers."""
        wanted = set(self.question.goal.genotypes)
        for trait in self.solved.population.traits:
            if trait.id in self.traits:
                wanted |= set(trait.recessive_at).union(*trait.shown_by)
        return self.genotypes.key_numbers(wanted)

    # --- what individuals may be together ---------------------------------------------------------

    def rows(self, context: Context, wanted: frozenset[Individual]) -> Rows:
        """What individuals may be together, once the steps of a context have kept their young."""
        key = context, wanted
        if key not in self._rows:
            self._rows[key] = self._kept(context, wanted) if context else self._at_hand(wanted)
        return self._rows[key]

    def _kept(self, context: Context, wanted: frozenset[Individual]) -> Rows:
        """The rows of the context before, its last step's young added."""
        step, sexes = context[-1]
        couple = individual(step.dam, FEMALE), individual(step.sire, MALE)
        born = [(step, sex) for sex in ((FEMALE, MALE) if sexes == BOTH else (sexes,))]
        weight, known = self.rows(context[:-1], wanted.difference(born).union(couple))
        genotypes = dict(known)
        look = np.flatnonzero(self.look == step.look)
        for one in born:
            dams, sires = (genotypes[parent] for parent in couple)
            if len(dams) * float(len(look)) > MOST_CELLS:
                raise BeyondExact(len(dams) * float(len(look)), MOST_CELLS)
            chances = self.young[one[1]][dams, sires][:, look]
            old, new = np.nonzero(chances)
            weight = weight[old] * chances[old, new]
            genotypes = {each: column[old] for each, column in genotypes.items()}
            genotypes[one] = look[new]
        return _only(Rows(weight, genotypes), wanted, self.genotypes.size)

    def _at_hand(self, wanted: frozenset[Individual]) -> Rows:
        """What animals at hand may be together."""
        at = sorted(one for one in wanted if isinstance(one, int))
        names = [self.animals[i] for i in at]
        if self._together is not None:
            joint = self.genotypes.joint(self._together, names, self.animals)
        else:
            if joint_cells(self.solved, len(at), self.loci) > MOST_CELLS:
                raise BeyondExact(joint_cells(self.solved, len(at), self.loci), MOST_CELLS)
            asked = asked_exactly(self.solved, [joint_query(names, self.loci)])
            joint = self.genotypes.joint(asked, names)
        return Rows(joint.chance, dict(zip(at, joint.genotypes.T, strict=True)))

    @cached_property
    def _together(self) -> Solved | None:
        """The population solved for all animals at hand together, if that is small."""
        if joint_cells(self.solved, len(self.animals), self.loci) > MOST_TOGETHER:
            return None
        try:
            return asked_exactly(self.solved, [joint_query(self.animals, self.loci)])
        except BeyondExact:
            return None

    # --- bounds -----------------------------------------------------------------------------------

    def possible(self, i: int) -> int:
        """The number of what an animal at hand may be."""
        return self._prospect(_one_by_one(self.genotypes.possible(self.animals[i])))

    def alone(self, prospect: int) -> int:
        """The number of what is possible, where more is recorded of it than of its parents."""
        if prospect < 0:
            return prospect
        return self._prospect(_one_by_one(_support(self._prospects[prospect])))

    def _prospect(self, ways: Floats2) -> int:
        """The number of what somebody may be, by rows of chances of each genotype; -1 for none."""
        if not len(ways):
            return -1
        key = ways.round(12).tobytes() + (ways > 0).tobytes()
        number = self._numbers.setdefault(key, len(self._prospects))
        if number == len(self._prospects):
            self._prospects.append(ways)
            self._towards_goal.append(ways @ self.odds[-1])
        return number

    def crossed(self, dam: int, sire: int) -> Crossed:
        """Bounds of what two parents give, by the numbers of what they may be.

        Of the young of known parents, those with a look are of each genotype with chances that
        follow; what is recorded of others changes how likely the parents are, not these.  So an
        average over what a couple may be is at most the best over its own parents' genotypes.
        """
        key = dam, sire
        if key not in self._crossed:
            dams, sires = self._prospects[dam], self._prospects[sire]
            one, other = _support(dams), _support(sires)
            odds = self.odds[np.ix_(np.arange(len(self.odds)), one, other)]
            most = (dams[:, one] @ odds @ sires[:, other].T).max(axis=(1, 2))
            self._crossed[key] = Crossed(self._young(one, other), most[:-2].reshape(-1, 4)[:, 1:])
        return self._crossed[key]

    def goal_clutch(self, dam: int, sire: int) -> float:
        """The highest chance that a clutch has one that meets the goal, bounded likewise."""
        return float((self._towards_goal[dam] @ self._prospects[sire].T).max())

    def _young(self, dams: Bools1, sires: Bools1) -> Ints2:
        """The numbers of what young may be, by sex and look, of parents of these genotypes."""
        key = dams.tobytes(), sires.tobytes()
        if key not in self._bred:
            couples = np.ix_(dams, sires)
            looks = [self.look == look for look in range(len(self.looks))]
            numbers = []
            for sex in (FEMALE, MALE):
                rows = self.young[sex][couples].reshape(-1, len(dams))
                numbers.append([self._prospect(_ways(rows * look)) for look in looks])
            self._bred[key] = np.array(numbers)
        return self._bred[key]


def _support(ways: Floats2) -> Bools1:
    """Genotypes that some row makes possible."""
    found: Bools1 = np.asarray((ways > 0).any(axis=0))
    return found


def _one_by_one(mask: Bools1) -> Floats2:
    """Each possible genotype as a row that is certain."""
    rows: Floats2 = np.eye(len(mask))[mask]
    return rows


def _ways(weights: Floats2) -> Floats2:
    """The distributions in rows of weights, each once; genotypes one by one if they are many."""
    whole = weights.sum(axis=1)
    rows = weights[whole > 0] / whole[whole > 0, None]
    ways = rows[np.unique(rows.round(12), axis=0, return_index=True)[1]]
    possible = _support(rows)
    whole_kept = np.array_equal(_support(ways), possible)
    few = len(ways) <= max(MOST_WAYS, int(possible.sum()))
    return ways if few and whole_kept else _one_by_one(possible)


def _loci(solved: Solved, question: RoutesQuestion) -> tuple[str, ...]:
    """Every locus on which figures may depend, in the population's order."""
    population: Population = solved.population
    wanted = loci_of_looks(population, question.goal.shows) | loci_of_sexes(population)
    wanted |= set(question.goal.genotypes)
    wanted |= barren_loci(solved, question.animals, question.generations)
    return tuple(locus.id for locus in population.loci if locus.id in wanted)


def _look_of(genotypes: Genotypes, traits: Iterable[str]) -> Ints1:
    """Of each genotype the number of its look, counted as in `Breeding.looks`."""
    found = np.zeros(genotypes.size, dtype=np.int64)
    for trait in traits:
        found = 2 * found + ~genotypes.visible(trait)
    return found


def _some(chance: Floats2, n: int) -> Floats2:
    """The chance that at least one of n hatchlings has what one has with a chance."""
    if n == 0:
        return np.zeros(chance.shape)
    with np.errstate(divide="ignore"):
        found: Floats2 = -np.expm1(n * np.log1p(-np.minimum(chance, 1.0)))
    return found


def _one_each(female: Floats2, male: Floats2, n: int) -> Floats2:
    """The chance that among n hatchlings there is one of each sex, both of the look."""
    neither = np.maximum(0.0, 1.0 - female - male) ** n
    found = 1.0 - (1.0 - female) ** n - (1.0 - male) ** n + neither
    possible = (female > 0) & (male > 0) & (n > 1)
    return np.where(possible, np.maximum(found, 0.0), 0.0)


def _only(rows: Rows, wanted: frozenset[Individual], size: int) -> Rows:
    """The rows of fewer individuals, equal ones added up."""
    genotypes = {one: column for one, column in rows.genotypes.items() if one in wanted}
    if len(genotypes) == len(rows.genotypes) or len(rows.weight) < 2:
        return Rows(rows.weight, genotypes)
    code = np.zeros(len(rows.weight), dtype=np.int64)
    if float(size) ** len(genotypes) > 2.0**62:
        return Rows(rows.weight, genotypes)
    for column in genotypes.values():
        code = code * size + column
    _, first, which = np.unique(code, return_index=True, return_inverse=True)
    weight: Floats1 = np.bincount(which, weights=rows.weight).astype(np.float64)
    return Rows(weight, {one: column[first] for one, column in genotypes.items()})
