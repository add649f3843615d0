"""The order in which a network is eliminated, its cliques, and how tables lie on them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from genetics.arrays import Floats1, Floats2, Ints1, Ints2
from genetics.compiled import loops
from genetics.errors import BeyondExact
from genetics.kernels import elimination
from genetics.kernels.typed import ELIMINATION, TREE

if TYPE_CHECKING:
    from genetics.network import Network


def ends(sizes: Floats1 | Ints1) -> Ints1:
    """Where rows of these sizes start, and the end of the last."""
    return np.concatenate(([0], np.cumsum(sizes))).astype(np.int64)


@dataclass
class Plan:
    """A clique tree and where every table of it lies."""

    position: Ints1
    node_of_step: Ints1
    parent: Ints1
    start: Ints1
    members: Ints1
    separator: Ints1
    sequence: Ints1
    table_start: Ints1
    message_start: Ints1
    cells: float


def graph(net: Network) -> tuple[Ints1, Ints1, Ints1]:
    """Compressed rows of the interaction graph and the component of each variable."""
    asked = [np.array(variables, dtype=np.int64) for _, variables in net.outputs if variables]
    factors = np.append(net.factor_start, len(net.scope) + np.cumsum(list(map(len, asked))))
    scope = np.concatenate([net.scope, *asked])
    run = loops(ELIMINATION, net.size * 10)
    starts, neighbours = run.interaction(factors.astype(np.int64), scope, net.size)
    return starts, neighbours, run.label(starts, neighbours)


GENEROUS = 2.0**20
"""Table cells above which other elimination orders are tried before the cheapest is taken."""
OTHER_ORDERS = tuple(
    (by_fill, jitter, seed)
    for seed in range(4)
    for by_fill in (1024.0, 1.0, 0.3, 0.1, 0.0)
    for jitter in (0.3, 1.0)
)
"""Weight of edges against clique size, size of the random part of the price, its seed."""


def plan(net: Network, limit: float) -> Plan:
    """Eliminate all variables; cells are counted before any table is allocated.

    The order adds the fewest edges at each step; where that is expensive the cheapest of several
    orders is taken, which weigh clique size against edges and break ties differently.

    Raises:
        BeyondExact: some component needs more table cells than `limit`.
    """
    shape = graph(net)
    work = net.data.size * 4 + net.size * 20
    at_most = np.inf if net.size < 5_000 else limit * 64
    best = _eliminated(net, shape, at_most, 1024.0, np.zeros(net.size), work)
    if best[1] > GENEROUS:
        for by_fill, jitter, seed in OTHER_ORDERS:
            chance = np.random.default_rng(seed).random(net.size) * jitter
            other = _eliminated(net, shape, best[1], by_fill, chance, best[1])
            if other[1] < best[1]:
                best = other
    if best[1] > limit:
        raise BeyondExact(best[1], limit)
    return tree_of(net, *best[0])


def _eliminated(
    net: Network, shape: tuple[Ints1, Ints1, Ints1], limit: float, by_fill: float,
    jitter: Floats1, work: float,
) -> tuple[tuple[Ints1, Ints1, Ints1, Ints1], float]:  # fmt: skip
    """One elimination: (position, order, later neighbours in rows) and its largest component."""
    run = loops(ELIMINATION, work)
    position, order, later_start, later, cells = run.eliminate(
        shape[0], shape[1], net.card, shape[2], jitter, float(limit), by_fill
    )
    cost = float(cells.max()) if net.size else 0.0
    if (position < 0).any():
        cost = max(cost, limit * 1.0000001)
    return (position, order, later_start, later), cost


def tree_of(net: Network, position: Ints1, order: Ints1, later_start: Ints1, later: Ints1) -> Plan:
    """The clique tree of an elimination, with room for every table and message."""
    run = loops(ELIMINATION, net.data.size * 4 + net.size * 20)
    node_of_step, parent, start, members, separator, sequence = run.cliques(
        position, order, later_start, later
    )
    weight = np.concatenate(([0.0], np.cumsum(np.log(net.card[members]))))
    sizes = np.rint(np.exp(weight[start[1:]] - weight[start[:-1]]))
    table_start = ends(sizes)
    if sizes.max(initial=0.0) >= elimination.LARGE:
        sequence = run.settle_down(
            parent, start, members, separator, np.diff(table_start), position
        )
    messages = np.rint(np.exp(weight[start[:-1] + separator] - weight[start[:-1]]))
    return Plan(
        position, node_of_step, parent, start, members, separator, sequence,
        table_start, ends(messages), float(sizes.sum()),
    )  # fmt: skip


@dataclass
class Outputs:
    """Scopes whose marginals are wanted: every variable, every couple, every query."""

    scope: Ints1
    start: Ints1
    data: Ints1


def outputs(net: Network) -> Outputs:
    """What `read` needs of the marginals, in the order in which it reads them."""
    scopes = [np.arange(net.size, dtype=np.int64)]
    lengths = [np.ones(net.size, dtype=np.int64)]
    sizes = [net.card]
    for k in net.spaces:
        pairs, at = net.couple_scopes[k]
        used = pairs >= 0
        live = used.any(axis=1)
        scopes.append(pairs[used])
        lengths.append(used.sum(axis=1)[live])
        sizes.append(np.diff(at)[live])
    for _, variables in net.outputs:
        if variables:
            scopes.append(np.array(variables, dtype=np.int64))
            lengths.append(np.array([len(variables)]))
            sizes.append(np.array([int(np.prod(net.card[list(variables)]))]))
    return Outputs(
        np.concatenate(scopes), ends(np.concatenate(lengths)), ends(np.concatenate(sizes))
    )


def homes(plan: Plan, starts: Ints1, scope: Ints1) -> Ints1:
    """A clique that has each scope, the smallest that is easily found; -1 if all are held."""
    if len(starts) < 2:
        return np.zeros(0, dtype=np.int64)
    first = np.minimum.reduceat(plan.position[scope], starts[:-1])
    found: Ints1 = np.append(plan.node_of_step, -1)[np.minimum(first, len(plan.node_of_step))]
    sizes = np.diff(plan.table_start)
    if sizes.max(initial=0) >= elimination.LARGE:
        loops(ELIMINATION, plan.cells + len(scope) * 20).move_down(
            found, starts, scope, plan.parent, plan.start, plan.members, plan.separator,
            sizes, plan.position,
        )  # fmt: skip
    return found


class Run:
    """A plan with the tables of a network and the marginals wanted of it laid on its cliques.

    `times` is how often it will be asked, which decides whether compiled loops are worth loading.
    """

    def __init__(self, net: Network, made: Plan, wanted: Outputs, times: int = 1) -> None:
        self.net, self.plan, self.times = net, made, times
        self.tree = (
            made.start, made.members, made.separator, made.parent, made.sequence,
            made.table_start, made.message_start,
        )  # fmt: skip
        self.children = np.argsort(made.parent, kind="stable")
        self.factors = (net.factor_start, net.scope, net.data_start)
        self.factor_node = homes(made, net.factor_start, net.scope)
        self.factor_order = np.argsort(self.factor_node, kind="stable")
        self.wanted = (wanted.start, wanted.scope, wanted.data)
        self.out_node = homes(made, wanted.start, wanted.scope)
        self.out_order = np.argsort(self.out_node, kind="stable")

    def propagate(self, data: Floats1, out: Floats1, value: Ints1) -> tuple[Floats1, Ints1]:
        """Add the marginals to `out`; the mass and the flaw of each clique.

        Variables with a `value` of 0 or more are held there.
        """
        nobody = np.zeros((0, len(self.plan.parent)))
        return self._propagated(data, out, value, nobody)[1:]

    def drawn(
        self, data: Floats1, out: Floats1, value: Ints1, uniform: Floats2
    ) -> tuple[Ints2, Ints1]:
        """Values of all variables drawn jointly, and the flaw of each clique.

        As `propagate`; a row is drawn for each of `uniform`, a number between 0 and 1 a clique.
        Messages go up once for all of them.
        """
        rows, _, flaw = self._propagated(data, out, value, uniform)
        return rows, flaw

    def _propagated(
        self, data: Floats1, out: Floats1, value: Ints1, uniform: Floats2
    ) -> tuple[Ints2, Floats1, Ints1]:
        made = self.plan
        scales = np.ones(len(made.parent))
        flaw = np.zeros(len(made.parent), dtype=np.int64)
        rows = np.repeat(value[None], len(uniform), axis=0)
        work = ((data.size + made.cells) * 4 + self.net.size * (20 + len(uniform))) * self.times
        loops(TREE, work).propagate(
            self.net.card, self.tree, self.children, self.factors, data, self.factor_node,
            self.factor_order, self.wanted, out, self.out_node, self.out_order, value, uniform,
            rows, np.empty(made.table_start[-1]), np.empty(made.message_start[-1]), scales, flaw,
        )  # fmt: skip
        return rows, scales, flaw
