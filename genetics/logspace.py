"""Components whose evidence spans more than a float holds, propagated in logarithms.

Many scored hatchlings of one couple may speak for one genotype by e^1000, those of another couple
for another: the product of the two is below the smallest float though nothing is impossible.
The compiled loops notice (`tree.LOST`); then the component is done again here, slowly, on
logarithms of the tables.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from genetics.arrays import Floats, Floats1, Ints1
from genetics.kernels import tree
from genetics.model import Vanished
from genetics.planning import Outputs, Run

FLOOR = -660.0
"""Logarithm below which a cell of a table is kept as a logarithm too."""


def redo(run: Run, wanted: Outputs, out: Floats1, logs: Floats1, flaw: Ints1) -> None:
    """Do the components with flaws again: their marginals in `out`, their shares in `logs`.

    Raises:
        Vanished: the evidence of a component has probability zero.
    """
    made = run.plan
    root = np.arange(len(made.parent))
    for q in made.sequence[::-1]:
        if made.parent[q] >= 0:
            root[q] = root[made.parent[q]]
    lost = np.unique(root[flaw == tree.LOST])
    if not np.isin(root[flaw == tree.VANISHED], lost).all():
        raise Vanished
    again = np.isin(root, lost)
    tables = _Logs(run)
    for q in made.sequence[again[made.sequence]]:
        logs[q] = tables.collect(int(q))
    stale = np.repeat(again[run.out_node], np.diff(wanted.data))
    out[stale] = 0.0
    for q in made.sequence[again[made.sequence]][::-1]:
        tables.distribute(int(q), wanted, out)


class _Logs:
    """Tables and messages of cliques in logarithms."""

    def __init__(self, run: Run) -> None:
        self.run = run
        with np.errstate(divide="ignore"):
            self.data = np.log(run.net.data)
        self.data[run.net.faint] = run.net.faint_log
        self.table: dict[int, Floats] = {}
        self.message: dict[int, Floats] = {}
        self.fresh: dict[int, Floats] = {}

    def members(self, q: int) -> Ints1:
        return self.run.plan.members[self.run.plan.start[q] : self.run.plan.start[q + 1]]

    def rows(self, order: Ints1, owner: Ints1, q: int) -> Ints1:
        low, high = np.searchsorted(owner[order], (q, q + 1))
        return order[low:high]

    def collect(self, q: int) -> float:
        """The table of a clique and its message; the log of the mass it takes away."""
        run, net = self.run, self.run.net
        members = self.members(q)
        table = np.zeros(net.card[members])
        for f in self.rows(run.factor_order, run.factor_node, q):
            scope = net.scope[net.factor_start[f] : net.factor_start[f + 1]]
            values = self.data[net.data_start[f] : net.data_start[f + 1]]
            table += _laid(values.reshape(net.card[scope]), scope, members)
        own = int(run.plan.separator[q])
        for c in self.rows(run.children, run.plan.parent, q):
            table += _laid(
                self.message[int(c)], self.members(int(c))[: run.plan.separator[c]], members
            )
        message = _log_sum(table, range(own, table.ndim))
        most = float(message.max())
        if np.isneginf(most):
            raise Vanished
        self.table[q], self.message[q] = table - most, message - most
        return most

    def distribute(self, q: int, wanted: Outputs, out: Floats1) -> None:
        """What the clique tells its children and adds to the marginals wanted."""
        run = self.run
        members, own = self.members(q), int(run.plan.separator[q])
        message = self.message.pop(q)
        possible = ~np.isneginf(message)
        share = np.full(message.shape, -np.inf)
        share[possible] = self.fresh.pop(q, np.zeros(()))[possible] - message[possible]
        belief = self.table.pop(q) + share.reshape(share.shape + (1,) * (len(members) - own))
        for c in self.rows(run.children, run.plan.parent, q):
            inner = self.members(int(c))[: run.plan.separator[c]]
            self.fresh[int(c)] = _log_sum(belief, np.flatnonzero(~np.isin(members, inner)))
        belief = np.exp(belief)
        for o in self.rows(run.out_order, run.out_node, q):
            scope = wanted.scope[wanted.start[o] : wanted.start[o + 1]]
            axes = [int(np.flatnonzero(members == v)[0]) for v in scope]
            others = tuple(i for i in range(len(members)) if i not in axes)
            marginal = belief.sum(axis=others).transpose(np.argsort(np.argsort(axes)))
            out[wanted.data[o] : wanted.data[o + 1]] += marginal.reshape(-1)


def _laid(values: Floats, scope: Ints1, members: Ints1) -> Floats:
    """A table over a scope with its axes where a clique has them."""
    axes = [int(np.flatnonzero(members == v)[0]) for v in scope]
    shape = np.ones(len(members), dtype=int)
    shape[axes] = values.shape
    return values.transpose(np.argsort(axes)).reshape(shape)


def _log_sum(table: Floats, axes: Iterable[int]) -> Floats:
    """Logarithm of the sum of exponentials over some axes."""
    over = tuple(int(i) for i in axes)
    most = table.max(axis=over, keepdims=True)
    most = np.where(np.isneginf(most), 0.0, most)
    with np.errstate(divide="ignore"):
        total = np.log(np.exp(table - most).sum(axis=over))
    return np.asarray(total + most.reshape(total.shape))
