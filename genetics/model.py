"""One hypothesis of the book: state spaces, evidence by space, and what couples the spaces."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal, TypeVar

import numpy as np

from genetics.arrays import Bools1, Floats, Floats2, Ints1, Positions1
from genetics.compiled import loops
from genetics.individuals import Individuals
from genetics.kernels.typed import FAMILY
from genetics.looks import Looks, looks
from genetics.population import Number
from genetics.spaces import EITHER, Space, survivals

Genotype = tuple[Literal["g"], int, int]
Auxiliary = tuple[Literal["draw", "row", "sex", "trust"], int]
Node = Genotype | Auxiliary
"""A variable: ("g", space, individual), ("draw", i), ("row", i), ("sex", individual), ("trust", i).
"""


def genotype(space: int, individual: int) -> Genotype:
    """The variable of an individual's state in a space."""
    return ("g", space, individual)


class Vanished(Exception):
    """Internal: the evidence has probability zero."""


@dataclass
class Factor:
    """A table over variables; axes of genotype variables run over the states still possible."""

    scope: tuple[Node, ...]
    table: Floats


@dataclass
class Sight:
    """Evidence on one individual whose chance depends on its genotype in several spaces."""

    individual: int
    axes: tuple[int, ...]
    table: Floats


@dataclass
class Model:
    """Spaces with the weights of every individual's states, and the factors between spaces.

    `hanging` are the trusts on which words hang, each with the individuals spoken of.
    `own` holds the weights by what is recorded of each individual itself, relatives aside.
    """

    people: Individuals
    spaces: list[Space]
    looks: Looks
    weights: list[Floats2] = field(default_factory=list)
    own: list[Floats2] = field(default_factory=list)
    present: list[Bools1] = field(default_factory=list)
    factors: list[Factor] = field(default_factory=list)
    aux: dict[Node, int] = field(default_factory=dict)
    hanging: dict[Node, set[int]] = field(default_factory=dict)
    constant: float = 0.0

    @cached_property
    def born(self) -> list[Bools1]:
        """By space, whether each individual has parents there."""
        return [self.people.born([one.id for one in space.loci]) for space in self.spaces]

    @cached_property
    def survival(self) -> dict[str, dict[str, Number]]:
        """Survival by locus and genotype key."""
        return survivals(self.people.population)

    @cached_property
    def places(self) -> dict[str, int]:
        """The space of each locus."""
        return {one.id: k for k, space in enumerate(self.spaces) for one in space.loci}

    def states(self, space: int, individual: int) -> Positions1:
        """The states still possible of an individual."""
        return np.flatnonzero(self.weights[space][individual] > 0)

    @property
    def shared(self) -> set[Node]:
        """The trusts on which words on several individuals hang."""
        return {node for node, spoken_of in self.hanging.items() if len(spoken_of) > 1}

    def trust_node(self, name: str, individual: int) -> Node:
        """The variable of a trust, 1 where it holds, on which a word on somebody hangs."""
        trust = self.people.population.trust
        node: Node = ("trust", list(trust).index(name))
        if node not in self.hanging:
            p = float(trust[name])
            self.aux[node] = 2
            self.factors.append(Factor((node,), np.array([1.0 - p, p])))
        self.hanging.setdefault(node, set()).add(individual)
        return node

    def place(self, locus: str) -> int:
        """The space that holds a locus."""
        return self.places[locus]


def build(people: Individuals, spaces: list[Space]) -> Model:
    """Lay the evidence on the spaces, drop impossible genotypes, find what couples them.

    Raises:
        Vanished: the evidence is impossible.
    """
    from genetics.founders import lay_statements

    model = Model(people, spaces, looks(people.population, spaces))
    sexed = [k for k, space in enumerate(spaces) if space.sex_linked]
    carries = any(spaces[k].carries_sex for k in sexed)
    child = people.born([one.id for k in sexed for one in spaces[k].loci])
    if not carries:
        born = child & (people.sex != EITHER)
        model.constant = _log_sexes(people, born)
    for k in range(len(spaces)):
        model.weights.append(_first_weights(model, k))
        # Where survival differs a couple may have no living young: then every tally counts.
        harmed = any(survival != 1 for survival in spaces[k].survival)
        model.present.append(~people.tally | harmed)
    if people.nobody:
        _lay_nobody(model)
    lay_statements(model)
    sights = _lay_sightings(model)
    sights += _lay_sexes(model, sexed, carries, child)
    model.own = [weight.copy() for weight in model.weights]
    _settle_all(model, sights)
    _restrict(model)
    _couple_draws(model)
    if people.nobody and not sexed:
        _lay_sexes_alone(model)
    _couple_tallies(model, sights)
    return model


