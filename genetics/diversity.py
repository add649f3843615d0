r"""Genetic diversity of a group from the pedigree alone: founders, their shares, mean kinship.

A group is given by weights, one an individual: 1 for each living member, or the chance that it
belongs. Everything is exact, the expectation over candidates of uncertain parentage included; no
genes are dropped. Founders are those without recorded parents; an unrecorded parent is a founder of
its own. Founders are unrelated and not inbred.

`Diversity` answers for whole groups, `pair_inbreeding` for pairs, `effective_size` for a trend.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from genetics._kinship_factor import Relationship
from genetics._kinship_pedigree import Couple, Pedigree
from genetics._kinship_tabular import FloatArray

__all__ = ["Diversity", "effective_size", "pair_inbreeding", "with_founders"]

FOUNDER = (Couple(-1, -1),)


def with_founders(pedigree: Pedigree) -> Pedigree:
    """Return the pedigree with each unrecorded parent as an individual, after all others.

    An unrecorded parent is one for its young alone or, in a litter, one per litter and role, as in
    `Pedigree`. An individual without any parent stays as it is.

    Examples
    --------
    A young of a recorded dam, and a founder:

    >>> with_founders(Pedigree.from_parents(dam=[-1, 0], sire=[-1, -1])).couples[1]
    (Couple(dam=0, sire=2, p=1.0, retained=-1.0),)
    """
    sizes = Counter(number for number in pedigree.litter if number >= 0)
    couples: list[tuple[Couple, ...]] = list(pedigree.couples)
    made: dict[tuple[str, int, str], int] = {}

    def parent(recorded: int, individual: int, role: str) -> int:
        if recorded >= 0:
            return recorded
        number = pedigree.litter[individual]
        key = ("litter", number, role) if number >= 0 else ("young", individual, role)
        return made.setdefault(key, len(pedigree) + len(made))

    for i, row in enumerate(pedigree.couples):
        if row == FOUNDER and sizes[pedigree.litter[i]] < 2:
            continue
        told = []
        for one in row:
            dam = parent(one.dam, i, "dam")
            told.append(
                one._replace(dam=dam, sire=dam if one.alone else parent(one.sire, i, "sire"))
            )
        couples[i] = tuple(told)
    if not made:
        return pedigree
    return Pedigree(
        (*couples, *[FOUNDER] * len(made)),
        (*pedigree.sex, *[2] * len(made)),
        (*pedigree.litter, *[-1] * len(made)),
    )


class Diversity:
    r"""What groups of a pedigree have of their founders' genes.

    Parameters
    ----------
    pedigree : Pedigree
        Of n individuals.

    Attributes
    ----------
    pedigree : Pedigree
        With the m unrecorded parents as individuals n to n + m - 1.
    founders : ndarray of int
        Those without parents, recorded or not, in ascending order.
    inbreeding : ndarray of float64, shape (n,)
        Wright's coefficient of each individual.

    Notes
    -----
    Building costs a tabular pass, two where parentage is uncertain; every question after that is
    O(n) for each group, whatever its size. Groups are given as weights of shape (n,), or (n, k) for
    k groups at once; each needs a weight above 0. Every method raises ValueError if weights have
    another shape, are negative or not finite, or sum to 0.

    References
    ----------
    Lacy, R. C. (1989). Analysis of founder representation in pedigrees: founder equivalents and
    founder genome equivalents. Zoo Biology 8: 111-123 (quoted from memory).
    Lacy, R. C. (1995). Clarification of genetic terms and their use in the management of captive
    populations. Zoo Biology 14: 565-577 (quoted from memory).
    Ballou, J. D. and Lacy, R. C. (1995). Identifying genetically important individuals for
    management of genetic variation in pedigreed populations. In Population Management for Survival
    and Recovery, Columbia University Press, 76-111 (quoted from memory).

    Examples
    --------
    Two founders and their four young, who are alive:

    >>> sibs = Pedigree.from_parents(dam=[-1, -1, 0, 0, 0, 0], sire=[-1, -1, 1, 1, 1, 1])
    >>> family, living = Diversity(sibs), [0, 0, 1, 1, 1, 1]
    >>> family.contributions(living)
    array([0.5, 0.5])
    >>> float(family.founder_equivalents(living)), float(family.genome_equivalents(living))
    (2.0, 1.6)
    """

    def __init__(self, pedigree: Pedigree) -> None:
        self._recorded = len(pedigree)
        self.pedigree = with_founders(pedigree)
        self._kinship = Relationship(self.pedigree)
        certain = all(len(row) == 1 for row in self.pedigree.couples)
        self._shares = None if certain else Relationship(self.pedigree, sampling=False)
        sizes = Counter(number for number in self.pedigree.litter if number >= 0)
        self.founders: NDArray[np.intp] = np.array(
            [
                i
                for i, row in enumerate(self.pedigree.couples)
                if row == FOUNDER and sizes[self.pedigree.litter[i]] < 2
            ],
            dtype=np.intp,
        )
        self.inbreeding: FloatArray = self._kinship.inbreeding[: self._recorded]

    def __len__(self) -> int:
        """Return n, the number of recorded individuals."""
        return self._recorded

    def contributions(self, weights: ArrayLike) -> FloatArray:
        r"""Return the part of a group's genes that is expected to come from each founder.

        .. math:: p_f = \sum_i w_i \, g_{if} \Big/ \sum_i w_i

        with g the expected share of the founder in an individual: the mean of its parents'.

        Returns
        -------
        ndarray of float64, shape (number of founders,) or (number of founders, k)
            In the order of `founders`; they sum to 1.
        """
        return self._kinship.descent(self._normalised(weights))[self.founders]

    def founder_equivalents(self, weights: ArrayLike) -> FloatArray:
        r"""Return how many founders, contributing equally, would give as even a group.

        .. math:: f_e = 1 \Big/ \mathrm{E} \sum_f p_f^2

        The expectation is over who the parents are; where that is certain this is Lacy's figure.
        The mean of the sum of squares, not the square of the mean: uncertain parentage is not
        taken for a mixture of the candidates, so the figure is never too high.

        Returns
        -------
        ndarray of float64, shape () or (k,)
            From 1 to the number of founders that contribute.
        """
        if self._shares is None:
            even: FloatArray = (self.contributions(weights) ** 2).sum(axis=0)
        else:
            even = self._shares.quadratic(self._normalised(weights))
        found: FloatArray = 1.0 / even
        return found

    def genome_equivalents(self, weights: ArrayLike) -> FloatArray:
        r"""Return how many founders' whole genomes, none lost, would be as diverse as the group.

        .. math:: f_g = 1 \big/ (2 \, \overline{mk})

        with the mean kinship of the group, self included. Lacy (1989) counts retained alleles by
        dropping genes; by mean kinship (Lacy 1995) it is exact: the expected homozygosity by
        descent of a random draw of two alleles, as of that many founders.

        Returns
        -------
        ndarray of float64, shape () or (k,)
            From 1/2 (all inbred to one allele) to the number of founders.
        """
        found: FloatArray = 1.0 / self._kinship.quadratic(self._normalised(weights))
        return found

    def mean_kinship(self, weights: ArrayLike) -> FloatArray:
        r"""Return the mean kinship within a group, over all ordered pairs and selves.

        .. math:: \overline{mk} = \sum_{ij} w_i w_j \varphi(i, j) \Big/ \Big(\sum_i w_i\Big)^2

        1 less that is the gene diversity that is left of the population which the founders were
        drawn from (Lacy 1995).

        Returns
        -------
        ndarray of float64, shape () or (k,)
            From 0 (exclusive) to 1.
        """
        found: FloatArray = self._kinship.quadratic(self._normalised(weights)) / 2
        return found

    def mean_kinships(self, weights: ArrayLike) -> FloatArray:
        r"""Return the mean kinship of every individual with a group, self included if it is of it.

        .. math:: mk_i = \sum_j w_j \varphi(i, j) \Big/ \sum_j w_j

        Returns
        -------
        ndarray of float64, shape (n,) or (n, k)
        """
        found: FloatArray = self._kinship.matvec(self._normalised(weights)) / 2
        return found[: self._recorded]

    def mean_between(self, weights: ArrayLike, others: ArrayLike) -> float:
        """Return the mean kinship of the members of one group with those of another."""
        one, other = self._normalised(weights), self._normalised(others)
        if one.ndim != 1 or other.ndim != 1:
            raise ValueError("give one group and one other")
        return float(one @ self._kinship.matvec(other)) / 2

    def pair_inbreeding(self, dams: Sequence[int], sires: Sequence[int]) -> FloatArray:
        r"""Return the inbreeding that young of each possible pair would have.

        .. math:: F_{ds} = \varphi(d, s)

        Returns
        -------
        ndarray of float64, shape (number of dams, number of sires)

        Raises
        ------
        ValueError
            If there is no such individual.
        """
        return pair_inbreeding(self._kinship, dams, sires)

    def _normalised(self, weights: ArrayLike) -> FloatArray:
        given = np.asarray(weights, dtype=np.float64)
        if given.ndim not in (1, 2) or len(given) != self._recorded:
            raise ValueError(
                f"weights have shape {given.shape}; give ({self._recorded},) or "
                f"({self._recorded}, k)"
            )
        if not (np.isfinite(given) & (given >= 0)).all():
            raise ValueError("weights: one is not a number of 0 or more")
        total = given.sum(axis=0)
        if not (total > 0).all():
            raise ValueError("a group is empty: give each at least one weight above 0")
        found = np.zeros((len(self.pedigree), *given.shape[1:]))
        found[: self._recorded] = given / total
        return found


def pair_inbreeding(
    relationship: Relationship, dams: Sequence[int], sires: Sequence[int]
) -> FloatArray:
    """Return the kinship of each of some individuals with each of others.

    Costs a column for each of the fewer of the two.

    Returns
    -------
    ndarray of float64, shape (number of dams, number of sires)

    Raises
    ------
    ValueError
        If there is no such individual.
    """
    if len(dams) < len(sires):
        return pair_inbreeding(relationship, sires, dams).T
    found = np.zeros((len(dams), len(sires)))
    rows = np.array(dams, dtype=np.intp)
    for place, sire in enumerate(sires):
        found[:, place] = relationship.kinship_to(sire)[rows]
    return found


def effective_size(
    times: Sequence[float], inbreeding: Sequence[float], *, generation: float
) -> float | None:
    r"""Return the effective size that makes inbreeding rise as it did; None if it did not rise.

    .. math:: N_e = \frac{1}{2 \Delta F}, \qquad 1 - F_t = (1 - \Delta F)^{t / L}

    The rate is that of the straight line fitted by least squares to log(1 - F) over time.

    Parameters
    ----------
    times : sequence of float
        When each young hatched, in any unit.
    inbreeding : sequence of float
        Their coefficients, from 0 to below 1.
    generation : float
        L, the mean age of parents when their young hatch, in the same unit; above 0.

    Returns
    -------
    float or None
        None also where all hatched at one time, or only one did.

    Raises
    ------
    ValueError
        If the lengths differ, an F is out of its range, or the generation is not above 0.

    References
    ----------
    Falconer, D. S. and Mackay, T. F. C. (1996). Introduction to Quantitative Genetics, 4th edition,
    Longman, chapter 4 (quoted from memory).

    Examples
    --------
    Inbreeding that rises by 1/20 of what is left in each generation of 2 years:

    >>> round(effective_size([0, 2, 4], [0.0, 0.05, 0.0975], generation=2), 6)
    10.0
    """
    if len(times) != len(inbreeding):
        raise ValueError(f"{len(times)} times and {len(inbreeding)} coefficients; give one each")
    if not generation > 0:
        raise ValueError(f"generation: {generation} is not above 0")
    at = np.asarray(times, dtype=np.float64)
    f = np.asarray(inbreeding, dtype=np.float64)
    if not ((f >= 0) & (f < 1)).all():
        raise ValueError("inbreeding: one is not from 0 to below 1")
    if len(at) < 2:
        return None
    centred = at - at.mean()
    spread = float(centred @ centred)
    if spread <= 0:
        return None
    slope = float(centred @ np.log1p(-f)) / spread
    rate = -math.expm1(slope * generation)
    return 1 / (2 * rate) if rate > 1e-12 else None
