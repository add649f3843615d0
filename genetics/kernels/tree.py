"""Loops of the clique tree: tables multiplied in, two passes of messages, drawing."""

from __future__ import annotations

from math import log
from typing import Any

import numpy as np


def multiply(
    cells: Any,
    base: int,
    dims: int,
    sizes: Any,
    strides: Any,
    digits: Any,
    other: Any,
    other_base: int,
) -> None:
    """Multiply a table in place by another with the steps `strides` along its axes."""  # fmt: skip
    for i in range(dims):
        digits[i] = 0
    total = 1
    for i in range(dims):
        total *= sizes[i]
    at = other_base
    for cell in range(total):
        cells[base + cell] *= other[at]
        i = dims - 1
        while i >= 0:
            digits[i] += 1
            at += strides[i]
            if digits[i] < sizes[i]:
                break
            at -= strides[i] * sizes[i]
            digits[i] = 0
            i -= 1


def gather(
    cells: Any,
    base: int,
    dims: int,
    sizes: Any,
    strides: Any,
    digits: Any,
    other: Any,
    other_base: int,
) -> None:
    """Add each cell of a table to the cell of a smaller one that it belongs to."""  # fmt: skip
    for i in range(dims):
        digits[i] = 0
    total = 1
    for i in range(dims):
        total *= sizes[i]
    at = other_base
    for cell in range(total):
        other[at] += cells[base + cell]
        i = dims - 1
        while i >= 0:
            digits[i] += 1
            at += strides[i]
            if digits[i] < sizes[i]:
                break
            at -= strides[i] * sizes[i]
            digits[i] = 0
            i -= 1


def set_strides(
    variables: Any,
    first: int,
    end: int,
    scope: Any,
    low: int,
    high: int,
    card: Any,
    sizes: Any,
    strides: Any,
) -> None:
    """Sizes of a clique's dimensions and the steps of a scope's table along each."""  # fmt: skip
    for i in range(first, end):
        sizes[i - first] = card[variables[i]]
        step = 1
        strides[i - first] = 0
        j = high - 1
        while j >= low:
            if scope[j] == variables[i]:
                strides[i - first] = step
                break
            step *= card[scope[j]]
            j -= 1


def held_offset(scope: Any, low: int, high: int, card: Any, value: Any) -> int:
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


def fill_cliques(
    card: Any,
    start: Any,
    members: Any,
    table_start: Any,
    cells: Any,
    factor_start: Any,
    scope: Any,
    data_start: Any,
    data: Any,
    factor_node: Any,
    value: Any,
    room: Any,
) -> None:
    """Multiply every factor into its clique, at the values of the variables held."""  # fmt: skip
    cells[:] = 1.0
    sizes, strides, digits = room[0], room[1], room[2]
    for f in range(factor_node.shape[0]):
        q = factor_node[f]
        if q < 0:
            continue
        low, high = factor_start[f], factor_start[f + 1]
        set_strides(members, start[q], start[q + 1], scope, low, high, card, sizes, strides)
        at = data_start[f] + held_offset(scope, low, high, card, value)
        dims = start[q + 1] - start[q]
        multiply(cells, table_start[q], dims, sizes, strides, digits, data, at)


def normalise(table: Any) -> float:
    """Divide a table by its largest cell, in place; the largest cell."""
    most = 0.0
    for cell in range(table.shape[0]):
        most = max(most, table[cell])
    if most > 0.0:
        for cell in range(table.shape[0]):
            table[cell] /= most
    return most


def collect(
    card: Any,
    start: Any,
    members: Any,
    separator: Any,
    parent: Any,
    sequence: Any,
    table_start: Any,
    message_start: Any,
    cells: Any,
    messages: Any,
    logs: Any,
    room: Any,
) -> int:
    """Messages from the leaves to the roots; the clique where all vanished, or -1."""  # fmt: skip
    sizes, strides, digits = room[0], room[1], room[2]
    for k in range(sequence.shape[0]):
        q = sequence[k]
        table = cells[table_start[q] : table_start[q + 1]]
        most = normalise(table)
        if most <= 0.0:
            return int(q)
        logs[q] = log(most)
        message = messages[message_start[q] : message_start[q + 1]]
        inner = table.shape[0] // message.shape[0]
        for i in range(message.shape[0]):
            total = 0.0
            for j in range(inner):
                total += table[i * inner + j]
            message[i] = total
        p = parent[q]
        if p < 0:
            logs[q] += log(message[0])
            table /= message[0]
            continue
        set_strides(
            members, start[p], start[p + 1], members, start[q], start[q] + separator[q],
            card, sizes, strides,
        )  # fmt: skip
        dims = start[p + 1] - start[p]
        multiply(
            cells, table_start[p], dims, sizes, strides, digits, messages, message_start[q]
        )  # fmt: skip
    return -1


