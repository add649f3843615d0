"""Loops over families: elimination of impossible genotypes, folding of children on couples.

Arrays throughout: `weight[individual, state]` (0 = impossible), trios `child/dam/sire`, and
`table[dam, sire, child]`, the transmission probabilities.  `start`/`states` list the states still
possible of each individual, in compressed rows.
"""

from __future__ import annotations

from math import log
from typing import Any

import numpy as np


def settle(weight: Any, child: Any, dam: Any, sire: Any, table: Any) -> int:
    """Zero every weight without support in some trio; first impossible individual or -1."""
    n = weight.shape[1]
    trios = child.shape[0]
    touched = np.zeros(weight.shape[0], dtype=np.int64)
    done = np.full(trios, -1, dtype=np.int64)
    good_d = np.zeros(n, dtype=np.uint8)
    good_s = np.zeros(n, dtype=np.uint8)
    good_c = np.zeros(n, dtype=np.uint8)
    clock = 0
    busy = True
    forward = True
    while busy:
        busy = False
        for k in range(trios):
            t = k if forward else trios - 1 - k
            c = child[t]
            d = dam[t]
            s = sire[t]
            if touched[c] <= done[t] and touched[d] <= done[t] and touched[s] <= done[t]:
                continue
            busy = True
            good_d[:] = 0
            good_s[:] = 0
            good_c[:] = 0
            for a in range(n):
                if weight[d, a] <= 0.0:
                    continue
                for b in range(n):
                    if weight[s, b] <= 0.0:
                        continue
                    for g in range(n):
                        if table[a, b, g] > 0.0 and weight[c, g] > 0.0:
                            good_d[a] = 1
                            good_s[b] = 1
                            good_c[g] = 1
            clock += 1
            for g in range(n):
                if weight[d, g] > 0.0 and good_d[g] == 0:
                    weight[d, g] = 0.0
                    touched[d] = clock
                if weight[s, g] > 0.0 and good_s[g] == 0:
                    weight[s, g] = 0.0
                    touched[s] = clock
                if weight[c, g] > 0.0 and good_c[g] == 0:
                    weight[c, g] = 0.0
                    touched[c] = clock
            done[t] = clock
            alive = False
            for g in range(n):
                if weight[c, g] > 0.0:
                    alive = True
            if not alive:
                return int(c)
        forward = not forward
    return -1


def list_states(weight: Any) -> Any:
    """Compressed rows (`start`, `states`) of the states with positive weight."""
    total = 0
    for i in range(weight.shape[0]):
        for g in range(weight.shape[1]):
            if weight[i, g] > 0.0:
                total += 1
    start = np.zeros(weight.shape[0] + 1, dtype=np.int64)
    states = np.zeros(total, dtype=np.int64)
    at = 0
    for i in range(weight.shape[0]):
        for g in range(weight.shape[1]):
            if weight[i, g] > 0.0:
                states[at] = g
                at += 1
        start[i + 1] = at
    return start, states


def fold(
    weight: Any, child: Any, count: Any, couple: Any, couple_dam: Any, couple_sire: Any,
    table: Any, start: Any, states: Any, at: Any,
) -> Any:
    """Log table of each couple: the chance of its folded children, whatever the parents are.

    `couple[t]` is the couple of trio t; `at[k]` where couple k's table starts (dam-major over
    the states still possible).  Impossible cells hold -inf.
    """  # fmt: skip
    result = np.zeros(at[at.shape[0] - 1])
    for t in range(child.shape[0]):
        k = couple[t]
        d = couple_dam[k]
        s = couple_sire[k]
        c = child[t]
        cell = at[k]
        for i in range(start[d], start[d + 1]):
            for j in range(start[s], start[s + 1]):
                total = 0.0
                for x in range(start[c], start[c + 1]):
                    g = states[x]
                    total += table[states[i], states[j], g] * weight[c, g]
                if total > 0.0:
                    result[cell] += count[t] * log(total)
                else:
                    result[cell] = -np.inf
                cell += 1
    return result


def unfold(
    weight: Any, child: Any, couple: Any, couple_dam: Any, couple_sire: Any, table: Any,
    start: Any, states: Any, at: Any, belief: Any, posterior: Any,
) -> None:
    """Posterior of each folded child from the belief in its couple's genotypes."""  # fmt: skip
    for t in range(child.shape[0]):
        k = couple[t]
        d = couple_dam[k]
        s = couple_sire[k]
        c = child[t]
        for g in range(weight.shape[1]):
            posterior[c, g] = 0.0
        cell = at[k]
        for i in range(start[d], start[d + 1]):
            for j in range(start[s], start[s + 1]):
                share = belief[cell]
                cell += 1
                if share <= 0.0:
                    continue
                total = 0.0
                for x in range(start[c], start[c + 1]):
                    g = states[x]
                    total += table[states[i], states[j], g] * weight[c, g]
                if total <= 0.0:
                    continue
                for x in range(start[c], start[c + 1]):
                    g = states[x]
                    posterior[c, g] += (
                        share * table[states[i], states[j], g] * weight[c, g] / total
                    )


def trio_tables(
    weight: Any, child: Any, dam: Any, sire: Any, table: Any, start: Any, states: Any, at: Any
) -> Any:
    """Table of each open child's trio over the states still possible, its evidence included."""
    result = np.zeros(at[at.shape[0] - 1])
    for t in range(child.shape[0]):
        d = dam[t]
        s = sire[t]
        c = child[t]
        cell = at[t]
        for i in range(start[d], start[d + 1]):
            for j in range(start[s], start[s + 1]):
                for x in range(start[c], start[c + 1]):
                    g = states[x]
                    result[cell] = table[states[i], states[j], g] * weight[c, g]
                    cell += 1
    return result


KERNELS = (settle, list_states, fold, unfold, trio_tables)
