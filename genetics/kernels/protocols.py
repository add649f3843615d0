"""What the loops take and give, so that compiled and interpreted ones are held to one contract."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from genetics.arrays import (
    Bools1,
    Floats1,
    Floats2,
    Floats3,
    Ints1,
    Ints2,
    Ints3,
    Marks1,
    Marks2,
    Offsets2,
)

Kin = tuple[Ints1, Ints1]
"""Cliques by parent: where those of each begin, and the cliques."""
Tree = tuple[Ints1, Ints1, Ints1, Ints1, Ints1, Ints1, Ints1]
"""Cliques: start, members, separator, parent, sequence, table_start, message_start."""
Tables = tuple[Ints1, Ints1, Ints1]
"""Scopes of tables and where their cells are: scope_start, scope, data_start."""
Block = tuple[Ints1, Offsets2, Floats2, Ints1, Bools1]
"""Scratch of a block: digits, offsets, buffers, what is fetched, which lie in a row."""
Room = tuple[Ints2, Ints1, Ints1, Ints1, Ints1, Ints1, Ints1, Block]
"""Scratch: strides, starts, depths, ranking, its bounds, sizes, places, a block's."""
Price = tuple[Ints1, Floats1, Floats1, float, Floats1]
"""What the price of a variable is made of: fill, weight, jitter, by_fill, the price itself."""
Genes = tuple[
    Ints1, Ints2, Ints1, Ints2, Ints2, Ints2, Floats1, Floats2, Ints1, Marks2, Floats1
]  # fmt: skip
"""Genotypes: first, digits, world, strides, sizes, table_start, tables, share, look, goal, prior;
see `genetics.plans.forecast.genome`."""
Mind = tuple[
    Floats2, Floats1, Floats1, Ints1, Ints1, Floats2, Floats2, Ints1, Floats2, Ints1, Ints2
]  # fmt: skip
"""What keepers know, of all runs: beliefs, worth of pairs in the next generation and beyond, kinds
by hash, how many there are and how many at hand; worth by genotypes in the next generation and
beyond; pairs noted, scratch for young, clutches noted, what these told."""
Rules = tuple[int, int, int, int, int, int, int, int, int, int, int, int]
"""wanted, seasons, mature female and male, pairs, matings, places, clutches, spare hatchlings of
one look and sex, looks, sexes told apart by looks, animals at hand that are always kept."""
Rates = tuple[Ints1, Floats1, float, float, float]
"""Clutch sizes, their cumulative chances, lays, lives, mean hatchlings of a dam and season."""
Pen = tuple[Ints1, Ints1, Ints1, Ints1, Ints1, Ints1, Ints1, Ints1, Ints1]
"""Slots: genotype, kind, sex, age, identity, mark, category; then alike by look, used."""
Hand = tuple[Ints2, Ints2, Ints2, Ints1]
"""Animals at hand: genotypes, kinds, sexes by run; ages."""
Scratch = tuple[Floats3, Ints2, Ints1, Floats2, Ints1, Ints1, Ints2]
"""Scratch: score, couples, seen, learned, found, then what was seen and decided as one number each
and the next identity, herd."""


class Loops(Protocol):
    """A module of `genetics.kernels`, or its functions compiled."""

    @property
    def KERNELS(self) -> Sequence[Callable[..., object]]:
        """Its functions, each after those that it calls."""


class FamilyLoops(Loops, Protocol):
    """The loops over families that the engine calls; see `genetics.kernels.family`."""

    def settle(
        self, weight: Floats2, child: Ints1, dam: Ints1, sire: Ints1, table: Floats3
    ) -> int: ...

    def list_states(self, weight: Floats2) -> tuple[Ints1, Ints1]: ...

    def pair_up(self, dam: Ints1, sire: Ints1, n: int) -> tuple[Ints1, Ints1, Ints1]: ...

    def fold(
        self, weight: Floats2, child: Ints1, count: Ints1, couple: Ints1, couple_dam: Ints1,
        couple_sire: Ints1, table: Floats3, start: Ints1, states: Ints1, at: Ints1,
    ) -> Floats1: ...  # fmt: skip

    def unfold(
        self, weight: Floats2, child: Ints1, couple: Ints1, couple_dam: Ints1,
        couple_sire: Ints1, table: Floats3, start: Ints1, states: Ints1, at: Ints1,
        belief: Floats1, posterior: Floats2,
    ) -> None: ...  # fmt: skip

    def trio_tables(
        self, weight: Floats2, child: Ints1, dam: Ints1, sire: Ints1, table: Floats3,
        start: Ints1, states: Ints1, at: Ints1,
    ) -> Floats1: ...  # fmt: skip


class EliminationLoops(Loops, Protocol):
    """The loops that plan which the engine calls; see `genetics.kernels.elimination`."""

    def interaction(self, factor_start: Ints1, scope: Ints1, n: int) -> tuple[Ints1, Ints1]: ...

    def label(self, starts: Ints1, neighbours: Ints1) -> Ints1: ...

    def open_way(self, asked: Ints1, shut: Bools1, starts: Ints1, neighbours: Ints1) -> Marks1: ...

    def eliminate(
        self, pair_start: Ints1, neighbours: Ints1, card: Ints1, component: Ints1,
        jitter: Floats1, limit: float, by_fill: float,
    ) -> tuple[Ints1, Ints1, Ints1, Ints1, Floats1]: ...  # fmt: skip

    def cliques(
        self, position: Ints1, order: Ints1, rows: Ints1, later: Ints1
    ) -> tuple[Ints1, Ints1, Ints1, Ints1, Ints1, Ints1]: ...

    def settle_down(
        self, parent: Ints1, start: Ints1, members: Ints1, separator: Ints1, sizes: Ints1,
        position: Ints1,
    ) -> Ints1: ...  # fmt: skip

    def move_down(
        self, home: Ints1, scope_start: Ints1, scope: Ints1, parent: Ints1, start: Ints1,
        members: Ints1, separator: Ints1, sizes: Ints1, position: Ints1,
    ) -> None: ...  # fmt: skip


class TreeLoops(Loops, Protocol):
    """The loops of the clique tree that the engine calls; see `genetics.kernels.tree`."""

    def propagate(
        self, card: Ints1, tree: Tree, children: Ints1, factors: Tables, data: Floats1,
        factor_node: Ints1, factor_order: Ints1, wanted: Tables, out: Floats1, out_node: Ints1,
        out_order: Ints1, value: Ints1, uniform: Floats2, drawn: Ints2, cells: Floats1,
        messages: Floats1, scales: Floats1, flaw: Ints1,
    ) -> None: ...  # fmt: skip

    def agrees(
        self, factor_start: Ints1, scope: Ints1, data_start: Ints1, data: Floats1, card: Ints1,
        value: Ints1,
    ) -> bool: ...  # fmt: skip


class ForecastLoops(Loops, Protocol):
    """The loops of a forecast that the engine calls; see `genetics.kernels.forecast`."""

    def run_all(
        self, genes: Genes, mind: Mind, rules: Rules, rates: Rates, hand: Hand, pen: Pen,
        room: Scratch, seed: int, reached: Ints1, trails: Ints3,
    ) -> None: ...  # fmt: skip

    def kind_of(self, mind: Mind, belief: Floats1) -> int: ...

    def choose(
        self, genes: Genes, mind: Mind, rules: Rules, pen: Pen, n: int, room: Scratch
    ) -> int: ...

    def keep(
        self, genes: Genes, mind: Mind, rules: Rules, rates: Rates, pen: Pen, n: int, room: Scratch
    ) -> int: ...
