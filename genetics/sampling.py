"""Beyond exact: blocked Gibbs sampling with stated error bars.

A sweep holds a cut set of variables at their current values, which leaves a network narrow enough
for exact inference; it adds up the exact conditional marginals of the rest (Rao-Blackwell), then
draws the rest jointly.  Cut sets alternate, so that every variable is redrawn.  Independent chains
are cut into batches; the spread of their means gives the error bars, widened by calibration.

References: Jensen, Kong and Kjaerulff 1995, Blocking Gibbs sampling in very large probabilistic
expert systems, Int. J. Human-Computer Studies 42; Flegal and Jones 2010 on batch means.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from genetics.arrays import Bools1, Floats, Floats1, Floats2, Ints1, Ints2
from genetics.compiled import loops
from genetics.errors import BeyondExact
from genetics.kernels import tree
from genetics.kernels.typed import ELIMINATION, TREE
from genetics.network import GroupResult, Network, read
from genetics.planning import Outputs, Run, graph, outputs, tree_of

CHAINS = 8
BATCHES = 3
"""Batches a chain; the first part of each chain is left out."""
SWEEPS = 120
"""Sweeps a batch."""
WARM_UP = 40
CUT_SETS = 6
NARROW = 2.0**12
"""Table cells that one clique of a cut network may have."""
STUCK = "too large for exact inference, and sampling found no genotypes that fit all records"
SOFTEST, SOFT = 1e-1, 1e-8
"""Stand-ins for zero while a chain looks for a possible state, from first to last."""
UNSEEN = 3.688879454113936 / (CHAINS * BATCHES * SWEEPS)
"""Least half width: what stays unseen in all sweeps may still have this chance (log 40 / n)."""
STUDENT_BATCHES, STUDENT_CHAINS = 2.068657610419041, 2.3646242510102993
"""0.975 quantiles of Student's t with 23 (batches) and 7 (chains) degrees of freedom."""
WIDER, WIDER_LINKED = 1.5, 2.0
"""Calibration of the error bars, of single and of linked loci, see `half_widths`."""
NO_BAR = 0.5
"""Half width above which the chains tell nothing: it is told as 1."""


@dataclass
class Cut:
    """A cut set and the clique tree of what it leaves."""

    held: Bools1
    run: Run


def sample_network(net: Network, seed: int = 0, narrow: float = NARROW) -> GroupResult:
    """Posteriors with error bars by blocked Gibbs sampling.

    `error` of the result holds the half widths of 95 % intervals; `log_evidence` is not known
    (nan).  The same seed gives the same answer.  `narrow` is the cells one clique may have.

    Raises:
        BeyondExact: no possible state was found to start from.
    """
    wanted = outputs(net)
    means = _chains(net, wanted, np.random.default_rng(seed), narrow)
    result = GroupResult(float("nan"), exact=False)
    read(net, result, means.mean(axis=0), wanted.data)
    spread: dict[int, list[Floats2]] = {k: [] for k in net.spaces}
    for mean in means:
        marginals = GroupResult()
        read(net, marginals, mean, wanted.data)
        for k in net.spaces:
            spread[k].append(marginals.posterior[k])
    for k in net.spaces:
        unsettled = (net.model.weights[k][: len(spread[k][0])] > 0).sum(axis=1, keepdims=True) > 1
        wider = WIDER if len(net.model.spaces[k].loci) == 1 else WIDER_LINKED
        result.error[k] = np.where(unsettled, half_widths(np.array(spread[k]), wider), 0.0)
    return result


def drawn_states(net: Network, seed: int = 0, narrow: float = NARROW) -> Ints2:
    """States of all open variables after each sweep, chain after chain, warm-up left out.

    Rows of one chain depend on each other; there are CHAINS times BATCHES times SWEEPS.

    Raises:
        BeyondExact: no possible state was found to start from.
    """
    wanted, rng = outputs(net), np.random.default_rng(seed)
    cuts = _cuts(net, wanted, rng, narrow)
    idle = np.zeros(wanted.data[-1])
    rows = []
    for _ in range(CHAINS):
        value = _start(net, wanted, cuts, rng)
        for sweep in range(WARM_UP + BATCHES * SWEEPS):
            if not _sweep(cuts[sweep % len(cuts)], net.data, value, idle, rng):
                raise BeyondExact(np.inf, NARROW, STUCK)
            if sweep >= WARM_UP:
                rows.append(value.copy())
    return np.array(rows)


def half_widths(means: Floats, wider: float = WIDER) -> Floats:
    """Half widths of 95 % intervals from the means of batches, chain by chain (first axis).

    wider · max(t₂₃ s_b / √24, t₇ s_c / √8), at least `UNSEEN`, with s_b the standard deviation of
    the 24 batch means and s_c that of the 8 chain means.  Batches of one chain are not quite
    independent, eight chains alone are few: the larger of the two is taken.  Errors within one
    pedigree go together, so that this alone covers too few of the animals whose error matters.
    WIDER was set by calibration against exact answers, five seeds each of generated pedigrees of
    400 to 3,000 animals, all uncertain: of the animals off by more than 0.001 it covered 92.0 % at
    WIDER 1, 98.6 % at 1.5, of all uncertain ones 99.8 %.

    Linked loci mix worse, as a phase once taken is held by all relatives: sixty random families of
    24 with two loci, starved of room (cliques of 20 cells), missed WIDER 1.5 by up to 1.6 times,
    so that they have WIDER_LINKED.  Where the half width passes NO_BAR the chains have not met, and
    no widening is safe: then it is 1, which says that nothing is known.
    """
    chains = means.reshape(CHAINS, BATCHES, *means.shape[1:]).mean(axis=1)
    by_batch = STUDENT_BATCHES * np.std(means, axis=0, ddof=1) / np.sqrt(len(means))
    by_chain = STUDENT_CHAINS * np.std(chains, axis=0, ddof=1) / np.sqrt(CHAINS)
    widths = np.maximum(wider * np.maximum(by_batch, by_chain), UNSEEN)
    told: Floats = np.where(widths > NO_BAR, 1.0, widths)
    return told


