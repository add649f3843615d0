"""Loops that plan: components, the elimination order and its cliques."""

from __future__ import annotations

from math import log
from typing import Any

import numpy as np


def label(starts: Any, neighbours: Any) -> Any:
    """Connected component of each vertex of a graph in compressed rows."""
    n = starts.shape[0] - 1
    component = np.full(n, -1, dtype=np.int64)
    stack = np.empty(n + 1, dtype=np.int64)
    found = 0
    for root in range(n):
        if component[root] >= 0:
            continue
        component[root] = found
        stack[0] = root
        depth = 1
        while depth > 0:
            depth -= 1
            v = stack[depth]
            for i in range(starts[v], starts[v + 1]):
                u = neighbours[i]
                if component[u] < 0:
                    component[u] = found
                    stack[depth] = u
                    depth += 1
        found += 1
    return component


def missing_edges(v: int, start: Any, size: Any, pool: Any, mark: Any, stamp: int) -> int:
    """Edges that elimination of v would add among its neighbours."""
    k: int = size[v]
    for i in range(start[v], start[v] + k):
        mark[pool[i]] = stamp
    twice = 0
    for i in range(start[v], start[v] + k):
        u = pool[i]
        for j in range(start[u], start[u] + size[u]):
            if mark[pool[j]] == stamp:
                twice += 1
    return k * (k - 1) // 2 - twice // 2


def push(keys: Any, items: Any, n: int, key: float, item: int) -> None:
    """Put an item on a binary heap of n entries."""
    i = n
    while i > 0:
        up = (i - 1) // 2
        if keys[up] <= key:
            break
        keys[i] = keys[up]
        items[i] = items[up]
        i = up
    keys[i] = key
    items[i] = item


def pop(keys: Any, items: Any, n: int) -> None:
    """Take the first of n entries off a binary heap; it is left at position n - 1."""
    first_key = keys[0]
    first_item = items[0]
    key = keys[n - 1]
    item = items[n - 1]
    i = 0
    while 2 * i + 1 < n - 1:
        down = 2 * i + 1
        if down + 1 < n - 1 and keys[down + 1] < keys[down]:
            down += 1
        if keys[down] >= key:
            break
        keys[i] = keys[down]
        items[i] = items[down]
        i = down
    keys[i] = key
    items[i] = item
    keys[n - 1] = first_key
    items[n - 1] = first_item


def eliminate(
    pair_start: Any, neighbours: Any, card: Any, component: Any, jitter: Any, limit: float,
    by_fill: float,
) -> Any:
    """Greedy elimination order by fewest added edges, lightest clique on a tie.

    Args: a graph in compressed rows, sizes of the variables, the component of each, a small
    number to break ties, and the cells a clique may have.  Returns `position` (order of
    elimination, -1 where its component was given up), compressed rows of the later
    neighbours of each variable in order of elimination, and the cells of each component.
    """
    n = card.shape[0]
    pool = np.empty(4 * neighbours.shape[0] + 16 * n + 64, dtype=np.int64)
    start = np.zeros(n, dtype=np.int64)
    size = np.zeros(n, dtype=np.int64)
    room = np.zeros(n, dtype=np.int64)
    top = 0
    for v in range(n):
        start[v] = top
        size[v] = pair_start[v + 1] - pair_start[v]
        room[v] = size[v] + 2
        for i in range(size[v]):
            pool[top + i] = neighbours[pair_start[v] + i]
        top += room[v]
    mark = np.zeros(n, dtype=np.int64)
    mark2 = np.zeros(n, dtype=np.int64)
    stamp = 0
    fill = np.zeros(n, dtype=np.int64)
    weight = np.zeros(n)
    keys = np.empty(8 * n + 64)
    items = np.empty(8 * n + 64, dtype=np.int64)
    current = np.zeros(n)
    heap = 0
    logs = np.zeros(n)
    for v in range(n):
        logs[v] = log(card[v])
    for v in range(n):
        stamp += 1
        fill[v] = missing_edges(v, start, size, pool, mark, stamp)
        weight[v] = logs[v]
        for i in range(start[v], start[v] + size[v]):
            weight[v] += logs[pool[i]]
        current[v] = fill[v] * by_fill + weight[v] + jitter[v]
        push(keys, items, heap, current[v], v)
        heap += 1
    position = np.full(n, -1, dtype=np.int64)
    dead = np.zeros(n, dtype=np.uint8)
    cells = np.zeros(n)
    later_start = np.zeros(n + 1, dtype=np.int64)
    later = np.empty(2 * neighbours.shape[0] + 4 * n + 64, dtype=np.int64)
    order = np.empty(n, dtype=np.int64)
    step = 0
    changed = np.empty(n, dtype=np.int64)
    while heap > 0:
        key = keys[0]
        v = items[0]
        pop(keys, items, heap)
        heap -= 1
        if position[v] >= 0 or dead[v] == 1 or key != current[v]:
            continue
        c = component[v]
        if cells[c] > limit:
            dead[v] = 1
            continue
        clique = np.exp(weight[v])
        cells[c] += clique
        if cells[c] > limit:
            dead[v] = 1
            continue
        k = size[v]
        position[v] = step
        order[step] = v
        base = later_start[step]
        if base + k > later.shape[0]:
            bigger = np.empty(2 * later.shape[0] + k, dtype=np.int64)
            bigger[:base] = later[:base]
            later = bigger
        for i in range(k):
            later[base + i] = pool[start[v] + i]
        step += 1
        later_start[step] = base + k
        # v leaves its neighbours' lists
        for i in range(k):
            u = later[base + i]
            for j in range(start[u], start[u] + size[u]):
                if pool[j] == v:
                    pool[j] = pool[start[u] + size[u] - 1]
                    size[u] -= 1
                    break
            weight[u] -= logs[v]
        n_changed = 0
        stamp += 1
        outer = stamp
        for i in range(k):
            u = later[base + i]
            mark2[u] = outer
            changed[n_changed] = u
            n_changed += 1
        if fill[v] == 0:
            for i in range(k):
                u = later[base + i]
                fill[u] -= size[u] + 1 - k
        else:
            for i in range(k):
                u = later[base + i]
                stamp += 1
                for j in range(start[u], start[u] + size[u]):
                    mark[pool[j]] = stamp
                for j in range(i + 1, k):
                    w = later[base + j]
                    if mark[w] == stamp:
                        continue
                    for one in range(2):
                        x = u if one == 0 else w
                        y = w if one == 0 else u
                        if size[x] == room[x]:
                            grown = 2 * room[x] + 4
                            if top + grown > pool.shape[0]:
                                wider = np.empty(2 * pool.shape[0] + grown, dtype=np.int64)
                                wider[:top] = pool[:top]
                                pool = wider
                            for z in range(size[x]):
                                pool[top + z] = pool[start[x] + z]
                            start[x] = top
                            room[x] = grown
                            top += grown
                        pool[start[x] + size[x]] = y
                        size[x] += 1
                        weight[x] += logs[y]
                    for z in range(start[w], start[w] + size[w]):
                        x = pool[z]
                        if mark[x] == stamp and mark2[x] != outer:
                            mark2[x] = outer
                            changed[n_changed] = x
                            n_changed += 1
            for i in range(n_changed):
                stamp += 1
                fill[changed[i]] = missing_edges(changed[i], start, size, pool, mark, stamp)
        for i in range(n_changed):
            u = changed[i]
            fresh = fill[u] * by_fill + weight[u] + jitter[u]
            if fresh != current[u]:
                current[u] = fresh
                if heap == keys.shape[0]:
                    more_keys = np.empty(2 * heap)
                    more_items = np.empty(2 * heap, dtype=np.int64)
                    more_keys[:heap] = keys
                    more_items[:heap] = items
                    keys = more_keys
                    items = more_items
                push(keys, items, heap, fresh, u)
                heap += 1
    return position, order[:step], later_start[: step + 1], later[: later_start[step]], cells


