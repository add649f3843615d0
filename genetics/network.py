"""A group of coupled spaces as a network of tables, reduced, planned and solved.

Children without offspring fold into one table on their couple; known individuals drop out of
every scope; what is left is eliminated along a clique tree (`genetics.kernels.tree`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from genetics.arrays import Floats, Floats1, Floats2, Ints1, Ints2
from genetics.compiled import loops
from genetics.kernels import tree
from genetics.kernels.protocols import FamilyLoops
from genetics.kernels.typed import FAMILY
from genetics.logspace import FLOOR, redo
from genetics.model import Factor, Model, Node, Vanished, trios
from genetics.planning import Run, ends, outputs, plan


@dataclass
class Folded:
    """Children folded on their couples in one space; cells of couple c lie from `at[c]` on."""

    children: Ints1
    couple: Ints1
    dam: Ints1
    sire: Ints1
    at: Ints1


@dataclass
class GroupResult:
    """Answers of one group: posteriors by space, auxiliary marginals, asked joint tables.

    `error` holds, for a group answered by sampling, the standard errors of the posteriors;
    `couples`, for one that was not, the belief in the genotypes of each couple with folded
    children, by space.
    """

    log_evidence: float = 0.0
    posterior: dict[int, Floats2] = field(default_factory=dict)
    marginal: dict[Node, Floats1] = field(default_factory=dict)
    joint: dict[tuple[Node, ...], Floats] = field(default_factory=dict)
    error: dict[int, Floats2] = field(default_factory=dict)
    couples: dict[int, tuple[Folded, Floats1]] = field(default_factory=dict)
    exact: bool = True
    cells: float = 0.0


@dataclass
class Network:
    """Open variables and factor tables of one group.

    Factors are compressed rows: `scope[factor_start[f]:factor_start[f + 1]]` are variables,
    `data[data_start[f]:data_start[f + 1]]` the table, last variable fastest.  Cells too small
    for a float are listed in `faint` with their logarithms.
    """

    model: Model
    spaces: tuple[int, ...]
    card: Ints1
    number: dict[int, Ints1]
    aux: dict[Node, int]
    folded: dict[int, Folded]
    start: dict[int, Ints1]
    states: dict[int, Ints1]
    factor_start: Ints1
    scope: Ints1
    data_start: Ints1
    data: Floats1
    constant: float
    outputs: list[tuple[tuple[Node, ...], tuple[int, ...]]]
    couple_scopes: dict[int, tuple[Ints2, Ints1]]
    faint: Ints1
    faint_log: Floats1

    @property
    def size(self) -> int:
        """Number of open variables."""
        return len(self.card)


class _Tables:
    """Compressed rows of factors while they are gathered."""

    def __init__(self) -> None:
        self.scopes: list[Ints1] = []
        self.lengths: list[Ints1] = []
        self.data: list[Floats1] = []
        self.sizes: list[Ints1] = []
        self.length = 0
        self.faint: list[Ints1] = []
        self.faint_log: list[Floats1] = []

    def add_logs(self, scopes: Ints2, logs: Floats1, sizes: Ints1) -> None:
        """Factors given by logarithms; possible cells stay positive, however small."""
        faint = np.flatnonzero((logs < FLOOR) & ~np.isneginf(logs))
        data = np.exp(logs)
        data[faint] = tree.FAINT * 1e-5
        self.faint.append(self.length + faint)
        self.faint_log.append(logs[faint])
        self.add_many(scopes, data, sizes)

    def add_many(self, scopes: Ints2, data: Floats1, sizes: Ints1) -> None:
        """Factors whose scopes are rows padded with -1; all-known rows must be left out."""
        used = scopes >= 0
        self.scopes.append(scopes[used])
        self.lengths.append(used.sum(axis=1))
        self.data.append(data)
        self.sizes.append(sizes)
        self.length += len(data)

    def rows(self) -> tuple[Ints1, Ints1, Ints1, Floats1]:
        none = np.zeros(0, dtype=np.int64)
        return (
            ends(np.concatenate([none, *self.lengths])),
            np.concatenate([none, *self.scopes]),
            ends(np.concatenate([none, *self.sizes])),
            np.concatenate([np.zeros(0), *self.data]),
        )


def build_network(
    model: Model,
    spaces: Sequence[int],
    factors: Iterable[Factor],
    queries: Sequence[tuple[Node, ...]],
) -> Network:
    """The network of a group of spaces, with room for the joint tables asked.

    Raises:
        Vanished: a couple cannot have the children it has.
    """
    factors = list(factors)
    tables = _Tables()
    held: dict[int, list[int]] = {k: [] for k in spaces}
    for node in [n for f in factors for n in f.scope] + [n for q in queries for n in q]:
        if node[0] == "g":
            held[node[1]].append(node[2])
    net = Network(
        model, tuple(spaces), np.zeros(0, dtype=np.int64), {}, {}, {}, {}, {},
        np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64),
        np.zeros(0), 0.0, [], {}, np.zeros(0, dtype=np.int64), np.zeros(0),
    )  # fmt: skip
    cards: list[Ints1] = []
    offset = 0
    for k in spaces:
        offset = _lay_space(net, tables, k, held[k], cards, offset)
    for factor in factors:
        for node in factor.scope:
            if node[0] != "g" and node not in net.aux:
                net.aux[node] = offset
                cards.append(np.array([model.aux[node]], dtype=np.int64))
                offset += 1
    net.card = np.concatenate(cards) if cards else net.card
    for factor in factors:
        _lay_factor(net, tables, factor)
    for query in queries:
        variables = tuple(v for v in (_variable(net, node) for node in query) if v >= 0)
        net.outputs.append((query, variables))
    net.factor_start, net.scope, net.data_start, net.data = tables.rows()
    net.faint = np.concatenate([net.faint, *tables.faint])
    net.faint_log = np.concatenate([net.faint_log, *tables.faint_log])
    return net


def _variable(net: Network, node: Node) -> int:
    if node[0] == "g":
        return int(net.number[node[1]][node[2]])
    return net.aux[node]


def _lay_factor(net: Network, tables: _Tables, factor: Factor) -> None:
    """Add a table; axes of known individuals have one state and drop out."""
    variables = [_variable(net, node) for node in factor.scope]
    if all(v < 0 for v in variables):
        value = float(factor.table.reshape(-1)[0])
        if value <= 0:
            raise Vanished
        net.constant += float(np.log(value))
        return
    flat = np.ascontiguousarray(factor.table, dtype=np.float64).reshape(-1)
    tables.add_many(np.array([variables]), flat, np.array([flat.size]))


def _lay_space(
    net: Network, tables: _Tables, k: int, held: list[int], cards: list[Ints1], offset: int
) -> int:
    """Number the open individuals of a space, fold its leaves, add its tables."""
    model, people = net.model, net.model.people
    weight, table = model.weights[k], model.spaces[k].table
    children = trios(model, k)
    run = loops(FAMILY, len(children) * table.shape[0] ** 2)
    start, states = run.list_states(weight)
    net.start[k], net.states[k] = start, states
    counts = np.diff(start)
    kept = np.zeros(people.size, dtype=bool)
    kept[people.dam[children]] = True
    kept[people.sire[children]] = True
    kept[held] = True
    open_ = counts > 1
    is_child = np.zeros(people.size, dtype=bool)
    is_child[children] = True
    variable = open_ & (kept | ~is_child) & (model.present[k] | kept)
    number = np.full(people.size, -1, dtype=np.int64)
    number[variable] = offset + np.arange(variable.sum())
    net.number[k] = number
    cards.append(counts[variable])
    stays = open_[children] & kept[children]
    _lay_trios(net, tables, k, children[stays], counts, run)
    _lay_couples(net, tables, k, children[~stays], counts, run)
    alone = np.flatnonzero(variable & ~is_child)
    if len(alone):
        data = weight[alone][weight[alone] > 0]
        tables.add_many(number[alone][:, None], data, counts[alone])
    known = np.flatnonzero(~open_ & ~is_child & model.present[k])
    net.constant += float(np.log(weight[known].sum(axis=1)).sum())
    return offset + int(variable.sum())


def _lay_trios(
    net: Network, tables: _Tables, k: int, children: Ints1, counts: Ints1, run: FamilyLoops
) -> None:
    if not len(children):
        return
    model, people = net.model, net.model.people
    dam, sire = people.dam[children], people.sire[children]
    sizes = counts[dam] * counts[sire] * counts[children]
    at = ends(sizes)
    data = run.trio_tables(
        model.weights[k], children, dam, sire, model.spaces[k].table,
        net.start[k], net.states[k], at,
    )  # fmt: skip
    number = net.number[k]
    scopes = np.stack([number[dam], number[sire], number[children]], axis=1)
    tables.add_many(scopes, data, sizes)


def _lay_couples(
    net: Network, tables: _Tables, k: int, children: Ints1, counts: Ints1, run: FamilyLoops
) -> None:
    model, people, number = net.model, net.model.people, net.number[k]
    couple, dam, sire = run.pair_up(people.dam[children], people.sire[children], people.size)
    sizes = counts[dam] * counts[sire]
    at = ends(sizes)
    folded = Folded(children, couple, dam, sire, at)
    net.folded[k] = folded
    if not len(children):
        net.couple_scopes[k] = (np.zeros((0, 2), dtype=np.int64), at)
        return
    logs = run.fold(
        model.weights[k], children, people.count[children], folded.couple, dam, sire,
        model.spaces[k].table, net.start[k], net.states[k], at,
    )  # fmt: skip
    most = np.maximum.reduceat(logs, at[:-1])
    if np.isneginf(most).any():
        raise Vanished
    net.constant += float(most.sum())
    logs -= np.repeat(most, sizes)
    scopes = np.stack([number[dam], number[sire]], axis=1)
    net.couple_scopes[k] = (scopes, at)
    live = (scopes >= 0).any(axis=1)
    tables.add_logs(scopes[live], logs[np.repeat(live, sizes)], sizes[live])


def solve_network(net: Network, limit: float) -> GroupResult:
    """Posteriors of every individual, auxiliary marginals, joint tables and the log evidence.

    Raises:
        Vanished: the evidence has probability zero.
        BeyondExact: a component needs more than `limit` table cells.
    """
    made = plan(net, limit)
    wanted = outputs(net)
    out = np.zeros(wanted.data[-1])
    run = Run(net, made, wanted)
    scales, flaw = run.propagate(net.data, out, np.full(net.size, -1, dtype=np.int64))
    logs = np.log(scales)
    if (flaw != tree.SOUND).any():
        redo(run, wanted, out, logs, flaw)
    result = GroupResult(net.constant + float(logs.sum()), cells=made.cells)
    read(net, result, out, wanted.data)
    return result


def read(net: Network, result: GroupResult, out: Floats1, out_data: Ints1) -> None:
    """Spread the marginals over posteriors, auxiliary variables and asked tables."""
    model, people = net.model, net.model.people
    first = net.size
    singles = out[: out_data[first]]
    for node, variable in net.aux.items():
        result.marginal[node] = singles[out_data[variable] : out_data[variable + 1]]
    for k in net.spaces:
        weight = model.weights[k]
        posterior = (weight > 0).astype(np.float64)
        numbered = net.number[k] >= 0
        if numbered.any():
            low, high = net.number[k][numbered][0], net.number[k][numbered][-1]
            rows = posterior[numbered]
            rows[rows > 0] = singles[out_data[low] : out_data[high + 1]]
            posterior[numbered] = rows
        scopes, at = net.couple_scopes[k]
        live = (scopes >= 0).any(axis=1)
        belief = np.ones(int(at[-1]))
        n_live = int(live.sum())
        belief[np.repeat(live, np.diff(at))] = out[out_data[first] : out_data[first + n_live]]
        first += n_live
        folded = net.folded[k]
        result.couples[k] = folded, belief
        leaf = folded.children < people.recorded
        loops(FAMILY, belief.size * 3).unfold(
            weight, folded.children[leaf], folded.couple[leaf], folded.dam, folded.sire,
            model.spaces[k].table, net.start[k], net.states[k], at, belief, posterior,
        )  # fmt: skip
        result.posterior[k] = posterior[: people.recorded, : model.spaces[k].genotypes]
    for query, variables in net.outputs:
        values = np.ones(1)
        if variables:
            values = out[out_data[first] : out_data[first + 1]]
            first += 1
        result.joint[query] = spread(net, query, values)


def spread(net: Network, query: tuple[Node, ...], values: Floats1) -> Floats:
    """A joint table over all states of the asked individuals, zeros where impossible."""
    sizes, rows = [], []
    for node in query:
        if node[0] == "g":
            sizes.append(net.model.spaces[node[1]].size)
            rows.append(net.model.states(node[1], node[2]))
        else:
            sizes.append(net.model.aux[node])
            rows.append(np.arange(net.model.aux[node]))
    full = np.zeros(sizes)
    full[np.ix_(*rows)] = values.reshape([len(row) for row in rows])
    return full
