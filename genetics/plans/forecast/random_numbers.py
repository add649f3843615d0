"""Random numbers that are the same on every machine, each known by what it is for.

A number depends on the seed, on what it is for and on the run alone, so that forecasts that differ
in one rule meet the same luck as far as they can: common random numbers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from genetics.arrays import Floats1, Floats2
from genetics.kernels.forecast import LOW, mix, stir


@dataclass(frozen=True)
class Stream:
    """Numbers under a key of 32 bits."""

    key: int

    @classmethod
    def of(cls, seed: int) -> Stream:
        """The stream of a seed, of any size."""
        key = mix(0x5EED)
        while True:
            key = stir(key, seed & LOW)
            seed >>= 32
            if seed in (0, -1):
                return cls(stir(key, seed & 1))

    def under(self, purpose: str) -> Stream:
        """The stream of one purpose."""
        key = self.key
        for letter in purpose.encode():
            key = stir(key, letter)
        return Stream(key)

    def numbers(self, purpose: str, count: int) -> Floats1:
        """So many numbers between 0 and 1."""
        counters = np.arange(count, dtype=np.uint64)
        return _uniform(np.uint64(self.under(purpose).key), counters)

    def table(self, rows: int, columns: int) -> Floats2:
        """Numbers between 0 and 1; a row does not depend on how many there are."""
        keys = _stirred(np.uint64(self.key), np.arange(rows, dtype=np.uint64))
        counters = np.arange(columns, dtype=np.uint64)
        return _uniform(keys[:, None], counters[None, :])


def _stirred(
    key: NDArray[np.uint64] | np.uint64, counter: NDArray[np.uint64]
) -> NDArray[np.uint64]:
    """As `genetics.kernels.forecast.stir`, of many at once."""
    low = np.uint64(LOW)
    x = (key + counter * np.uint64(0x9E3779B1)) & low
    x = ((x ^ (x >> np.uint64(16))) * np.uint64(0x21F0AAAD)) & low
    x = ((x ^ (x >> np.uint64(15))) * np.uint64(0x735A2D97)) & low
    found: NDArray[np.uint64] = x ^ (x >> np.uint64(15))
    return found


def _uniform(
    key: NDArray[np.uint64] | np.uint64, counter: NDArray[np.uint64]
) -> NDArray[np.float64]:
    found: NDArray[np.float64] = (_stirred(key, counter).astype(np.float64) + 0.5) / 4294967296.0
    return found
