"""Loops that plan: components, the elimination order and its cliques."""

from __future__ import annotations

from typing import TypeVar

import numpy as np

from genetics.arrays import Bools1, Floats1, Ints1, Marks1
from genetics.kernels.protocols import Price

LARGE = 2**10
"""Cells of a table from which on it pays to look for a smaller one that serves as well."""
Cells = TypeVar("Cells", Floats1, Ints1)


def interaction(factor_start: Ints1, scope: Ints1, n: int) -> tuple[Ints1, Ints1]:
    """Compressed rows (`starts`, `neighbours` in order) of the variables that share a factor."""
    of_start = np.zeros(n + 1, dtype=np.int64)
    for i in range(scope.shape[0]):
        of_start[scope[i] + 1] += 1
    for v in range(n):
        of_start[v + 1] += of_start[v]
    of = np.empty(scope.shape[0], dtype=np.int64)
    filled = of_start.copy()
    for f in range(factor_start.shape[0] - 1):
        for i in range(factor_start[f], factor_start[f + 1]):
            of[filled[scope[i]]] = f
            filled[scope[i]] += 1
    met = np.full(n, -1, dtype=np.int64)
    starts = np.zeros(n + 1, dtype=np.int64)
    for v in range(n):
        met[v] = v
        starts[v + 1] = starts[v]
        for k in range(of_start[v], of_start[v + 1]):
            for i in range(factor_start[of[k]], factor_start[of[k] + 1]):
                if met[scope[i]] != v:
                    met[scope[i]] = v
                    starts[v + 1] += 1
    neighbours = np.empty(starts[n], dtype=np.int64)
    filled = starts.copy()
    met[:] = -1
    for v in range(n):
        met[v] = v
        for k in range(of_start[v], of_start[v + 1]):
            for i in range(factor_start[of[k]], factor_start[of[k] + 1]):
                u = scope[i]
                if met[u] != v:
                    met[u] = v
                    neighbours[filled[u]] = v
                    filled[u] += 1
    return starts, neighbours


def label(starts: Ints1, neighbours: Ints1) -> Ints1:
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


def open_way(asked: Ints1, shut: Bools1, starts: Ints1, neighbours: Ints1) -> Marks1:
    """Mark what an open way leads to from some vertices: 1 the open ones, 2 the shut at its end."""
    marks = np.zeros(shut.shape[0], dtype=np.uint8)
    stack = np.empty(shut.shape[0] + 1, dtype=np.int64)
    depth = 0
    for i in range(asked.shape[0]):
        if marks[asked[i]] == 0:
            marks[asked[i]] = 1
            stack[depth] = asked[i]
            depth += 1
    while depth > 0:
        depth -= 1
        v = stack[depth]
        for i in range(starts[v], starts[v + 1]):
            u = neighbours[i]
            if marks[u] == 0:
                marks[u] = 2 if shut[u] else 1
                if not shut[u]:
                    stack[depth] = u
                    depth += 1
    return marks


def missing_edges(v: int, start: Ints1, size: Ints1, pool: Ints1, mark: Ints1, clock: Ints1) -> int:
    """Edges that elimination of v would add among its neighbours."""
    clock[0] += 1
    stamp = clock[0]
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


def push(keys: Floats1, items: Ints1, n: int, key: float, item: int) -> None:
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


def pop(keys: Floats1, items: Ints1, n: int) -> None:
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


def spread(pair_start: Ints1, neighbours: Ints1) -> tuple[Ints1, Ints1, Ints1, Ints1, int]:
    """Neighbour lists with room to grow: `start`, `size`, `room` of each in one `pool`."""
    n = pair_start.shape[0] - 1
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
    return start, size, room, pool, top


def lengthen(values: Cells, needed: int) -> Cells:
    """The array itself where it is long enough, else a copy of twice the length."""
    if needed <= values.shape[0]:
        return values
    longer = np.empty(2 * needed, dtype=values.dtype)
    longer[: values.shape[0]] = values
    return longer