def _chains(net: Network, wanted: Outputs, rng: np.random.Generator, narrow: float) -> Floats2:
    """Mean marginals of every batch, chain by chain."""
    cuts = _cuts(net, wanted, rng, narrow)
    means = []
    for _ in range(CHAINS):
        value = _start(net, wanted, cuts, rng)
        for batch in range(BATCHES + 1):
            out = np.zeros(wanted.data[-1])
            sweeps = SWEEPS if batch else WARM_UP
            for sweep in range(sweeps):
                cut = cuts[(sweep + batch) % len(cuts)]
                if not _sweep(cut, net.data, value, out, rng):
                    raise BeyondExact(np.inf, NARROW, STUCK)
            if batch:
                means.append(out / sweeps)
    return np.array(means)


def _cuts(net: Network, wanted: Outputs, rng: np.random.Generator, narrow: float) -> list[Cut]:
    """Cut sets of which every variable escapes at least one, so that each is redrawn."""
    cuts = [_cut(net, wanted, rng, narrow, np.zeros(net.size, dtype=bool))]
    owed = cuts[0].held.copy()
    while len(cuts) < CUT_SETS or owed.any():
        spared = owed.copy() if owed.any() else np.zeros(net.size, dtype=bool)
        spared &= rng.random(net.size) < 0.5
        if owed.any() and not spared.any():
            spared[rng.choice(np.flatnonzero(owed))] = True
        cuts.append(_cut(net, wanted, rng, narrow, spared))
        owed &= cuts[-1].held
    return cuts


def _cut(
    net: Network, wanted: Outputs, rng: np.random.Generator, narrow: float,
    spared: Bools1,
) -> Cut:  # fmt: skip
    """Hold the variables that make cliques wide, until none has more than `narrow` cells.

    The spared ones are held only where nothing else in a wide clique is left to hold.
    """
    starts, neighbours, component = graph(net)
    owner = np.repeat(np.arange(net.size), np.diff(starts))
    held = np.zeros(net.size, dtype=bool)
    run = loops(ELIMINATION, 1e9)
    logs = np.log(net.card)
    while True:
        live = ~held[owner] & ~held[neighbours]
        ends = np.concatenate(([0], np.cumsum(np.bincount(owner[live], minlength=net.size))))
        position, order, later_start, later, _ = run.eliminate(
            ends.astype(np.int64), neighbours[live], net.card, component,
            rng.random(net.size) * 0.3, np.inf, 1.0,
        )  # fmt: skip
        lengths = np.diff(later_start)
        step = np.repeat(np.arange(len(order)), lengths)
        width = logs[order] + np.bincount(step, logs[later], minlength=len(order))
        wide = width > np.log(narrow) + 1e-9
        if not wide.any():
            break
        often = np.bincount(later[wide[step]], minlength=net.size).astype(float)
        often += np.bincount(order[wide], minlength=net.size)
        often *= rng.uniform(0.5, 1.0, net.size)
        often[spared] *= 1e-6
        often[held] = -1.0
        held[np.argsort(often)[-max(1, int(wide.sum()) // 20) :]] = True
    kept = ~held[order]
    position = np.full(net.size, net.size, dtype=np.int64)
    position[order[kept]] = np.arange(kept.sum())
    rows = np.concatenate(([0], np.cumsum(lengths[kept]))).astype(np.int64)
    return Cut(held, Run(net, tree_of(net, position, order[kept], rows, later), wanted))


def _sweep(
    cut: Cut, data: Floats1, value: Ints1, out: Floats1,
    rng: np.random.Generator,
) -> bool:  # fmt: skip
    """Redraw all that the cut set leaves; False where the held state is impossible."""
    value[~cut.held] = -1
    rows, flaw = cut.run.drawn(data, out, value, rng.random((1, len(cut.run.plan.parent))))
    value[:] = rows[0]
    return not (flaw == tree.VANISHED).any()


def _start(net: Network, wanted: Outputs, cuts: list[Cut], rng: np.random.Generator) -> Ints1:
    """A random possible state: sweeps over softened tables until nothing impossible is left."""
    value: Ints1 = (rng.random(net.size) * net.card).astype(np.int64)
    idle = np.zeros(wanted.data[-1])
    for attempt in range(1_000):
        soft = np.maximum(net.data, max(SOFT, SOFTEST * 0.7 ** (attempt % 50)))
        _sweep(cuts[attempt % len(cuts)], soft, value, idle, rng)
        if _possible(net, value):
            return value
    raise BeyondExact(np.inf, NARROW, STUCK)


def _possible(net: Network, value: Ints1) -> bool:
    """Whether every factor is positive at a full state."""
    run = loops(TREE, 1e9)
    return bool(run.agrees(net.factor_start, net.scope, net.data_start, net.data, net.card, value))