def _log_sexes(people: Individuals, born: Bools1) -> float:
    """Logarithm of the chance of the recorded sexes of young, if they do not hang on the parents.

    Raises:
        Vanished: there is one of a sex that none has.
    """
    females = float(people.population.females)
    total = 0.0
    for code, share in ((0, females), (1, 1.0 - females)):
        count = int(people.count[born & (people.sex == code)].sum())
        total += count * _log(share) if count else 0.0
    return total


def _first_weights(model: Model, k: int) -> Floats:
    """States by sex, and the background prior of every founder."""
    people, space = model.people, model.spaces[k]
    background = people.population.background
    survival = model.survival
    founder = np.flatnonzero(~model.born[k] & ~people.drawn)
    if not space.sex_linked:
        weight: Floats = np.ones((people.size, space.size))
        weight[founder] = space.founder({}, background, survival, EITHER)
        return weight
    by_sex = np.array([space.allowed(code) for code in (0, 1, 2)], dtype=float)
    prior = np.array([space.founder({}, background, survival, code) for code in (0, 1, 2)])
    weight = by_sex[people.sex]
    weight[founder] = prior[people.sex[founder]]
    return weight


def _lay_nobody(model: Model) -> None:
    """No sire is known to be in its own state, where but it only drawn sires may be."""
    people = model.people
    for weight, space in zip(model.weights, model.spaces, strict=True):
        weight[:, space.genotypes :] = people.drawn[:, None]
        for individual, way in people.nobody.items():
            weight[individual] = 0.0
            weight[individual, space.genotypes + way] = 1.0


def _lay_sightings(model: Model) -> list[Sight]:
    """Weigh the states by what was seen; return what depends on several spaces."""
    sights = []
    for (trait, seen, missed, imagined), individuals in model.people.sightings.items():
        axes = model.looks.spaces_of(trait)
        visible = model.looks.visible(trait, axes)
        chance = np.where(visible, 1.0 - missed, imagined)
        table = chance if seen else 1.0 - chance
        if not axes:
            model.constant += _log(float(table)) * model.people.count[individuals].sum()
        elif len(axes) == 1:
            model.weights[axes[0]][individuals] *= table
            model.present[axes[0]][individuals] = True
        else:
            for axis in axes:
                model.present[axis][individuals] = True
            sights += [Sight(i, axes, table) for i in individuals.tolist()]
    return sights


def _lay_sexes(model: Model, sexed: list[int], carries: bool, child: Bools1) -> list[Sight]:
    """Bind the sex-linked spaces of an individual of unknown sex to one sex."""
    people = model.people
    if not sexed:
        return []
    unknown = people.sex == EITHER
    if len(sexed) == 1:
        halves = unknown & ~(child & carries)
        model.weights[sexed[0]][halves] *= 0.5
        telling = people.tally if carries else people.tally & people.alone
        model.present[sexed[0]][telling & ~unknown] = True
        return []
    sights = []
    for k in sexed:
        if model.spaces[k].carries_sex:
            model.present[k][people.tally & ~unknown] = True
    if not carries:
        told = people.tally & people.alone
        # Of unknown sex too, as its loci agree on one sex.
        model.present[sexed[0]][told & ~unknown] = True
        anywhere = np.any([model.present[k] for k in sexed], axis=0)
        model.present[sexed[0]][told & anywhere] = True
    for i in np.flatnonzero(unknown & people.tally):
        axes = tuple(k for k in sexed if model.present[k][i])
        if axes:
            drives = any(model.spaces[k].carries_sex for k in axes)
            if carries and not drives:
                axes = tuple(sorted((*axes, *(k for k in sexed if model.spaces[k].carries_sex))))
                for k in axes:
                    model.present[k][i] = True
                drives = True
            sights.append(Sight(int(i), axes, _sex_match(model, axes, 1.0 if drives else 0.5)))
    for i in np.flatnonzero(unknown & ~people.tally):
        node: Node = ("sex", int(i))
        model.aux[node] = 2
        prior = 1.0 if child[i] and carries else 0.5
        model.factors.append(Factor((node,), np.full(2, prior)))
        for k in sexed:
            space = model.spaces[k]
            match = np.array([space.sex == 0, space.sex == 1], dtype=float)
            model.factors.append(Factor((node, ("g", k, int(i))), match))
    return sights


