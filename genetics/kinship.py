"""Kinship and inbreeding from a pedigree alone: Wright's coefficients, exact.

Kinship (coancestry) of two individuals is the chance that an allele drawn from one and an allele
drawn from the other, at the same locus, descend from one allele of a common ancestor. Founders
are unrelated and not inbred. Where the couple that bred an individual is uncertain, every
function returns the exact expectation over the candidates by their probabilities; the draws of
different litters are independent.

Pick by the question: `kinship` and `kinship_pairs` for a few pairs, `inbreeding` for everybody,
`Relationship` for columns, blocks and means over large pedigrees, `kinship_x` for the X or the Z
chromosome, `planned_inbreeding` before a mating.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from genetics._kinship_factor import Relationship
from genetics._kinship_pedigree import FEMALE, MALE, TWO_PARENTS, UNKNOWN, Couple, Pedigree
from genetics._kinship_tabular import FloatArray, inbreeding

__all__ = [
    "FEMALE",
    "MALE",
    "TWO_PARENTS",
    "UNKNOWN",
    "Couple",
    "Pedigree",
    "Relationship",
    "inbreeding",
    "kinship",
    "kinship_pairs",
    "kinship_x",
    "planned_inbreeding",
]

Pair = tuple[int, int]


class _Transmission(NamedTuple):
    """How a chromosome passes on.

    Of an individual, `dam` and `sire` are the chances that an allele drawn from it came from
    that parent, and `single` the chance that it has one copy only. `dam_self` and `sire_self`
    are the kinship with itself of an unrecorded dam and sire.
    """

    dam: Sequence[float]
    sire: Sequence[float]
    single: Sequence[float]
    dam_self: float
    sire_self: float

    @classmethod
    def autosomal(cls, n: int) -> _Transmission:
        return cls([0.5] * n, [0.5] * n, [0.0] * n, 0.5, 0.5)

    @classmethod
    def sex_linked(cls, sexes: Sequence[int], system: str) -> _Transmission:
        if system not in ("XY", "ZW"):
            raise ValueError(f'system: {system!r} is not "XY" or "ZW"')
        one_copy = MALE if system == "XY" else FEMALE
        # Unknown sex is half and half. Nobody descends from such an individual (it would be a
        # dam or a sire), so averaging its two cases here is exact.
        single = [0.5 if sex == UNKNOWN else float(sex == one_copy) for sex in sexes]
        giver = [0.5 + one / 2 for one in single]
        other = [0.5 - one / 2 for one in single]
        if system == "XY":
            return cls(giver, other, single, 0.5, 1.0)
        return cls(other, giver, single, 1.0, 0.5)


class _Recursion:
    """Kinship by recursion on the later-born of two, each pair worked out once."""

    def __init__(self, pedigree: Pedigree, transmission: _Transmission) -> None:
        self._pedigree = pedigree
        self._pass = transmission
        self._known: dict[Pair, float] = {}

    def value(self, i: int, j: int) -> float:
        """Return the kinship of a pair; the stack is ours, so depth has no limit."""
        known = self._known
        wanted = self._key(i, j)
        stack = [wanted]
        while stack:
            pair = stack[-1]
            if pair in known:
                stack.pop()
                continue
            constant, terms = self._expand(*pair)
            missing = [earlier for _, earlier in terms if earlier not in known]
            if missing:
                stack.extend(missing)
            else:
                known[pair] = constant + sum(share * known[earlier] for share, earlier in terms)
                stack.pop()
        return known[wanted]

    def _key(self, a: int, b: int) -> Pair:
        """Return the pair, the later-born first."""
        return (a, b) if self._pedigree.rank[a] >= self._pedigree.rank[b] else (b, a)

    def _expand(self, late: int, early: int) -> tuple[float, list[tuple[float, Pair]]]:
        """Return the kinship of a pair as a constant and shares of earlier pairs' kinship."""
        if late == early:
            return self._expand_self(late)
        litter = self._pedigree.litter
        if litter[late] == litter[early] != -1:
            return self._expand_mates(late, early)
        terms = []
        for dam, sire, p, _ in self._pedigree.couples[late]:
            for parent, share in ((dam, self._pass.dam[late]), (sire, self._pass.sire[late])):
                if parent >= 0 and share:
                    terms.append((p * share, self._key(parent, early)))
        return 0.0, terms

    def _expand_self(self, i: int) -> tuple[float, list[tuple[float, Pair]]]:
        """One copy meets itself; of two, drawn twice, the same one half of the time."""
        double = 1.0 - self._pass.single[i]
        constant, terms = 1.0 - double / 2, []
        for couple in self._pedigree.couples[i] if double else ():
            dam, sire, p = couple[:3]
            # The inbreeding of the young is linear in the kinship of the parents.
            none, slope = couple.inbreeding(0.0), couple.inbreeding(1.0) - couple.inbreeding(0.0)
            constant += double * p / 2 * none
            if min(dam, sire) >= 0:
                terms.append((double * p / 2 * slope, self._key(dam, sire)))
            elif couple.alone:
                constant += double * p / 2 * slope * self._pass.dam_self
        return constant, [(share, pair) for share, pair in terms if share]

    def _expand_mates(self, a: int, b: int) -> tuple[float, list[tuple[float, Pair]]]:
        """Litter-mates share the draw: average, over the couples, what the parents make of it."""
        by = self._pass
        from_dam, from_sire = by.dam[a] * by.dam[b], by.sire[a] * by.sire[b]
        across = by.dam[a] * by.sire[b] + by.sire[a] * by.dam[b]
        constant = 0.0
        terms = []
        for dam, sire, p, retained in self._pedigree.couples[a]:
            if dam == sire == -1 and retained != TWO_PARENTS:
                constant += p * (from_dam + from_sire + across) * by.dam_self
                continue
            for parent, share, unrecorded in (
                (dam, p * from_dam, by.dam_self),
                (sire, p * from_sire, by.sire_self),
            ):
                if parent >= 0:
                    terms.append((share, (parent, parent)))
                else:
                    constant += share * unrecorded
            if min(dam, sire) >= 0:
                terms.append((p * across, self._key(dam, sire)))
        return constant, [(share, pair) for share, pair in terms if share]