def leave(v: int, near: Ints1, start: Ints1, size: Ints1, pool: Ints1) -> None:
    """Take v off the lists of its neighbours."""
    for i in range(near.shape[0]):
        u = near[i]
        for j in range(start[u], start[u] + size[u]):
            if pool[j] == v:
                pool[j] = pool[start[u] + size[u] - 1]
                size[u] -= 1
                break


def link(
    x: int, y: int, start: Ints1, size: Ints1, room: Ints1, pool: Ints1, top: int
) -> tuple[Ints1, int]:
    """Put y on the list of x, which moves to the end of the pool where it has no room."""
    if size[x] == room[x]:
        room[x] = 2 * room[x] + 4
        pool = lengthen(pool, top + room[x])
        for i in range(size[x]):
            pool[top + i] = pool[start[x] + i]
        start[x] = top
        top += room[x]
    pool[start[x] + size[x]] = y
    size[x] += 1
    return pool, top


def connect(
    near: Ints1, start: Ints1, size: Ints1, room: Ints1, pool: Ints1, top: int, weight: Floats1,
    logs: Floats1, mark: Ints1, seen: Ints1, clock: Ints1, changed: Ints1,
) -> tuple[Ints1, int, int]:  # fmt: skip
    """Join all pairs of `near`; `changed` gets them and the common neighbours of new pairs."""
    clock[0] += 1
    outer = clock[0]
    found = near.shape[0]
    for i in range(found):
        seen[near[i]] = outer
        changed[i] = near[i]
    for i in range(near.shape[0]):
        u = near[i]
        clock[0] += 1
        for j in range(start[u], start[u] + size[u]):
            mark[pool[j]] = clock[0]
        for j in range(i + 1, near.shape[0]):
            w = near[j]
            if mark[w] == clock[0]:
                continue
            pool, top = link(u, w, start, size, room, pool, top)
            pool, top = link(w, u, start, size, room, pool, top)
            weight[u] += logs[w]
            weight[w] += logs[u]
            for k in range(start[w], start[w] + size[w]):
                x = pool[k]
                if mark[x] == clock[0] and seen[x] != outer:
                    seen[x] = outer
                    changed[found] = x
                    found += 1
    return pool, top, found


def eliminate(
    pair_start: Ints1, neighbours: Ints1, card: Ints1, component: Ints1, jitter: Floats1,
    limit: float, by_fill: float,
) -> tuple[Ints1, Ints1, Ints1, Ints1, Floats1]:  # fmt: skip
    """Greedy elimination order by added edges (times `by_fill`) and log size of the clique.

    Args: a graph in compressed rows, sizes of the variables, the component of each, a small
    number to break ties, and the cells a component may have.  Returns `position` (order of
    elimination, -1 where its component was given up), the order, compressed rows of the later
    neighbours of each variable in that order, and the cells of each component.
    """
    n = card.shape[0]
    start, size, room, pool, top = spread(pair_start, neighbours)
    logs = np.log(card.astype(np.float64))
    notes = np.zeros((3, n), dtype=np.int64)
    mark, seen, fill = notes[0], notes[1], notes[2]
    clock = np.zeros(1, dtype=np.int64)
    weight, cost, cells = logs.copy(), np.full(n, -1.0), np.zeros(n)
    keys, items, heap = np.empty(2 * n + 2), np.empty(2 * n + 2, dtype=np.int64), 0
    changed = np.arange(n)
    for v in range(n):
        for i in range(start[v], start[v] + size[v]):
            weight[v] += logs[pool[i]]
        fill[v] = missing_edges(v, start, size, pool, mark, clock)
    price = (fill, weight, jitter, by_fill, cost)
    keys, items, heap = requeue(changed, n, price, keys, items, heap)
    position = np.full(n, -1, dtype=np.int64)
    order = np.empty(n, dtype=np.int64)
    rows = np.zeros(n + 1, dtype=np.int64)
    later = np.empty(2 * neighbours.shape[0] + 64, dtype=np.int64)
    step = 0
    while heap > 0:
        key, v = keys[0], items[0]
        pop(keys, items, heap)
        heap -= 1
        if position[v] >= 0 or key != cost[v]:
            continue
        cells[component[v]] += np.exp(weight[v])
        if cells[component[v]] > limit:
            cost[v] = np.inf
            continue
        position[v], order[step] = step, v
        rows[step + 1] = rows[step] + size[v]
        later = lengthen(later, rows[step + 1])
        near = later[rows[step] : rows[step + 1]]
        near[:] = pool[start[v] : start[v] + size[v]]
        step += 1
        leave(v, near, start, size, pool)
        weight[near] -= logs[v]
        if fill[v] == 0:
            fill[near] -= size[near] + 1 - near.shape[0]
            keys, items, heap = requeue(near, near.shape[0], price, keys, items, heap)
            continue
        pool, top, found = connect(
            near, start, size, room, pool, top, weight, logs, mark, seen, clock, changed
        )  # fmt: skip
        for i in range(found):
            fill[changed[i]] = missing_edges(changed[i], start, size, pool, mark, clock)
        keys, items, heap = requeue(changed, found, price, keys, items, heap)
    return position, order[:step], rows[: step + 1], later[: rows[step]], cells


