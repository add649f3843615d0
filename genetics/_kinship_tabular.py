"""Inbreeding of everybody at once, by the tabular method without its table."""

from __future__ import annotations

from collections import Counter
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from genetics._kinship_pedigree import Couple, Pedigree

FloatArray = NDArray[np.float64]


class _Window:
    """The kinship matrix of those who are still to become parents, rows reused when done with."""

    def __init__(self) -> None:
        self._phi: FloatArray = np.zeros((64, 64))
        self._slots: dict[int, int] = {}
        self._free: list[int] = []
        self._extent = 0

    def __contains__(self, individual: int) -> bool:
        return individual in self._slots

    def slot(self, individual: int) -> int:
        return self._slots[individual]

    def between(self, a: int, b: int) -> float:
        """Return the kinship of two individuals, 0 if one is unrecorded (-1)."""
        if a < 0 or b < 0:
            return 0.0
        return float(self._phi[self._slots[a], self._slots[b]])

    def itself(self, a: int) -> float:
        """Return the kinship of an individual with itself, 1/2 for an unrecorded founder."""
        return 0.5 if a < 0 else self.between(a, a)

    def mixture(self, weights: dict[int, float]) -> FloatArray:
        """Return the kinship of a weighted mean of individuals with every slot."""
        row = np.zeros(self._extent)
        for individual, weight in weights.items():
            row += weight * self._phi[self._slots[individual], : self._extent]
        return row

    def admit(self, individual: int, row: FloatArray, own: float) -> None:
        """Give the individual a slot. Stale entries of freed slots stay until overwritten here."""
        if self._free:
            slot = self._free.pop()
        else:
            slot = self._extent
            self._extent += 1
            if slot == len(self._phi):
                self._phi = np.pad(self._phi, (0, slot))
        self._slots[individual] = slot
        self._phi[slot, : len(row)] = row
        self._phi[: len(row), slot] = row
        self._phi[slot, slot] = own

    def release(self, individual: int) -> None:
        self._free.append(self._slots.pop(individual))


class _Family(NamedTuple):
    """What all individuals with the same candidate couples have in common.

    `weights` of the recorded parents in the mean of the offspring; `inbreeding`, the mean kinship
    of the couples; `between`, the kinship of two sibs that share the draw; `mean`, that of two
    that do not.
    """

    weights: dict[int, float]
    inbreeding: float
    between: float
    mean: float

    @classmethod
    def of(cls, couples: tuple[Couple, ...], window: _Window) -> _Family:
        weights: dict[int, float] = {}
        inbreeding = between = 0.0
        for couple in couples:
            dam, sire, p = couple[:3]
            for parent in (dam, sire):
                if parent >= 0:
                    weights[parent] = weights.get(parent, 0.0) + p / 2
            across = window.itself(dam) if couple.alone else window.between(dam, sire)
            inbreeding += p * couple.inbreeding(across)
            between += p * (window.itself(dam) + 2 * across + window.itself(sire)) / 4
        row = window.mixture(weights)
        mean = sum(weight * row[window.slot(parent)] for parent, weight in weights.items())
        return cls(weights, inbreeding, between, float(mean))


class Sweep:
    """One pass down the pedigree by the tabular method, keeping only rows that are still needed.

    A row and a column of the kinship matrix serve only to find the kinship of an individual's
    future mates, so they go when its last offspring has come. `inbreeding` has shape (n,);
    `residual`, the variance (on the scale of A) that each individual adds to its mean of parents
    or litter; `shared`, by litter of two or more, what the draw of the couple adds.

    Without `sampling` what is compared is not alleles but expected shares of founders, and halving
    them adds nothing: the kinship of two is half the sum, over the founders, of the product of
    their shares, expected over who the parents are. `inbreeding` means nothing then.
    """

    def __init__(self, pedigree: Pedigree, *, sampling: bool = True) -> None:
        self.inbreeding: FloatArray = np.zeros(len(pedigree))
        self.residual: FloatArray = np.ones(len(pedigree))
        self.shared: dict[int, float] = {}
        self._pedigree = pedigree
        self._sampling = sampling
        self._window = _Window()
        self._families: dict[tuple[Couple, ...], _Family] = {}
        sizes = Counter(number for number in pedigree.litter if number >= 0)
        self._litters: dict[int, list[int]] = {k: [] for k, size in sizes.items() if size > 1}
        named = [{x for c in couples for x in c[:2] if x >= 0} for couples in pedigree.couples]
        self._due = Counter(parent for parents in named for parent in parents)
        for individual in pedigree.order:
            alone = any(couple.alone for couple in pedigree.couples[individual])
            if alone or pedigree.level[individual] or pedigree.litter[individual] in self._litters:
                self._visit(individual, named[individual])

    def _visit(self, individual: int, parents: set[int]) -> None:
        # A founder outside litters is unrelated to all before its first offspring: let it wait.
        for parent in parents:
            if parent not in self._window:
                self._window.admit(parent, self._window.mixture({}), 0.5)
        couples = self._pedigree.couples[individual]
        family = self._families.get(couples)
        if family is None:
            family = self._families[couples] = _Family.of(couples, self._window)
        self.inbreeding[individual] = family.inbreeding
        number = self._pedigree.litter[individual]
        mates = self._litters.get(number)
        ahead = family.mean if mates is None else family.between
        own = (1 + family.inbreeding) / 2 if self._sampling else family.between
        self.residual[individual] = 2 * (own - ahead)
        if mates is not None:
            self.shared[number] = 2 * (family.between - family.mean)  # nought for a certain couple
        if self._due[individual]:
            row = self._window.mixture(family.weights)
            for mate in mates or ():
                row[self._window.slot(mate)] = family.between
            self._window.admit(individual, row, own)
            if mates is not None:
                mates.append(individual)
        for parent in parents:
            self._due[parent] -= 1
            if not self._due[parent]:
                self._window.release(parent)


def inbreeding(pedigree: Pedigree) -> FloatArray:
    r"""Return the inbreeding coefficient of every individual.

    .. math:: F_i = \sum_k p_k \, \varphi(d_k, s_k)

    The kinship of each couple is read from a tabular pass whose rows are dropped as soon as an
    individual has had its last offspring: time is O(n w) in NumPy and memory 8 w^2 bytes at
    most, where w is the largest number of parents needed at one time.

    Parameters
    ----------
    pedigree : Pedigree

    Returns
    -------
    ndarray of float64, shape (n,)
        Values from 0 to 1; 0 for founders.

    References
    ----------
    Emik, L. O. and Terrill, C. E. (1949). Systematic procedures for calculating inbreeding
    coefficients. Journal of Heredity 40: 51-55.

    Examples
    --------
    Offspring of full sibs:

    >>> inbreeding(Pedigree.from_parents(dam=[-1, -1, 0, 0, 2], sire=[-1, -1, 1, 1, 3]))
    array([0.  , 0.  , 0.  , 0.  , 0.25])
    """
    return Sweep(pedigree).inbreeding