def _sex_match(model: Model, axes: Sequence[int], prior: float) -> Floats:
    total = np.zeros(())
    for code in (0, 1):
        term = np.asarray(prior)
        for position, k in enumerate(axes):
            shape = [1] * len(axes)
            shape[position] = model.spaces[k].size
            term = term * (model.spaces[k].sex == code).astype(float).reshape(shape)
        total = total + term
    return total


def _settle_all(model: Model, sights: list[Sight]) -> None:
    """Drop impossible genotypes until nothing changes; sights on one space become weights.

    `sights` keeps only those that still depend on several spaces.
    """
    dirty = set(range(len(model.spaces)))
    while dirty:
        for k in dirty:
            settle(model, k)
        dirty = set()
        left = []
        for sight in sights:
            states = [model.states(k, sight.individual) for k in sight.axes]
            axes, table = simplify(sight.axes, sight.table[np.ix_(*states)])
            if len(axes) > 1:
                left.append(sight)
            elif axes:
                k = axes[0]
                row = model.weights[k][sight.individual]
                row[states[sight.axes.index(k)]] *= table
                dirty.add(k)
            else:
                model.constant += _log(float(table)) * model.people.count[sight.individual]
        sights[:] = left


def _restrict(model: Model) -> None:
    """Cut the factors laid before settling down to the states still possible."""
    for factor in model.factors:
        rows = [
            model.states(node[1], node[2]) if node[0] == "g" else np.arange(model.aux[node])
            for node in factor.scope
        ]
        factor.table = factor.table[np.ix_(*rows)]


Axis = TypeVar("Axis")


def simplify(axes: Sequence[Axis], table: Floats) -> tuple[tuple[Axis, ...], Floats]:
    """Leave out every axis along which the table is constant."""
    kept = list(axes)
    for axis in range(len(axes) - 1, -1, -1):
        first = table.take([0], axis=axis)
        if table.shape[axis] == 1 or np.array_equal(np.broadcast_to(first, table.shape), table):
            table = np.asarray(table.take(0, axis=axis))
            del kept[axis]
    return tuple(kept), table


def trios(model: Model, k: int) -> Ints1:
    """Individuals with parents that count in a space, oldest generation first as recorded."""
    return np.flatnonzero(model.born[k] & model.present[k])


def settle(model: Model, k: int) -> None:
    """Drop the genotypes of a space that relatives exclude.

    Raises:
        Vanished: somebody has none left.
    """
    people, weight, space = model.people, model.weights[k], model.spaces[k]
    children = trios(model, k)
    run = loops(FAMILY, len(children) * space.size**2)
    while True:
        if not (weight > 0).any(axis=1).all():
            raise Vanished
        bad = run.settle(weight, children, people.dam[children], people.sire[children], space.table)
        if bad >= 0:
            raise Vanished
        before = (weight > 0).sum()
        for draw in people.draws:
            for stand_in, parents in ((draw.dam, draw.dams), (draw.sire, draw.sires)):
                if people.drawn[stand_in]:
                    weight[stand_in] *= (weight[list(parents)] > 0).any(axis=0)
        if (weight > 0).sum() == before:
            return