def requeue(
    changed: Ints1, found: int, price: Price, keys: Floats1, items: Ints1, heap: int
) -> tuple[Floats1, Ints1, int]:
    """Price the changed variables anew and put those with a new price on the heap."""
    fill, weight, jitter, by_fill, cost = price
    for i in range(found):
        u = changed[i]
        fresh = fill[u] * by_fill + weight[u] + jitter[u]
        if fresh != cost[u] and cost[u] < np.inf:
            cost[u] = fresh
            keys = lengthen(keys, heap + 1)
            items = lengthen(items, heap + 1)
            push(keys, items, heap, fresh, u)
            heap += 1
    return keys, items, heap


def heirs(position: Ints1, rows: Ints1, later: Ints1) -> tuple[Ints1, Ints1]:
    """Next later neighbour of each step (-1 for none), and the step whose clique contains it."""
    steps = rows.shape[0] - 1
    following = np.full(steps, -1, dtype=np.int64)
    heir = np.full(steps, -1, dtype=np.int64)
    for t in range(steps):
        first = -1
        for i in range(rows[t], rows[t + 1]):
            p = position[later[i]]
            if first < 0 or p < first:
                first = p
        following[t] = first
        if first >= 0 and rows[t + 1] - rows[t] == rows[first + 1] - rows[first] + 1:
            heir[first] = t
    return following, heir


def cliques(
    position: Ints1, order: Ints1, rows: Ints1, later: Ints1
) -> tuple[Ints1, Ints1, Ints1, Ints1, Ints1, Ints1]:
    """Maximal cliques of an elimination: parents, variables (latest first) and separators.

    Returns the clique in which each step's variable is eliminated, each clique's parent (-1 for a
    root), compressed rows of its variables, the number of its leading variables that are its
    separator, and the cliques in an order with children before parents.
    """
    steps = order.shape[0]
    following, heir = heirs(position, rows, later)
    node_of_step = np.full(steps, -1, dtype=np.int64)
    head = np.empty(steps, dtype=np.int64)
    last = np.empty(steps, dtype=np.int64)
    nodes = 0
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
        start[q + 1] = start[q] + 1 + rows[head[q] + 1] - rows[head[q]]
        separator[q] = rows[last[q] + 1] - rows[last[q]]
        if following[last[q]] >= 0:
            parent[q] = node_of_step[following[last[q]]]
    members = np.empty(start[nodes], dtype=np.int64)
    for q in range(nodes):
        when = np.empty(start[q + 1] - start[q], dtype=np.int64)
        when[0] = head[q]
        for i in range(rows[head[q]], rows[head[q] + 1]):
            when[1 + i - rows[head[q]]] = position[later[i]]
        members[start[q] : start[q + 1]] = order[np.sort(when)[::-1]]
    return node_of_step, parent, start, members, separator, np.argsort(last[:nodes])


