"""Loops of the clique tree: tables multiplied in, two passes of messages, drawing.

A clique's variables lie slowest first in its table, those of its separator leading, so that what
it tells its parent is a sum over contiguous cells.  A table is made axis by axis: each step
repeats it along the next axis and multiplies in what reaches no further, so that only few inputs
touch all of its cells.  The way down sums the axes out in the reverse order.  Both go by blocks
that stay in the processor's cache.
"""

from __future__ import annotations

import numpy as np

from genetics.arrays import Floats1, Floats2, Ints1, Ints2, Offsets1
from genetics.kernels.protocols import Block, Kin, Room, Tables, Tree

BLOCK = 1024
"""Cells worked on at a time."""
ABREAST = 8
"""Tables that a block meets in one go."""
FAINT = 1e-290
"""A product of positive cells below this has lost digits, or will."""
SOUND, LOST, VANISHED = 0, 1, 2
"""What became of a clique: all well, positive cells too small for a float, all cells zero."""


def held_offset(scope: Ints1, low: int, high: int, card: Ints1, value: Ints1) -> int:
    """Where in a table the cells lie that agree with the variables held."""
    at = 0
    step = 1
    j = high - 1
    while j >= low:
        if value[scope[j]] >= 0:
            at += step * value[scope[j]]
        step *= card[scope[j]]
        j -= 1
    return at


def set_strides(
    scope: Ints1, low: int, high: int, card: Ints1, value: Ints1, place: Ints1, strides: Ints1
) -> int:
    """Steps of a scope's table along each axis of a clique; the last axis that it has.

    `place` gives the axis of each variable of the clique.
    """
    strides[:] = 0
    deepest = 0
    step = 1
    j = high - 1
    while j >= low:
        if value[scope[j]] < 0:
            axis = place[scope[j]]
            strides[axis] = step
            deepest = max(deepest, axis)
        step *= card[scope[j]]
        j -= 1
    return deepest


def set_offsets(sizes: Ints1, strides: Ints1, first: int, end: int, offsets: Offsets1) -> bool:
    """Where each cell of a block over axes `first` to `end` lies in a smaller table.

    Whether they lie in a row as in the block.
    """
    offsets[0] = 0
    filled = 1
    row = True
    for axis in range(end - 1, first - 1, -1):
        if strides[axis] != filled:
            row = False
        for digit in range(1, sizes[axis]):
            for i in range(filled):
                offsets[digit * filled + i] = offsets[i] + digit * strides[axis]
        filled *= sizes[axis]
    return row


def blocks(sizes: Ints1, end: int) -> tuple[int, int, int]:
    """How a table over the axes up to `end` is cut: first axis of a block, its cells, blocks."""
    block = 1
    first = end
    while first > 0 and (block * sizes[first - 1] <= BLOCK or first == end):
        first -= 1
        block *= sizes[first]
    outer = 1
    for i in range(first):
        outer *= sizes[i]
    return first, block, outer


def widen(cells: Floats1, source: int, target: int, block: int, size: int) -> None:
    """Repeat each cell along a new last axis, last first so that both may overlap."""
    c = block // size - 1
    while c >= 0:
        kept = cells[source + c]
        for j in range(size):
            cells[target + c * size + j] = kept
        c -= 1


