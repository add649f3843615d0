"""What the animals at hand carry, jointly: listed with its chance, or drawn once a run.

Loci that share no evidence are apart.  Where the joint genotypes of all animals at hand are few
they are listed, from one joint table of the engine.  Where they are too many for a table, each run
draws them jointly through the engine's clique tree, which is as exact.  Where the book is too large
for a clique tree they come from the engine's sampler, chain after chain: then runs depend on each
other, and the error bars are widened by how far the chains are apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from genetics.arrays import Floats1, Ints1, Ints2, Ints3
from genetics.errors import BeyondExact
from genetics.kernels import tree
from genetics.model import Factor, Node, genotype
from genetics.network import Network, build_network, solve_network
from genetics.planning import Run, outputs, plan
from genetics.plans.forecast.genome import SEX_CODES, Genome, Reading
from genetics.plans.forecast.random_numbers import Stream
from genetics.sampling import drawn_states
from genetics.solving import Solved, groups_of
from genetics.spaces import EITHER

MOST_LISTED = 2**18
"""Cells of a joint table of the animals at hand, at loci that share evidence."""


@dataclass(frozen=True)
class Part:
    """Joint genotypes and sexes of the animals at hand at loci that share evidence.

    Attributes:
        places: which spaces of the reading.
        states: positions in the reading's states, by row, animal and space.
        sex: by row and animal; 2 where these loci do not tell.
        chance: of each row; `None` where the rows were drawn, one a run.
        sampled: whether they were drawn in chains, one after the other.
    """

    places: tuple[int, ...]
    states: Ints3
    sex: Ints2
    chance: Floats1 | None
    sampled: bool = False


@dataclass(frozen=True)
class Hand:
    """The animals at hand: by hypothesis what they carry, and their chance of being female."""

    genome: Genome
    animals: tuple[str, ...]
    parts: tuple[tuple[Part, ...], ...]
    female: Floats1

    @property
    def listed(self) -> bool:
        """Whether all that they may carry is listed with its chance."""
        return all(part.chance is not None for parts in self.parts for part in parts)

    @property
    def sampled(self) -> bool:
        """Whether runs lie in chains, each of them as many runs in a row."""
        return any(part.sampled for parts in self.parts for part in parts)

    def rows(self) -> float:
        """How many joint genotypes there are, where they are listed."""
        return float(sum(np.prod([len(p.states) for p in parts]) for parts in self.parts))

    def every(self) -> tuple[Ints2, Floats1]:
        """Joint genotypes, rows by animals, and the chance of each; for `listed` ones."""
        genotypes, chances = [], []
        for w, parts in enumerate(self.parts):
            own = np.full((1, len(self.animals)), self.genome.first[w])
            chance = np.array([self.genome.prior[w]])
            for part in parts:
                more = _numbers(self.genome.readings[w], part)
                own = (own[:, None] + more[None]).reshape(-1, len(self.animals))
                weight = np.ones(len(more)) if part.chance is None else part.chance
                chance = np.multiply.outer(chance, weight).reshape(-1)
            genotypes.append(own)
            chances.append(chance)
        return np.concatenate(genotypes), np.concatenate(chances)

    def drawn(self, runs: int, stream: Stream) -> tuple[Ints2, Ints2]:
        """Genotypes and sexes by run and animal."""
        world = _pick(self.genome.prior, stream.numbers("hypothesis", runs))
        coins = np.array([stream.numbers(f"sex {i}", runs) for i in range(len(self.animals))])
        sexes = np.where(self.female > coins.T, 0, 1).astype(np.int64)
        genotypes = self.genome.first[world][:, None] + np.zeros_like(sexes)
        for w, parts in enumerate(self.parts):
            here = np.flatnonzero(world == w)
            for number, part in enumerate(parts):
                rows = here
                if part.chance is not None:
                    rows = _pick(part.chance, stream.numbers(f"part {number}", runs)[here])
                genotypes[here] += _numbers(self.genome.readings[w], part)[rows]
                told = part.sex[rows]
                sexes[here] = np.where(told == EITHER, sexes[here], told)
        return genotypes, sexes

    def known(self, animal: int) -> Floats1:
        """Chances of the genotypes of one animal, all hypotheses together."""
        found = []
        for w, parts in enumerate(self.parts):
            reading = self.genome.readings[w]
            own = np.full(len(reading.digits), self.genome.prior[w])
            for part in parts:
                weight = part.chance
                if weight is None:
                    weight = np.full(len(part.states), 1.0 / len(part.states))
                sizes = [reading.sizes[place] for place in part.places]
                table = np.zeros(sizes)
                np.add.at(table, tuple(part.states[:, animal].T), weight)
                own = own * table[tuple(reading.digits[:, place] for place in part.places)]
            found.append(own)
        whole: Floats1 = np.concatenate(found)
        return whole


def _numbers(reading: Reading, part: Part) -> Ints2:
    """What the states of a part add to the number of a genotype, by row and animal."""
    total = np.zeros(part.states.shape[:2], dtype=np.int64)
    for column, place in enumerate(part.places):
        stride = int(np.prod(reading.sizes[place + 1 :], dtype=np.int64))
        total += part.states[:, :, column] * stride
    return total


def _pick(chance: Floats1, uniform: Floats1) -> Ints1:
    """Rows by their chances, one for each number between 0 and 1."""
    bounds = np.cumsum(chance)
    found = np.searchsorted(bounds, uniform * bounds[-1], side="right")
    last = np.flatnonzero(chance)[-1]
    rows: Ints1 = np.minimum(found, last).astype(np.int64)
    return rows


def at_hand(
    solved: Solved, found: Genome, animals: Sequence[str], runs: int, stream: Stream
) -> Hand:
    """What the animals at hand carry, from the posterior.

    Args:
        solved: the book, solved.
        found: the genotypes that matter.
        animals: ids of those at hand.
        runs: rows drawn where a table would be too large.
        stream: of the random numbers for them.

    Raises:
        BeyondExact: the sampler found no genotypes that fit all records.
    """
    index = solved.population.animal_index
    at = [index[one] for one in animals]
    parts = []
    for w, reading in enumerate(found.readings):
        own = []
        for number, (members, factors) in enumerate(groups_of(reading.model)):
            places = tuple(p for p, k in enumerate(reading.spaces) if k in members)
            tells_sex = any(("sex", i) == n for f in factors for n in f.scope for i in at)
            if places or tells_sex:
                group = _Group(solved, reading, places, tuple(members), tuple(factors), at)
                own.append(group.part(runs, stream.under(f"tree {w} {number}")))
        parts.append(tuple(own))
    female = np.array([solved.sex(one) for one in animals])
    return Hand(found, tuple(animals), tuple(parts), female)


@dataclass(frozen=True)
class _Group:
    """Spaces of one hypothesis that share evidence, and the animals at hand in them."""

    solved: Solved
    reading: Reading
    places: tuple[int, ...]
    members: tuple[int, ...]
    factors: tuple[Factor, ...]
    at: Sequence[int]

    def part(self, runs: int, stream: Stream) -> Part:
        """Listed where one table holds it, else drawn: through the clique tree, or by chains."""
        model = self.reading.model
        nodes: list[Node] = [
            genotype(self.reading.spaces[p], i) for p in self.places for i in self.at
        ]
        laid = {node for factor in self.factors for node in factor.scope}
        nodes += [node for i in self.at if (node := ("sex", i)) in laid]  # type: ignore[misc]
        sizes = [model.aux[n] if n[0] != "g" else model.spaces[n[1]].size for n in nodes]
        certain = [n[0] == "g" and len(model.states(n[1], n[2])) == 1 for n in nodes]
        open_ = tuple(sorted(n for n, sure in zip(nodes, certain, strict=True) if not sure))
        cells = np.prod([float(s) for n, s in zip(nodes, sizes, strict=True) if n in open_])
        if cells <= MOST_LISTED:
            try:
                net = build_network(model, self.members, self.factors, [open_] if open_ else [])
                table = np.ones(())
                if open_:
                    table = solve_network(net, self.solved.limit).joint[open_]
                rows = np.argwhere(table > 0)
                return self._laid(open_, rows, table[table > 0])
            except BeyondExact:
                pass  # the table ties too much together: the tree alone may still do
        queries = [(node,) for node in open_]
        net = build_network(model, self.members, self.factors, queries)
        try:
            values = _drawn(net, runs, stream, self.solved.limit)
            sampled = False
        except BeyondExact:
            states = drawn_states(net, stream.key)
            values = states[np.arange(runs) * len(states) // runs]
            sampled = True
        return replace(self._laid(open_, _states(net, open_, values), None), sampled=sampled)

    def _laid(self, open_: tuple[Node, ...], rows: Ints2, chance: Floats1 | None) -> Part:
        """Rows of values of the open variables as genotypes and sexes of the animals."""
        model, reading = self.reading.model, self.reading
        column = {node: rows[:, c] for c, node in enumerate(open_)}
        states = np.zeros((len(rows), len(self.at), len(self.places)), dtype=np.int64)
        recorded = [SEX_CODES[self.solved.population.sexes[i]] for i in self.at]
        sex = np.tile(np.array(recorded, dtype=np.int64), (len(rows), 1))
        for a, i in enumerate(self.at):
            for c, place in enumerate(self.places):
                k = reading.spaces[place]
                value = column.get(genotype(k, i))
                if value is None:
                    value = np.full(len(rows), model.states(k, i)[0])
                states[:, a, c] = np.searchsorted(reading.states[place], value)
                told = model.spaces[k].sex[value]
                sex[:, a] = np.where(told == EITHER, sex[:, a], told)
            told_by = column.get(("sex", i))
            if told_by is not None:
                sex[:, a] = told_by
        return Part(self.places, states, sex, chance)


def _drawn(net: Network, runs: int, stream: Stream, limit: float) -> Ints2:
    """Values of all variables, one row a run, drawn jointly through the clique tree.

    Raises:
        BeyondExact: the tree needs more than `limit` cells, or cells too small for a float.
    """
    run = Run(net, plan(net, limit), outputs(net))
    uniform = stream.table(runs, len(run.plan.parent))
    held = np.full(net.size, -1, dtype=np.int64)
    rows, flaw = run.drawn(net.data, np.zeros(run.wanted[2][-1]), held, uniform)
    if (flaw != tree.SOUND).any():
        raise BeyondExact(
            float("inf"), limit, "the animals at hand cannot be drawn: chances too small"
        )
    return rows


def _states(net: Network, nodes: tuple[Node, ...], values: Ints2) -> Ints2:
    """States of nodes, a column each, from the values of all variables."""
    asked = {query[0]: variables for query, variables in net.outputs}
    rows = np.zeros((len(values), len(nodes)), dtype=np.int64)
    for column, node in enumerate(nodes):
        if asked[node]:
            rows[:, column] = values[:, asked[node][0]]
        if node[0] == "g":
            rows[:, column] = net.model.states(node[1], node[2])[rows[:, column]]
    return rows
