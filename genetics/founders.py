"""What is stated of founders, and what was tested, as weights and factors of a model."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from genetics.arrays import Floats
from genetics.components import Components
from genetics.errors import BeyondExact
from genetics.model import Factor, Model, Node
from genetics.population import Animal, FounderRow, Number, Statement
from genetics.spaces import EITHER, Space

MOST_SAID = 2.0**24
"""Cells of what is said of one founder, in all ways in which it may hold."""


def lay_statements(model: Model) -> None:
    """Priors of founders from what is stated of them, then the likelihoods of tests."""
    people, population = model.people, model.people.population
    columns, survival = population.columns, model.survival
    told = set(columns.told)
    alike: dict[tuple[int, int, int], list[int]] = defaultdict(list)
    for i, sex in zip(people.stated, people.sex[people.stated].tolist(), strict=True):
        if i in told:
            continue
        # Founders often share their statements; the population holds them.
        alike[id(columns.founder[i]), id(columns.founder_joint[i]), sex].append(i)
    priors: dict[tuple[object, ...], Floats] = {}
    for (_, _, sex), founders in alike.items():
        animal = population.animals[founders[0]]
        joint = {model.place(locus) for row in animal.founder_joint for locus in row.genotypes}
        for k in {model.place(locus) for locus in animal.founder} - joint:
            space = model.spaces[k]
            own = sex if space.sex_linked else EITHER
            said = (animal.founder.get(one.id) for one in space.loci)
            key = (k, own, *(None if one is None else frozenset(one.items()) for one in said))
            if key not in priors:
                priors[key] = space.founder(animal.founder, population.background, survival, own)
            model.weights[k][founders] = priors[key]
        for i in founders if joint else ():
            _lay_said(model, i)
    for i in columns.told:
        _lay_said(model, i)
        _lay_told(model, i)
    for i in people.tested:
        _lay_tests(model, i, columns.likelihood[i])


@dataclass(frozen=True)
class _Said:
    """What is said of a founder by its own fields, by what surely holds, and by what may."""

    founder: Mapping[str, Mapping[str, Number]]
    joint: tuple[tuple[FounderRow, ...], ...]
    hanging: tuple[Statement, ...] = ()

    def joint_loci(self) -> Iterator[frozenset[str]]:
        """The loci of each joint statement."""
        for rows in (*self.joint, *(one.founder_joint for one in self.hanging)):
            yield frozenset(locus for row in rows for locus in row.genotypes)

    def of(self, loci: Collection[str]) -> _Said:
        """What is said at some loci; a joint statement that names any of them stays whole."""
        return _Said(
            self.founder,
            tuple(rows for rows in self.joint if any(x in loci for r in rows for x in r.genotypes)),
            tuple(one for one in self.hanging if not one.founder_loci.isdisjoint(loci)),
        )

    @property
    def trusts(self) -> tuple[str, ...]:
        """The trusts on which it hangs."""
        return tuple(dict.fromkeys(one.trust for one in self.hanging))

    def ways(self) -> Iterator[list[tuple[float, dict[str, Mapping[str, Number]]]]]:
        """For each way in which the trusts hold, the last changing fastest: rows by chance."""
        for truth in product((False, True), repeat=len(self.trusts)):
            holds = dict(zip(self.trusts, truth, strict=True))
            holding = [one for one in self.hanging if holds[one.trust]]
            told = frozenset[str]().union(*(one.founder_loci for one in holding))
            founder = {locus: said for locus, said in self.founder.items() if locus not in told}
            for one in holding:
                founder |= one.founder
            joint = (*self.joint, *(one.founder_joint for one in holding if one.founder_joint))
            yield [
                (
                    math.prod(float(row.p) for row in rows),
                    founder | {x: {key: 1} for row in rows for x, key in row.genotypes.items()},
                )
                for rows in product(*joint)
            ]

    def size(self) -> int:
        """How many rows there are in all ways together, at most."""
        lists = (*self.joint, *(one.founder_joint for one in self.hanging if one.founder_joint))
        ways: int = 2 ** len(self.trusts)
        return ways * math.prod(map(len, lists))


def _lay_said(model: Model, i: int) -> None:
    """What is said of one founder: a table for each piece of what its statements bind together."""
    animal = model.people.population.animals[i]
    said = _resolved(animal, model.people.population.trust)
    loci = {*said.founder, *(x for one in said.hanging for x in one.founder_loci)}
    pieces = Components({model.place(x) for x in loci.union(*said.joint_loci())})
    for bound in said.joint_loci():
        places = [model.place(locus) for locus in bound]
        for k in places[1:]:
            pieces.join(places[0], k)
    members: dict[int, list[int]] = defaultdict(list)
    for k in sorted({model.place(x) for x in loci.union(*said.joint_loci())}):
        members[pieces.head(k)].append(k)
    for number, spaces in enumerate(members.values()):
        here = [locus.id for k in spaces for locus in model.spaces[k].loci]
        # Each piece has a row of its own that may hold.
        _lay_piece(model, i, said.of(here), spaces, ("row", i + model.people.size * number))


def _resolved(animal: Animal, trust: Mapping[str, Number]) -> _Said:
    """Statements that surely hold join the animal's own fields; those that surely do not go."""
    founder = dict(animal.founder)
    joint = [animal.founder_joint] if animal.founder_joint else []
    for one in animal.statements:
        if trust[one.trust] != 1:
            continue
        founder = {x: said for x, said in founder.items() if x not in one.founder_loci}
        founder |= one.founder
        joint += [one.founder_joint] if one.founder_joint else []
    hanging = (one for one in animal.statements if 0 < trust[one.trust] < 1)
    return _Said(founder, tuple(joint), tuple(one for one in hanging if one.founder_loci))


