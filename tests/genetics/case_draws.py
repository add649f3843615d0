"""Small random choices from which case files are made; all shrink to the plainest."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Any, TypeVar

from hypothesis import strategies as st

from tests.genetics.twin_genome import SEXES, Genome

T = TypeVar("T")
Draw = Callable[[st.SearchStrategy[Any]], Any]


def sometimes(draw: Draw, one_in: int = 2) -> bool:
    """True about once in `one_in`; shrinks to False."""
    return bool(draw(st.integers(0, one_in - 1)) == one_in - 1)


def pick(draw: Draw, options: Sequence[T]) -> T:
    """One of the options; shrinks to the first."""
    return options[draw(st.integers(0, len(options) - 1))]


def pick_some(draw: Draw, options: Sequence[T], most: int) -> list[T]:
    """One to `most` different options, in their order."""
    chosen = {draw(st.integers(0, len(options) - 1)) for _ in range(draw(st.integers(1, most)))}
    return [options[i] for i in sorted(chosen)]


def spelt(value: Fraction) -> int | float | str:
    """A number as a case file may hold it: exact either way."""
    if value.denominator == 1:
        return int(value)
    return float(value) if value.denominator in (2, 4, 8) else str(value)


def shares(draw: Draw, n: int) -> list[int | float | str]:
    """`n` positive probabilities that sum to one."""
    weights = [draw(st.integers(1, 3)) for _ in range(n)]
    return [spelt(Fraction(w, sum(weights))) for w in weights]


def possible_keys(genome: Genome, locus: str, sex: str) -> list[str]:
    """Every key that may be written for this sex, arrangements and unordered ones."""
    found = [genome.write_key(locus, sex, g) for g in genome.possible_alleles(locus, sex)]
    if any("|" in key for key in found):
        order = genome.alleles[locus]
        found += [f"{a}/{b}" for i, a in enumerate(order) for b in order[i:]]
    return found


def all_keys(genome: Genome, locus: str) -> list[str]:
    """Every key that may be written for an animal of some sex."""
    found = [key for sex in SEXES for key in possible_keys(genome, locus, sex)]
    return list(dict.fromkeys(found))