def _couple_draws(model: Model) -> None:
    """A drawn parent has the genotype of the candidate drawn, in every space."""
    people = model.people
    for number, draw in enumerate(people.draws):
        node: Node = ("draw", number)
        model.aux[node] = len(draw.prior)
        model.factors.append(Factor((node,), np.array(draw.prior)))
        for stand_in, parents in ((draw.dam, draw.dams), (draw.sire, draw.sires)):
            if not people.drawn[stand_in]:
                continue
            for k in range(len(model.spaces)):
                for parent in dict.fromkeys(parents):
                    chosen = [j for j, one in enumerate(parents) if one == parent]
                    own, other = model.states(k, stand_in), model.states(k, parent)
                    table = np.ones((len(draw.prior), len(own), len(other)))
                    table[chosen] = own[:, None] == other[None, :]
                    scope: tuple[Node, ...] = (node, ("g", k, stand_in), ("g", k, parent))
                    scope, table = simplify(scope, table)
                    if scope or table != 1:
                        model.factors.append(Factor(scope, table))


def _couple_tallies(model: Model, sights: list[Sight]) -> None:
    """Sights over several spaces: factors of an animal, a couple's joint table for a tally."""
    tallied: dict[int, list[Sight]] = defaultdict(list)
    for sight in sights:
        i = sight.individual
        if model.people.tally[i]:
            tallied[i].append(sight)
            continue
        states = [model.states(k, i) for k in sight.axes]
        axes, table = simplify(sight.axes, sight.table[np.ix_(*states)])
        model.factors.append(Factor(tuple(("g", k, i) for k in axes), table))
    for i, seen in tallied.items():
        axes = tuple(sorted({k for sight in seen for k in sight.axes}))
        model.factors.append(_tally_factor(model, i, axes, seen))
        for k in axes:
            model.present[k][i] = False


def _lay_sexes_alone(model: Model) -> None:
    """What the sex of young tells of whether there was a sire, where no locus tells their sex.

    A sex counted a half for all young; of a dam alone, all are of one sex.
    """
    from genetics.dam_alone import sex_alone

    people, only = model.people, sex_alone(model.people.population.sex_determination)
    if only == EITHER:
        return
    drawn = {draw.sire: number for number, draw in enumerate(people.draws)}
    for i in np.flatnonzero(people.alone & (people.sex != EITHER)).tolist():
        log = float(people.count[i] * np.log(2.0)) if people.sex[i] == only else -np.inf
        sire = int(people.sire[i])
        if sire in people.nobody:
            if np.isneginf(log):
                raise Vanished
            model.constant += log
            continue
        number = drawn[sire]
        logs = [log if one in people.nobody else 0.0 for one in people.draws[number].sires]
        model.constant += max(logs)
        model.factors.append(Factor((("draw", number),), np.exp(np.array(logs) - max(logs))))


def _tally_factor(model: Model, i: int, axes: tuple[int, ...], seen: list[Sight]) -> Factor:
    """Chance of a tally line given its couple's genotypes in several spaces."""
    people = model.people
    states = {k: model.states(k, i) for k in axes}
    letters = {k: n for n, k in enumerate(axes)}
    chance = np.ones([len(states[k]) for k in axes])
    for sight in seen:
        table = sight.table[np.ix_(*(states[k] for k in sight.axes))]
        shape = [len(states[k]) if k in sight.axes else 1 for k in axes]
        chance = chance * table.reshape(shape)
    dam, sire = int(people.dam[i]), int(people.sire[i])
    # NumPy gives types to subscripts in a string alone.
    operands: list[Any] = [chance, [letters[k] for k in axes]]
    result: list[int] = []
    scope: list[Node] = []
    for k in axes:
        d, s, c = model.states(k, dam), model.states(k, sire), states[k]
        passed = model.spaces[k].table[np.ix_(d, s, c)] * model.weights[k][i][c]
        base = len(axes) + 2 * letters[k]
        operands += [passed, [base, base + 1, letters[k]]]
        result += [base, base + 1]
        scope += [genotype(k, dam), genotype(k, sire)]
    table = np.einsum(*operands, result, optimize=True)
    with np.errstate(divide="ignore"):
        logs = people.count[i] * np.log(table)
    most = logs.max()
    if np.isneginf(most):
        raise Vanished
    model.constant += float(most)
    kept, table = simplify(scope, np.exp(logs - most))
    return Factor(kept, table)


def _log(p: float) -> float:
    if p <= 0:
        raise Vanished
    return float(np.log(p))