def _lay_piece(model: Model, i: int, said: _Said, spaces: list[int], row: Node) -> None:
    """One space takes the mixture of the rows, several hang on the row that holds.

    Raises:
        BeyondExact: there are too many ways in which what is said may hold.
    """
    cells = float(said.size()) * sum(model.spaces[k].size for k in spaces)
    if cells > MOST_SAID:
        raise BeyondExact(cells, MOST_SAID)
    people = model.people
    chances: list[Floats] = []
    tables: dict[int, list[Floats]] = {k: [] for k in spaces}
    for rows in said.ways():
        p = np.array([chance for chance, _ in rows])
        here = {k: _priors(model, i, k, [founder for _, founder in rows]) for k in spaces}
        sexed = [k for k in spaces if model.spaces[k].sex_linked]
        if sexed and people.sex[i] == EITHER:
            # Either sex is as likely whatever is stated: rows share out what is possible in each.
            own = [model.spaces[k] for k in sexed]
            shares = _rows_by_sex(p, [here[k] for k in sexed], own)
            here[sexed[0]] = here[sexed[0]] * shares[:, np.minimum(own[0].sex, 1)]
            p = np.ones(len(p))
        chances.append(p)
        for k in spaces:
            tables[k].append(here[k])
    trusts = tuple(model.trust_node(name, i) for name in said.trusts)
    twos = (2,) * len(trusts)
    for k in spaces:
        model.weights[k][i] = (np.concatenate(tables[k]) > 0).any(axis=0)
    if len(spaces) == 1:
        (k,) = spaces
        mixed = np.array([p @ table for p, table in zip(chances, tables[k], strict=True)])
        if trusts:
            model.factors.append(Factor((*trusts, ("g", k, i)), mixed.reshape(*twos, -1)))
            return
        model.weights[k][i] = mixed[0]
        return
    model.aux[row] = sum(map(len, chances))
    at = np.zeros((len(chances), model.aux[row]))
    first = 0
    for way, p in enumerate(chances):
        at[way, first : first + len(p)] = p
        first += len(p)
    model.factors.append(Factor((*trusts, row), at.reshape(*twos, -1)))
    for k in spaces:
        model.factors.append(Factor((row, ("g", k, i)), np.concatenate(tables[k])))


def _priors(
    model: Model, i: int, k: int, founders: Sequence[Mapping[str, Mapping[str, Number]]]
) -> Floats:
    population, sex = model.people.population, int(model.people.sex[i])
    space, survival = model.spaces[k], model.survival
    return np.array([space.founder(one, population.background, survival, sex) for one in founders])


def _lay_tests(model: Model, i: int, tests: Mapping[str, Mapping[str, Number]]) -> None:
    for locus, weights in tests.items():
        k = model.place(locus)
        model.weights[k][i] *= model.spaces[k].weights(locus, weights)


def _lay_told(model: Model, i: int) -> None:
    """Tests that somebody spoke of: weights if that surely holds, else a table with its trust."""
    population = model.people.population
    for one in population.columns.statements[i]:
        trust = population.trust[one.trust]
        if trust == 1:
            _lay_tests(model, i, one.likelihood)
        for locus, weights in one.likelihood.items() if 0 < trust < 1 else ():
            k = model.place(locus)
            table = np.ones((2, model.spaces[k].size))
            table[1] = model.spaces[k].weights(locus, weights)
            model.factors.append(Factor((model.trust_node(one.trust, i), ("g", k, i)), table))


def _rows_by_sex(p: Floats, tables: Sequence[Floats], spaces: Sequence[Space]) -> Floats:
    """Chance of each row in each sex (rows x 2): what fits the sex, renormalised within it."""
    shares = np.repeat(p[:, None], 2, axis=1)
    for table, space in zip(tables, spaces, strict=True):
        for code in (0, 1):
            shares[:, code] *= table[:, space.sex == code].sum(axis=1) > 0
    divided: Floats = shares / shares.sum(axis=0)
    return divided