def cliques(position: Any, order: Any, later_start: Any, later: Any) -> Any:
    """Maximal cliques of an elimination: parents, variables (latest first) and separators.

    Returns the clique in which each variable is eliminated, each clique's parent (-1 for a
    root), compressed rows of its variables, the number of its leading variables that are its
    separator, and the cliques in an order with children before parents.
    """
    steps = order.shape[0]
    node_of_step = np.full(steps, -1, dtype=np.int64)
    heir = np.full(steps, -1, dtype=np.int64)
    next_step = np.full(steps, -1, dtype=np.int64)
    for t in range(steps):
        first = -1
        for i in range(later_start[t], later_start[t + 1]):
            p = position[later[i]]
            if first < 0 or p < first:
                first = p
        next_step[t] = first
        k = later_start[t + 1] - later_start[t]
        if first >= 0 and k == later_start[first + 1] - later_start[first] + 1:
            heir[first] = t
    nodes = 0
    head = np.empty(steps, dtype=np.int64)
    last = np.empty(steps, dtype=np.int64)
    for t in range(steps):
        if heir[t] >= 0:
            node_of_step[t] = node_of_step[heir[t]]
        else:
            node_of_step[t] = nodes
            head[nodes] = t
            nodes += 1
        last[node_of_step[t]] = t
    parent = np.full(nodes, -1, dtype=np.int64)
    start = np.zeros(nodes + 1, dtype=np.int64)
    separator = np.zeros(nodes, dtype=np.int64)
    for q in range(nodes):
        start[q + 1] = start[q] + 1 + later_start[head[q] + 1] - later_start[head[q]]
        separator[q] = later_start[last[q] + 1] - later_start[last[q]]
        if next_step[last[q]] >= 0:
            parent[q] = node_of_step[next_step[last[q]]]
    members = np.empty(start[nodes], dtype=np.int64)
    for q in range(nodes):
        steps_here = np.empty(start[q + 1] - start[q], dtype=np.int64)
        steps_here[0] = head[q]
        for i in range(later_start[head[q]], later_start[head[q] + 1]):
            steps_here[1 + i - later_start[head[q]]] = position[later[i]]
        steps_here = np.sort(steps_here)
        m = steps_here.shape[0]
        for i in range(m):
            members[start[q] + i] = order[steps_here[m - 1 - i]]
    sequence = np.argsort(last[:nodes])
    return node_of_step, parent, start, members, separator, sequence


KERNELS = (label, missing_edges, push, pop, eliminate, cliques)
