"""Loops over families: elimination of impossible genotypes, folding of children on couples.

Arrays throughout: `weight[individual, state]` (0 = impossible), trios `child/dam/sire`, and
`table[dam, sire, child]`, the transmission probabilities.  `start`/`states` list the states still
possible of each individual, in compressed rows.
"""

from __future__ import annotations

from math import log

import numpy as np

from genetics.arrays import Floats1, Floats2, Floats3, Ints1, Marks1, Marks2


def support(weight: Floats2, c: int, d: int, s: int, table: Floats3, good: Marks2) -> None:
    """Mark in rows 0, 1, 2 of `good` the states of dam, sire and child that agree."""
    n = weight.shape[1]
    good[:, :] = 0
    for a in range(n):
        if weight[d, a] <= 0.0:
            continue
        for b in range(n):
            if weight[s, b] <= 0.0:
                continue
            for g in range(n):
                if table[a, b, g] > 0.0 and weight[c, g] > 0.0:
                    good[0, a] = 1
                    good[1, b] = 1
                    good[2, g] = 1


def drop(weight: Floats2, individual: int, good: Marks1) -> int:
    """Zero the states without a mark: 0 nothing changed, 1 something did, -1 nothing is left."""
    changed = 0
    left = 0
    for g in range(weight.shape[1]):
        if weight[individual, g] > 0.0:
            if good[g] == 0:
                weight[individual, g] = 0.0
                changed = 1
            else:
                left += 1
    return changed if left > 0 else -1


def settle(weight: Floats2, child: Ints1, dam: Ints1, sire: Ints1, table: Floats3) -> int:
    """Zero every weight without support in some trio; first impossible child or -1."""
    trios = child.shape[0]
    touched = np.zeros(weight.shape[0], dtype=np.int64)
    done = np.full(trios, -1, dtype=np.int64)
    good = np.zeros((3, weight.shape[1]), dtype=np.uint8)
    clock = 0
    busy = True
    forward = True
    while busy:
        busy = False
        for k in range(trios):
            t = k if forward else trios - 1 - k
            c, d, s = child[t], dam[t], sire[t]
            if max(touched[c], touched[d], touched[s]) <= done[t]:
                continue
            busy = True
            support(weight, c, d, s, table, good)
            clock += 1
            for row in range(3):
                individual = d if row == 0 else (s if row == 1 else c)
                changed = drop(weight, individual, good[row])
                if changed < 0:
                    return int(c)
                if changed > 0:
                    touched[individual] = clock
            done[t] = clock
        forward = not forward
    return -1


def list_states(weight: Floats2) -> tuple[Ints1, Ints1]:
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


def pair_up(dam: Ints1, sire: Ints1, n: int) -> tuple[Ints1, Ints1, Ints1]:
    """Number the couples of trios: the couple of each trio, the dam and the sire of each couple."""
    trios = dam.shape[0]
    couple = np.empty(trios, dtype=np.int64)
    couple_dam = np.empty(trios, dtype=np.int64)
    couple_sire = np.empty(trios, dtype=np.int64)
    newest = np.full(n, -1, dtype=np.int64)  # couple of each dam, and the one before it
    older = np.empty(trios, dtype=np.int64)
    found = 0
    for t in range(trios):
        k = newest[dam[t]]
        while k >= 0 and couple_sire[k] != sire[t]:
            k = older[k]
        if k < 0:
            k = found
            couple_dam[k] = dam[t]
            couple_sire[k] = sire[t]
            older[k] = newest[dam[t]]
            newest[dam[t]] = k
            found += 1
        couple[t] = k
    return couple, couple_dam[:found].copy(), couple_sire[:found].copy()


def fold(
    weight: Floats2, child: Ints1, count: Ints1, couple: Ints1, couple_dam: Ints1,
    couple_sire: Ints1, table: Floats3, start: Ints1, states: Ints1, at: Ints1,
) -> Floats1:  # fmt: skip
    """Log table of each couple: the chance of its folded children, whatever the parents are.

    `couple[t]` is the couple of trio t; `at[k]` where couple k's table starts (dam-major over
    the states still possible).  Impossible cells hold -inf.
    """
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
    weight: Floats2, child: Ints1, couple: Ints1, couple_dam: Ints1, couple_sire: Ints1,
    table: Floats3, start: Ints1, states: Ints1, at: Ints1, belief: Floats1, posterior: Floats2,
) -> None:  # fmt: skip
    """Posterior of each folded child from the belief in its couple's genotypes."""
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
                    posterior[c, g] += share * table[states[i], states[j], g] * weight[c, g] / total


def trio_tables(
    weight: Floats2, child: Ints1, dam: Ints1, sire: Ints1, table: Floats3, start: Ints1,
    states: Ints1, at: Ints1,
) -> Floats1:  # fmt: skip
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


KERNELS = (support, drop, settle, list_states, pair_up, fold, unfold, trio_tables)