def hang(parent: Ints1) -> tuple[Ints1, Ints1]:
    """First child and next sibling of each clique."""
    nodes = parent.shape[0]
    child = np.full(nodes, -1, dtype=np.int64)
    sibling = np.full(nodes, -1, dtype=np.int64)
    for q in range(nodes):
        if parent[q] >= 0:
            sibling[q] = child[parent[q]]
            child[parent[q]] = q
    return child, sibling


def within(
    scope: Ints1, low: int, high: int, position: Ints1, members: Ints1, end: int, own: int
) -> bool:
    """Whether the open variables of a scope are among `own` members that end before `end`."""
    for i in range(low, high):
        if position[scope[i]] >= position.shape[0]:
            continue
        found = False
        for j in range(end - own, end):
            if members[j] == scope[i]:
                found = True
                break
        if not found:
            return False
    return True


def settle_down(
    parent: Ints1, start: Ints1, members: Ints1, separator: Ints1, sizes: Ints1, position: Ints1
) -> Ints1:
    """Hang cliques on the smallest relative that has their separator, not on a larger parent.

    Where the separator of a clique lies within a sibling's, the sibling serves as its parent and
    has fewer cells.  Changes `parent`; the cliques anew in an order with children before parents.
    """
    nodes = parent.shape[0]
    child, sibling = hang(parent)
    stack = np.empty(nodes, dtype=np.int64)
    sequence = np.empty(nodes, dtype=np.int64)
    depth = 0
    for q in range(nodes):
        if parent[q] < 0:
            stack[depth] = q
            depth += 1
    left = nodes
    while depth > 0:
        depth -= 1
        q = stack[depth]
        left -= 1
        sequence[left] = q
        if sizes[q] >= LARGE:
            rehang(q, parent, child, sibling, start, members, separator, sizes, position)
        c = child[q]
        while c >= 0:
            stack[depth] = c
            depth += 1
            c = sibling[c]
    return sequence


def rehang(
    q: int, parent: Ints1, child: Ints1, sibling: Ints1, start: Ints1, members: Ints1,
    separator: Ints1, sizes: Ints1, position: Ints1,
) -> None:  # fmt: skip
    """Move children of a clique below smaller ones of them that have their separator."""
    c = child[q]
    while c >= 0:
        low, own = start[c], separator[c]
        t = child[q]
        while t >= 0:
            wider = separator[t] > own or (separator[t] == own and t > c)
            if wider and sizes[t] < sizes[parent[c]]:
                end = start[t] + separator[t]
                if within(members, low, low + own, position, members, end, separator[t]):
                    parent[c] = t
            t = sibling[t]
        c = sibling[c]
    c = child[q]
    child[q] = -1
    while c >= 0:
        following = sibling[c]
        sibling[c] = child[parent[c]]
        child[parent[c]] = c
        c = following


def move_down(
    home: Ints1, scope_start: Ints1, scope: Ints1, parent: Ints1, start: Ints1, members: Ints1,
    separator: Ints1, sizes: Ints1, position: Ints1,
) -> None:  # fmt: skip
    """Move tables from large cliques to the smallest one below that has their variables."""
    child, sibling = hang(parent)
    for t in range(home.shape[0]):
        best = home[t]
        above = -1
        while best != above and best >= 0 and sizes[best] >= LARGE:
            above = best
            c = child[above]
            while c >= 0:
                end = start[c] + separator[c]
                if sizes[c] < sizes[best] and within(
                    scope, scope_start[t], scope_start[t + 1], position, members, end, separator[c]
                ):
                    best = c
                c = sibling[c]
        home[t] = best


KERNELS = (
    interaction, label, open_way, missing_edges, push, pop, spread, lengthen, leave, link, connect,
    requeue, eliminate, heirs, cliques, hang, within, settle_down, rehang, move_down,
)  # fmt: skip