def distribute(
    card: Any,
    start: Any,
    members: Any,
    separator: Any,
    parent: Any,
    sequence: Any,
    table_start: Any,
    message_start: Any,
    cells: Any,
    messages: Any,
    room: Any,
) -> None:
    """Messages from the roots to the leaves: tables become beliefs."""  # fmt: skip
    sizes, strides, digits = room[0], room[1], room[2]
    for k in range(sequence.shape[0] - 1, -1, -1):
        q = sequence[k]
        p = parent[q]
        if p < 0:
            continue
        message = messages[message_start[q] : message_start[q + 1]]
        table = cells[table_start[q] : table_start[q + 1]]
        fresh = np.zeros(message.shape[0])
        set_strides(
            members, start[p], start[p + 1], members, start[q], start[q] + separator[q],
            card, sizes, strides,
        )  # fmt: skip
        dims = start[p + 1] - start[p]
        gather(cells, table_start[p], dims, sizes, strides, digits, fresh, 0)
        inner = table.shape[0] // message.shape[0]
        for i in range(message.shape[0]):
            share = fresh[i] / message[i] if message[i] > 0.0 else 0.0
            for j in range(inner):
                table[i * inner + j] *= share


def propagate(
    card: Any,
    start: Any,
    members: Any,
    separator: Any,
    parent: Any,
    sequence: Any,
    table_start: Any,
    message_start: Any,
    cells: Any,
    messages: Any,
    factor_start: Any,
    scope: Any,
    data_start: Any,
    data: Any,
    factor_node: Any,
    out_start: Any,
    out_scope: Any,
    out_data: Any,
    out: Any,
    out_node: Any,
    out_order: Any,
    logs: Any,
    value: Any,
) -> int:
    """Multiply factors into cliques, pass messages up and down, add up the marginals wanted.

    Variables with `value` 0 or more are held there: no clique has them, and tables are read and
    marginals written at that value.  `logs[q]` gets the log of the mass that clique q normalised
    away (their sum is the log evidence).  Returns the clique where all vanished, or -1.
    """  # fmt: skip
    widest = 1
    for q in range(parent.shape[0]):
        widest = max(widest, start[q + 1] - start[q])
    room = np.empty((3, widest), dtype=np.int64)
    fill_cliques(
        card, start, members, table_start, cells, factor_start, scope, data_start, data,
        factor_node, value, room,
    )  # fmt: skip
    bad = collect(
        card, start, members, separator, parent, sequence, table_start, message_start, cells,
        messages, logs, room,
    )  # fmt: skip
    if bad >= 0:
        return bad
    distribute(
        card, start, members, separator, parent, sequence, table_start, message_start, cells,
        messages, room,
    )  # fmt: skip
    sizes, strides, digits = room[0], room[1], room[2]
    for k in range(out_order.shape[0]):
        o = out_order[k]
        q = out_node[o]
        low, high = out_start[o], out_start[o + 1]
        at = out_data[o] + held_offset(out_scope, low, high, card, value)
        if q < 0:
            out[at] += 1.0
            continue
        set_strides(members, start[q], start[q + 1], out_scope, low, high, card, sizes, strides)
        dims = start[q + 1] - start[q]
        gather(cells, table_start[q], dims, sizes, strides, digits, out, at)
    return -1


def draw(
    card: Any,
    start: Any,
    members: Any,
    separator: Any,
    sequence: Any,
    table_start: Any,
    message_start: Any,
    cells: Any,
    uniform: Any,
    value: Any,
) -> None:
    """Draw all variables jointly from the beliefs left in the cliques."""  # fmt: skip
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
    factor_start: Any, scope: Any, data_start: Any, data: Any, card: Any, value: Any
) -> bool:
    """Whether every table is positive at the values."""
    for f in range(factor_start.shape[0] - 1):
        at = held_offset(scope, factor_start[f], factor_start[f + 1], card, value)
        if data[data_start[f] + at] <= 0.0:
            return False
    return True


KERNELS = (
    held_offset, agrees, draw, multiply, gather, set_strides, fill_cliques, normalise, collect,
    distribute, propagate,
)  # fmt: skip
