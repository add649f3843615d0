"""Joint genotypes of many couples at once: each of some individuals with each of some others.

One joint table a couple would tie a network together until it is too large.  Instead those of the
shorter side are held one after another at each genotype they may have: what is then left of the
others, times the chance of that genotype, is the joint table of every couple, exactly.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from genetics.arrays import Floats, Floats1, Floats2, Ints1
from genetics.kernels import tree
from genetics.model import Factor, Genotype, Node, genotype
from genetics.network import Network, build_network, solve_network, spread
from genetics.planning import Run, outputs, plan
from genetics.solving import Solved, World, groups_of


@dataclass(frozen=True)
class Held:
    """What the others are where one individual is held at one genotype.

    Attributes:
        individual: its place in the list of those that are held.
        states: its state in each space of the group.
        joint: a row for each of the others: the chance of each of their genotypes together with
            this one; genotypes are those of all spaces, the last space fastest.
    """

    individual: int
    states: tuple[int, ...]
    joint: Floats2


def held_tables(
    solved: Solved, world: World, spaces: Sequence[int], held: Sequence[int], others: Sequence[int]
) -> Iterator[Held]:
    """The joint tables of everyone held with each of the others, in spaces of one group.

    Individuals are positions in the population; `spaces` are in order.

    Raises:
        BeyondExact: the group needs more table cells than the solution's limit.
    """
    members, factors = next(group for group in groups_of(world.model) if spaces[0] in group[0])
    asked = {i: tuple(genotype(k, i) for k in spaces) for i in (*held, *others)}
    net = build_network(world.model, members, factors, list(asked.values()))
    reader = _Reader(net, solved.limit, 1 + len(held))
    for place, individual in enumerate(held):
        found = reader.given(asked[individual], [asked[other] for other in others])
        if found is None:
            found = _by_query(net, factors, solved.limit, spaces, individual, others)
        for states, joint in found:
            yield Held(place, states, joint)


Given = list[tuple[tuple[int, ...], Floats2]]
"""States of one individual, each with its chance together with each genotype of the others."""


class _Reader:
    """A network that is planned once and asked again and again with other data."""

    def __init__(self, net: Network, limit: float, times: int) -> None:
        self.net = net
        self.wanted = outputs(net)
        self.run = Run(net, plan(net, limit), self.wanted, times)
        couples = sum(int((net.couple_scopes[k][0] >= 0).any(axis=1).sum()) for k in net.spaces)
        self.first = net.size + couples
        self.factor_of = self._factors()
        self.alone = self.tables(net.data)

    def given(
        self, own: tuple[Genotype, ...], others: Sequence[tuple[Genotype, ...]]
    ) -> Given | None:
        """All states of one individual; `None` where a float could not hold a chance."""
        if self.alone is None:
            return None
        found: Given = []
        for states in np.argwhere(self.alone[own] > 0).tolist():
            tables = self.tables(self.held(own, states))
            if tables is None:
                return None
            chance = float(self.alone[own][tuple(states)])
            rows = np.array([tables[other].reshape(-1) for other in others])
            found.append((tuple(states), chance * rows))
        return found

    def tables(self, data: Floats1) -> dict[tuple[Node, ...], Floats] | None:
        """The asked joint tables, each summing to 1; `None` where a float could not hold them."""
        out = np.zeros(self.wanted.data[-1])
        none = np.full(self.net.size, -1, dtype=np.int64)
        _, flaw = self.run.propagate(data, out, none)
        if (flaw != tree.SOUND).any():
            return None
        found, at = {}, self.first
        for query, variables in self.net.outputs:
            values = np.ones(1)
            if variables:
                values = out[self.wanted.data[at] : self.wanted.data[at + 1]]
                at += 1
            found[query] = spread(self.net, query, values)
        return found

    def held(self, nodes: Sequence[Genotype], states: Sequence[int]) -> Floats1:
        """The network's data with some variables held at a state."""
        net = self.net
        data = net.data.copy()
        for node, state in zip(nodes, states, strict=True):
            variable = int(net.number[node[1]][node[2]])
            if variable < 0:
                continue
            factor = self.factor_of[variable]
            scope = net.scope[net.factor_start[factor] : net.factor_start[factor + 1]]
            table = data[net.data_start[factor] : net.data_start[factor + 1]]
            shape = net.card[scope]
            chosen = np.searchsorted(net.model.states(node[1], node[2]), state)
            keep = np.arange(net.card[variable]) == chosen
            along = [-1 if one == variable else 1 for one in scope]
            table *= np.broadcast_to(keep.reshape(along), shape).reshape(-1)
        return data

    def _factors(self) -> Ints1:
        """For each variable the smallest table that has it."""
        net = self.net
        sizes = np.diff(net.data_start)
        owner = np.repeat(np.arange(len(sizes)), np.diff(net.factor_start))
        order = np.argsort(-sizes[owner], kind="stable")
        found = np.full(net.size, -1, dtype=np.int64)
        found[net.scope[order]] = owner[order]
        return found


def _by_query(
    net: Network, factors: Sequence[Factor], limit: float, spaces: Sequence[int],
    individual: int, others: Sequence[int],
) -> Given:  # fmt: skip
    """The same by joint tables asked of the network, which can hold the tiniest chances."""
    couples = [
        tuple(genotype(k, i) for i in (individual, other) for k in spaces) for other in others
    ]
    queries = [tuple(sorted(couple)) for couple in couples]
    asking = build_network(net.model, net.spaces, factors, queries)
    joint = solve_network(asking, limit).joint
    tables = [
        np.transpose(joint[query], [query.index(node) for node in couple])
        for query, couple in zip(queries, couples, strict=True)
    ]
    found: Given = []
    for states in product(*(range(net.model.spaces[k].size) for k in spaces)):
        rows = np.array([table[states].reshape(-1) for table in tables])
        if rows.any():
            found.append((states, rows))
    return found
