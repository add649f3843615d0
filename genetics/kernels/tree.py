"""Loops of the clique tree: tables multiplied in, two passes of messages, drawing."""

from __future__ import annotations

from math import log
from typing import Any

import numpy as np


def multiply(
    cells: Any, base: int, dims: int, sizes: Any, strides: Any, digits: Any, other: Any,
    other_base: int,
) -> None:
    """Multiply a table in place by another, whose step along each dimension is in `strides`."""  # fmt: skip
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
    cells: Any, base: int, dims: int, sizes: Any, strides: Any, digits: Any, other: Any,
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
    variables: Any, first: int, end: int, scope: Any, low: int, high: int, card: Any,
    sizes: Any, strides: Any,
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


def propagate(
    card: Any, start: Any, members: Any, separator: Any, parent: Any, sequence: Any,
    table_start: Any, message_start: Any, cells: Any, messages: Any,
    factor_start: Any, scope: Any, data_start: Any, data: Any, factor_node: Any,
    out_start: Any, out_scope: Any, out_data: Any, out: Any, out_node: Any, out_order: Any,
    root_log: Any, value: Any,
) -> int:
    """Multiply factors into cliques, pass messages up and down, add up the marginals wanted.

    Variables with `value` 0 or more are held there: no clique has them, and tables are read and
    marginals written at that value.  `root_log[q]` gets the log of the mass that clique q
    normalised away (sum them for the log evidence).  Returns the clique at which everything vanished, or -1.
    """  # fmt: skip
    nodes = parent.shape[0]
    widest = 1
    for q in range(nodes):
        widest = max(widest, start[q + 1] - start[q])
    sizes = np.empty(widest, dtype=np.int64)
    strides = np.empty(widest, dtype=np.int64)
    digits = np.empty(widest, dtype=np.int64)
    cells[:] = 1.0
    messages[:] = 0.0
    for f in range(factor_node.shape[0]):
        q = factor_node[f]
        if q < 0:
            continue
        dims = start[q + 1] - start[q]
        set_strides(
            members, start[q], start[q + 1], scope, factor_start[f], factor_start[f + 1],
            card, sizes, strides,
        )  # fmt: skip
        at = data_start[f] + held_offset(scope, factor_start[f], factor_start[f + 1], card, value)
        multiply(cells, table_start[q], dims, sizes, strides, digits, data, at)
    for k in range(nodes):
        q = sequence[k]
        most = 0.0
        for cell in range(table_start[q], table_start[q + 1]):
            if cells[cell] > most:
                most = cells[cell]
        if most <= 0.0:
            return int(q)
        root_log[q] = log(most)
        for cell in range(table_start[q], table_start[q + 1]):
            cells[cell] /= most
        outer = message_start[q + 1] - message_start[q]
        inner = (table_start[q + 1] - table_start[q]) // outer
        for i in range(outer):
            total = 0.0
            for j in range(inner):
                total += cells[table_start[q] + i * inner + j]
            messages[message_start[q] + i] = total
        p = parent[q]
        if p < 0:
            total = messages[message_start[q]]
            root_log[q] += log(total)
            for cell in range(table_start[q], table_start[q + 1]):
                cells[cell] /= total
        else:
            dims = start[p + 1] - start[p]
            set_strides(
                members, start[p], start[p + 1], members, start[q], start[q] + separator[q],
                card, sizes, strides,
            )  # fmt: skip
            multiply(
                cells, table_start[p], dims, sizes, strides, digits, messages, message_start[q]
            )
    largest = 1
    for q in range(nodes):
        largest = max(largest, message_start[q + 1] - message_start[q])
    fresh = np.empty(largest)
    for k in range(nodes - 1, -1, -1):
        q = sequence[k]
        p = parent[q]
        if p >= 0:
            outer = message_start[q + 1] - message_start[q]
            inner = (table_start[q + 1] - table_start[q]) // outer
            fresh[:outer] = 0.0
            dims = start[p + 1] - start[p]
            set_strides(
                members, start[p], start[p + 1], members, start[q], start[q] + separator[q],
                card, sizes, strides,
            )  # fmt: skip
            gather(cells, table_start[p], dims, sizes, strides, digits, fresh, 0)
            for i in range(outer):
                old = messages[message_start[q] + i]
                share = fresh[i] / old if old > 0.0 else 0.0
                for j in range(inner):
                    cells[table_start[q] + i * inner + j] *= share
    for k in range(out_order.shape[0]):
        o = out_order[k]
        q = out_node[o]
        at = out_data[o] + held_offset(out_scope, out_start[o], out_start[o + 1], card, value)
        if q < 0:
            out[at] += 1.0
            continue
        dims = start[q + 1] - start[q]
        set_strides(
            members, start[q], start[q + 1], out_scope, out_start[o], out_start[o + 1],
            card, sizes, strides,
        )  # fmt: skip
        gather(cells, table_start[q], dims, sizes, strides, digits, out, at)
    return -1


def draw(
    card: Any, start: Any, members: Any, separator: Any, sequence: Any, table_start: Any,
    message_start: Any, cells: Any, uniform: Any, value: Any,
) -> None:
    """Draw all variables jointly from the beliefs that `propagate` left in the cliques."""  # fmt: skip
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


KERNELS = (held_offset, agrees, draw, multiply, gather, set_strides, propagate)