def _evaluate(pedigree: Pedigree, pairs: Iterable[Pair], transmission: _Transmission) -> FloatArray:
    recursion = _Recursion(pedigree, transmission)
    checked = [(pedigree.check_individual(i), pedigree.check_individual(j)) for i, j in pairs]
    return np.array([recursion.value(i, j) for i, j in checked], dtype=np.float64)


def kinship(pedigree: Pedigree, i: int, j: int) -> float:
    r"""Return Wright's coefficient of kinship of two individuals.

    With i the later-born, its candidate couples (d_k, s_k) of probability p_k:

    .. math::

        \varphi(i, i) &= \tfrac12 \Big(1 + \sum_k p_k \, \varphi(d_k, s_k)\Big) \\
        \varphi(i, j) &= \tfrac12 \sum_k p_k \,
            \big(\varphi(d_k, j) + \varphi(s_k, j)\big) \\
        \varphi(i, j) &= \tfrac14 \sum_k p_k \, \big(\varphi(d_k, d_k)
            + 2 \varphi(d_k, s_k) + \varphi(s_k, s_k)\big)
            \quad\text{for members of one litter}

    Parameters
    ----------
    pedigree : Pedigree
    i, j : int
        Individuals, 0 to n - 1; they may be the same.

    Returns
    -------
    float
        From 0 to 1. Exact (no rounding) in pedigrees of certain couples up to 25 generations.

    Raises
    ------
    ValueError
        If there is no such individual.

    Notes
    -----
    Visits only pairs of ancestors, each once; at worst the square of their number. For thousands
    of ancestors `Relationship.kinship_to` is faster.

    References
    ----------
    Wright, S. (1922). Coefficients of inbreeding and relationship. American Naturalist
    56: 330-338. The recursion: Karigl, G. (1981). A recursive algorithm for the calculation of
    identity coefficients. Annals of Human Genetics 45: 299-305.

    Examples
    --------
    Full sibs, and half sibs:

    >>> pedigree = Pedigree.from_parents(dam=[-1, -1, -1, 0, 0, 2], sire=[-1, -1, -1, 1, 1, 1])
    >>> kinship(pedigree, 3, 4), kinship(pedigree, 3, 5)
    (0.25, 0.125)

    Two litter-mates whose sire is 1 or 2, half and half, are full sibs all the same; two
    individuals with separate draws need not be:

    >>> couples = [[], [], []] + [[(0, 1, 0.5), (0, 2, 0.5)]] * 2
    >>> kinship(Pedigree.from_couples(couples, litter=[-1, -1, -1, 0, 0]), 3, 4)
    0.25
    >>> kinship(Pedigree.from_couples(couples), 3, 4)
    0.1875
    """
    return float(_evaluate(pedigree, [(i, j)], _Transmission.autosomal(len(pedigree)))[0])