def narrow(cells: Floats1, source: int, target: int, block: int, size: int) -> None:
    """Sum out the last axis, first cell first so that both may overlap."""
    for c in range(block // size):
        total = 0.0
        for j in range(size):
            total += cells[source + c * size + j]
        cells[target + c] = total


def scale(cells: Floats1, base: int, block: int, other: Floats1, at: int) -> bool:
    """Multiply a block by another; whether a positive product became too small."""
    mine, its = cells[base : base + block], other[at : at + block]
    lost = 0
    for i in range(block):
        before, by = mine[i], its[i]
        mine[i] = before * by
        lost += (before * by < FAINT) & (before > 0.0) & (by > 0.0)
    return lost > 0


def add(cells: Floats1, base: int, block: int, other: Floats1, at: int) -> None:
    """Add a block to another."""
    mine, its = cells[base : base + block], other[at : at + block]
    for i in range(block):
        its[i] += mine[i]


def fetch(other: Floats1, at: int, offsets: Offsets1, block: int, buffer: Floats1) -> None:
    """Lay the cells that a block meets in a row."""
    for i in range(block):
        buffer[i] = other[at + offsets[i]]


def release(other: Floats1, at: int, offsets: Offsets1, block: int, buffer: Floats1) -> None:
    """Add a row to the cells that a block belongs to, and clear it."""
    for i in range(block):
        other[at + offsets[i]] += buffer[i]
        buffer[i] = 0.0


def raise_axis(
    cells: Floats1, base: int, axis: int, sizes: Ints1, chosen: Ints1, strides: Ints2,
    starts: Ints1, split: int, data: Floats1, messages: Floats1, room: Block,
) -> bool:  # fmt: skip
    """Repeat a table along one more axis and multiply in the chosen inputs, in place.

    Inputs from number `split` on are messages.  Whether a positive product became too small.
    """
    digits, offsets, buffers, fetched, rows = room
    first, block, outer = blocks(sizes, axis + 1)
    lost = False
    done = 0
    while done == 0 or done < chosen.shape[0]:
        group = chosen[done : done + ABREAST]
        for g in range(group.shape[0]):
            rows[g] = set_offsets(sizes, strides[group[g]], first, axis + 1, offsets[g])
            fetched[g] = -1
        digits[:first] = sizes[:first] - 1
        for o in range(outer - 1, -1, -1):
            at = base + o * block
            if done == 0:
                widen(cells, base + o * (block // sizes[axis]), at, block, sizes[axis])
            for g in range(group.shape[0]):
                m = group[g]
                other = data if m < split else messages
                there = starts[m] + reach(digits, strides[m], first)
                if rows[g]:
                    weak = scale(cells, at, block, other, there)
                else:
                    if there != fetched[g]:
                        fetch(other, there, offsets[g], block, buffers[g])
                        fetched[g] = there
                    weak = scale(cells, at, block, buffers[g], 0)
                if weak:
                    lost = True
            step(digits, sizes, first, -1)
        done += ABREAST
    return lost


def reach(digits: Ints1, strides: Ints1, count: int) -> int:
    """How far into a table the digits lead."""
    there = 0
    for i in range(count):
        there += digits[i] * strides[i]
    return there


def step(digits: Ints1, sizes: Ints1, count: int, by: int) -> None:
    """The digits of the next block (`by` 1) or of the one before (-1)."""
    i = count - 1
    while i >= 0:
        digits[i] += by
        if 0 <= digits[i] < sizes[i]:
            return
        digits[i] = 0 if by > 0 else sizes[i] - 1
        i -= 1


def lower_axis(
    cells: Floats1, base: int, axis: int, sizes: Ints1, chosen: Ints1, strides: Ints2,
    starts: Ints1, split: int, out: Floats1, fresh: Floats1, room: Block,
) -> None:  # fmt: skip
    """Add a table to the chosen outputs and sum out its last axis, in place.

    Outputs from number `split` on are messages.
    """
    digits, offsets, buffers, fetched, rows = room
    first, block, outer = blocks(sizes, axis + 1)
    done = 0
    while done == 0 or done < chosen.shape[0]:
        group = chosen[done : done + ABREAST]
        for g in range(group.shape[0]):
            rows[g] = set_offsets(sizes, strides[group[g]], first, axis + 1, offsets[g])
            buffers[g, :block] = 0.0
            fetched[g] = -1
        digits[:first] = 0
        for o in range(outer):
            at = base + o * block
            for g in range(group.shape[0]):
                m = group[g]
                other = out if m < split else fresh
                there = starts[m] + reach(digits, strides[m], first)
                if rows[g]:
                    add(cells, at, block, other, there)
                    continue
                if there != fetched[g]:
                    if fetched[g] >= 0:
                        release(other, fetched[g], offsets[g], block, buffers[g])
                    fetched[g] = there
                add(cells, at, block, buffers[g], 0)
            if done + ABREAST >= chosen.shape[0]:
                narrow(cells, at, base + o * (block // sizes[axis]), block, sizes[axis])
            step(digits, sizes, first, 1)
        for g in range(group.shape[0]):
            if fetched[g] >= 0:
                other = out if group[g] < split else fresh
                release(other, fetched[g], offsets[g], block, buffers[g])
        done += ABREAST


def rows_of(owner: Ints1, order: Ints1, nodes: int) -> Ints1:
    """Where each clique's entries begin in `order`, which lists entries by `owner` (-1 first)."""
    first = np.zeros(nodes + 1, dtype=np.int64)
    for i in range(order.shape[0]):
        first[owner[order[i]] + 1] += 1
    for q in range(nodes):
        first[q + 1] += first[q]
    return first


def make_room(most: int, widest: int, card: Ints1) -> Room:
    """Scratch arrays: strides, starts, depths, ranking, its bounds, sizes, places, a block's."""
    longest = BLOCK
    for v in range(card.shape[0]):
        longest = max(longest, card[v])
    return (
        np.zeros((most, widest), dtype=np.int64),
        np.zeros(most, dtype=np.int64),
        np.zeros(most, dtype=np.int64),
        np.zeros(most, dtype=np.int64),
        np.zeros(widest + 1, dtype=np.int64),
        np.zeros(widest, dtype=np.int64),
        np.zeros(card.shape[0], dtype=np.int64),
        (
            np.zeros(widest, dtype=np.int64),
            np.zeros((ABREAST, longest), dtype=np.int32),
            np.zeros((ABREAST, longest)),
            np.zeros(ABREAST, dtype=np.int64),
            np.zeros(ABREAST, dtype=np.bool_),
        ),
    )


def enter(tree: Tree, q: int, card: Ints1, room: Room) -> int:
    """Note the sizes and places of a clique's variables; their number."""
    start, members = tree[0], tree[1]
    sizes, place = room[5], room[6]
    dims = int(start[q + 1] - start[q])
    for i in range(dims):
        sizes[i] = card[members[start[q] + i]]
        place[members[start[q] + i]] = i
    return dims


def line_up(
    tree: Tree, q: int, dims: int, tables: Tables, listed: Ints1, kin: Kin, card: Ints1,
    value: Ints1, room: Room,
) -> int:  # fmt: skip
    """Strides of the listed tables of a clique, then of its children's messages, by last axis.

    The number of the listed; ranking and bounds are left in `room`.
    """
    start, members, separator, message_start = tree[0], tree[1], tree[2], tree[6]
    scope_start, scope, data_start = tables
    strides, starts, depth, ranked, bounds = room[0], room[1], room[2], room[3], room[4]
    place = room[6]
    m = 0
    for t in listed:
        low, high = scope_start[t], scope_start[t + 1]
        depth[m] = set_strides(scope, low, high, card, value, place, strides[m])
        starts[m] = data_start[t] + held_offset(scope, low, high, card, value)
        m += 1
    for c in kin[1][kin[0][q] : kin[0][q + 1]]:
        low = start[c]
        depth[m] = set_strides(members, low, low + separator[c], card, value, place, strides[m])
        starts[m] = message_start[c]
        m += 1
    bounds[: dims + 1] = 0
    for i in range(m):
        bounds[depth[i]] += 1
    for axis in range(1, dims + 1):
        bounds[axis] += bounds[axis - 1]
    for i in range(m - 1, -1, -1):
        bounds[depth[i]] -= 1
        ranked[bounds[depth[i]]] = i
    return int(listed.shape[0])


def report(tree: Tree, q: int, cells: Floats1, messages: Floats1, scales: Floats1) -> bool:
    """Sum a clique's table into its message, the largest cell into `scales`; is anything left?"""
    table_start, message_start = tree[5], tree[6]
    low, high = message_start[q], message_start[q + 1]
    inner = (table_start[q + 1] - table_start[q]) // (high - low)
    most = 0.0
    for i in range(high - low):
        base = table_start[q] + i * inner
        even, odd = 0.0, 0.0
        for j in range(0, inner - 1, 2):
            even += cells[base + j]
            odd += cells[base + j + 1]
        if inner % 2 == 1:
            even += cells[base + inner - 1]
        messages[low + i] = even + odd
        most = max(most, messages[low + i])
    scales[q] = most
    if most <= 0.0:
        return False
    for i in range(low, high):
        messages[i] /= most
    return True


def collect(
    card: Ints1, tree: Tree, kin: Kin, factors: Tables, data: Floats1, first: Ints1, order: Ints1,
    value: Ints1, cells: Floats1, messages: Floats1, scales: Floats1, flaw: Ints1, room: Room,
) -> None:  # fmt: skip
    """Tables and messages from the leaves to the roots; `flaw` tells what became of each clique.

    Past a flaw it goes on as if the clique had told its parent nothing.
    """
    strides, starts, ranked, bounds, sizes = room[0], room[1], room[3], room[4], room[5]
    sequence, table_start, message_start = tree[4], tree[5], tree[6]
    for k in range(sequence.shape[0]):
        q = sequence[k]
        dims = enter(tree, q, card, room)
        listed = order[first[q] : first[q + 1]]
        split = line_up(tree, q, dims, factors, listed, kin, card, value, room)
        base = table_start[q]
        cells[base] = 1.0
        lost = False
        for axis in range(dims):
            chosen = ranked[bounds[axis] : bounds[axis + 1]]
            if raise_axis(
                cells, base, axis, sizes, chosen, strides, starts, split, data, messages, room[7]
            ):
                lost = True
        flaw[q] = LOST if lost else SOUND
        if not report(tree, q, cells, messages, scales):
            flaw[q] = LOST if lost else VANISHED
            scales[q] = 1.0
            messages[message_start[q] : message_start[q + 1]] = 1.0


def believe(
    tree: Tree, q: int, cells: Floats1, messages: Floats1, scales: Floats1, fresh: Floats1
) -> None:
    """Multiply a clique's table by what its parent says beyond what it told the parent."""
    table_start, message_start = tree[5], tree[6]
    low, high = message_start[q], message_start[q + 1]
    inner = (table_start[q + 1] - table_start[q]) // (high - low)
    for i in range(high - low):
        sent = messages[low + i] * scales[q]
        share = fresh[low + i] / sent if sent > 0.0 else 0.0
        for j in range(table_start[q] + i * inner, table_start[q] + (i + 1) * inner):
            cells[j] *= share


def distribute(
    card: Ints1, tree: Tree, kin: Kin, wanted: Tables, out: Floats1, first: Ints1, order: Ints1,
    value: Ints1, cells: Floats1, messages: Floats1, scales: Floats1, room: Room,
) -> None:  # fmt: skip
    """Messages from the roots to the leaves; adds up the marginals wanted, uses up the tables."""
    strides, starts, ranked, bounds, sizes = room[0], room[1], room[3], room[4], room[5]
    parent, sequence, table_start, message_start = tree[3], tree[4], tree[5], tree[6]
    fresh = np.zeros(messages.shape[0])
    for k in range(sequence.shape[0] - 1, -1, -1):
        q = sequence[k]
        if parent[q] < 0:
            fresh[message_start[q]] = 1.0
        believe(tree, q, cells, messages, scales, fresh)
        dims = enter(tree, q, card, room)
        listed = order[first[q] : first[q + 1]]
        split = line_up(tree, q, dims, wanted, listed, kin, card, value, room)
        for axis in range(dims - 1, -1, -1):
            chosen = ranked[bounds[axis] : bounds[axis + 1]]
            lower_axis(
                cells, table_start[q], axis, sizes, chosen, strides, starts, split, out, fresh,
                room[7],
            )  # fmt: skip
            if bounds[axis] == 0:
                break
    for o in order[: first[0]]:
        held = held_offset(wanted[1], wanted[0][o], wanted[0][o + 1], card, value)
        out[wanted[2][o] + held] += 1.0


def propagate(
    card: Ints1, tree: Tree, children: Ints1, factors: Tables, data: Floats1, factor_node: Ints1,
    factor_order: Ints1, wanted: Tables, out: Floats1, out_node: Ints1, out_order: Ints1,
    value: Ints1, uniform: Floats2, drawn: Ints2, cells: Floats1, messages: Floats1,
    scales: Floats1, flaw: Ints1,
) -> None:  # fmt: skip
    """Multiply factors into cliques, pass messages up and down, add up the marginals wanted.

    `children` lists cliques by parent, roots first.  `factors` and `wanted` come each with the
    clique of every table (-1: all held) and the order by clique.  Variables with
    `value` 0 or more are held there: no clique has them, and tables are read and marginals written
    at that value.  For each row of `uniform`, a number for each clique, the others are drawn
    jointly, and the row of `drawn` gets them.  `scales[q]` is the mass that clique q normalised
    away (the sum of the logs is the log evidence), `flaw[q]` what became of it.
    """
    start, parent = tree[0], tree[3]
    nodes = parent.shape[0]
    kin = (rows_of(parent, children, nodes), children)
    first = rows_of(factor_node, factor_order, nodes)
    out_first = rows_of(out_node, out_order, nodes)
    most, widest = 1, 1
    for q in range(nodes):
        widest = max(widest, start[q + 1] - start[q])
        own = max(first[q + 1] - first[q], out_first[q + 1] - out_first[q])
        most = max(most, own + kin[0][q + 1] - kin[0][q])
    room = make_room(most, widest, card)
    collect(
        card, tree, kin, factors, data, first, factor_order, value, cells, messages, scales, flaw,
        room,
    )  # fmt: skip
    for row in range(uniform.shape[0]):
        draw(card, tree, cells, uniform[row], drawn[row])
    distribute(
        card, tree, kin, wanted, out, out_first, out_order, value, cells, messages, scales, room
    )  # fmt: skip


def draw(card: Ints1, tree: Tree, cells: Floats1, uniform: Floats1, value: Ints1) -> None:
    """Draw all variables jointly, from the tables as they are before the way down."""
    start, members, separator, sequence = tree[0], tree[1], tree[2], tree[4]
    table_start, message_start = tree[5], tree[6]
    for k in range(sequence.shape[0] - 1, -1, -1):
        q = sequence[k]
        inner = (table_start[q + 1] - table_start[q]) // (message_start[q + 1] - message_start[q])
        index = 0
        for i in range(start[q], start[q] + separator[q]):
            index = index * card[members[i]] + value[members[i]]
        base = table_start[q] + index * inner
        total = 0.0
        for j in range(inner):
            total += cells[base + j]
        left = uniform[q] * total
        chosen = -1
        for j in range(inner):
            if cells[base + j] > 0.0:
                chosen = j
                left -= cells[base + j]
                if left < 0.0:
                    break
        for i in range(start[q + 1] - 1, start[q] + separator[q] - 1, -1):
            value[members[i]] = chosen % card[members[i]]
            chosen //= card[members[i]]


def agrees(
    factor_start: Ints1, scope: Ints1, data_start: Ints1, data: Floats1, card: Ints1, value: Ints1
) -> bool:
    """Whether every table is positive at the values."""
    for f in range(factor_start.shape[0] - 1):
        at = held_offset(scope, factor_start[f], factor_start[f + 1], card, value)
        if data[data_start[f] + at] <= 0.0:
            return False
    return True


KERNELS = (
    held_offset, set_strides, set_offsets, blocks, widen, narrow, scale, add, fetch, release,
    reach, step, raise_axis, lower_axis, rows_of, make_room, enter, line_up, report,
    collect, believe, distribute, draw, propagate, agrees,
)  # fmt: skip