def kinship_pairs(pedigree: Pedigree, pairs: Iterable[Pair]) -> FloatArray:
    """Return Wright's coefficient of kinship of several pairs, sharing the work.

    Parameters
    ----------
    pedigree : Pedigree
    pairs : iterable of (int, int)

    Returns
    -------
    ndarray of float64, shape (number of pairs,)
        What `kinship` gives for each pair, in order.

    Raises
    ------
    ValueError
        If there is no such individual.

    Examples
    --------
    >>> pedigree = Pedigree.from_parents(dam=[-1, -1, 0], sire=[-1, -1, 1])
    >>> kinship_pairs(pedigree, [(0, 1), (0, 2), (2, 2)])
    array([0.  , 0.25, 0.5 ])
    """
    return _evaluate(pedigree, pairs, _Transmission.autosomal(len(pedigree)))


def kinship_x(pedigree: Pedigree, pairs: Iterable[Pair], system: str = "XY") -> FloatArray:
    r"""Return the kinship of pairs at a locus of the X (or Z) chromosome alone.

    An individual of the homogametic sex averages its parents, as on an autosome; one of the
    heterogametic sex has a single copy, from its dam in XY and from its sire in ZW:

    .. math::

        \varphi_X(i, j) = \varphi_X(x_i, j), \quad \varphi_X(i, i) = 1
        \quad\text{for i heterogametic and } x_i \text{ the giver of its X}

    An individual of unknown sex that is nobody's dam or sire is of either sex half and half.

    Parameters
    ----------
    pedigree : Pedigree
    pairs : iterable of (int, int)
    system : {"XY", "ZW"}
        XY: females are homogametic (XX). ZW: males are (ZZ).

    Returns
    -------
    ndarray of float64, shape (number of pairs,)
        From 0 to 1.

    Raises
    ------
    ValueError
        If the system is another, there is no such individual, or an individual of unknown sex
        is named as a dam and as a sire or has a dam alone as one of several candidates.

    References
    ----------
    Grossman, M. and Eisen, E. J. (1989). Inbreeding, coancestry, and covariance between
    relatives for X-chromosomal loci. Journal of Heredity 80: 137-142.

    Examples
    --------
    Mother and son, father and son, sisters:

    >>> pedigree = Pedigree.from_parents(
    ...     dam=[-1, -1, 0, 0, 0], sire=[-1, -1, 1, 1, 1], sex=[0, 1, 1, 0, 0])
    >>> kinship_x(pedigree, [(0, 2), (1, 2), (3, 4)])
    array([0.5  , 0.   , 0.375])
    """
    sexes = list(pedigree.separate_sexes())
    for i, couples in enumerate(pedigree.couples):
        if all(couple.alone for couple in couples):
            # Young of a dam alone have two copies: daughters of XX, sons of ZW.
            sexes[i] = FEMALE if system == "XY" else MALE
        elif sexes[i] == UNKNOWN and any(couple.alone for couple in couples):
            raise ValueError(f"individual {i} of unknown sex may have a dam alone")
    return _evaluate(pedigree, pairs, _Transmission.sex_linked(sexes, system))


def planned_inbreeding(pedigree: Pedigree, dam: int, sire: int) -> float:
    r"""Return the inbreeding coefficient that offspring of a planned mating would have.

    .. math:: F = \varphi(\text{dam}, \text{sire})

    Parameters
    ----------
    pedigree : Pedigree
    dam, sire : int
        Individuals, 0 to n - 1.

    Returns
    -------
    float
        From 0 to 1.

    Raises
    ------
    ValueError
        If there is no such individual, the dam is known to be male or the sire to be female.

    References
    ----------
    Wright, S. (1922). Coefficients of inbreeding and relationship. American Naturalist
    56: 330-338.

    Examples
    --------
    A son back to his mother:

    >>> pedigree = Pedigree.from_parents(dam=[-1, -1, 0], sire=[-1, -1, 1])
    >>> planned_inbreeding(pedigree, dam=0, sire=2)
    0.25
    """
    for role, individual, wrong, name in (
        ("dam", dam, MALE, "male"),
        ("sire", sire, FEMALE, "female"),
    ):
        if pedigree.sex[pedigree.check_individual(individual)] == wrong:
            raise ValueError(f"{role}: individual {individual} is {name}")
    return kinship(pedigree, dam, sire)
