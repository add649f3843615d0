"""The relationship matrix in factored form: products, means, columns and blocks without it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from genetics._kinship_pedigree import Pedigree
from genetics._kinship_tabular import FloatArray, Sweep

_BLOCK = 256
"""Columns that are solved for at once; bounds the working memory to n x 256 numbers."""


class _Step(NamedTuple):
    """One level of a triangular solve: `x[target] += sums of weight * x[source]`."""

    target: NDArray[np.intp]
    starts: NDArray[np.intp]
    source: NDArray[np.intp]
    weight: FloatArray

    @classmethod
    def gather(
        cls, target: NDArray[np.intp], source: NDArray[np.intp], weight: FloatArray
    ) -> _Step:
        by_target = np.argsort(target, kind="stable")
        targets, starts = np.unique(target[by_target], return_index=True)
        return cls(targets, starts, source[by_target], weight[by_target])

    def apply(self, x: FloatArray) -> None:
        terms = self.weight[:, np.newaxis] * x[self.source]
        x[self.target] += np.add.reduceat(terms, self.starts, axis=0)


class Relationship:
    r"""The additive relationship matrix A = 2 phi in factored form, never written out.

    .. math:: A = T D T', \qquad T = (I - P)^{-1}

    P holds the share of each parent (1/2 for a certain one, half its probability otherwise) and
    the diagonal D what an individual adds of its own. Litter-mates with one uncertain couple
    would spoil the diagonal; each litter of two or more gets a node of its own between the
    candidates and the members, which carries the shared draw (and shared unrecorded parents).

    Parameters
    ----------
    pedigree : Pedigree
    sampling : bool, optional
        Without the Mendelian sampling of alleles each individual is the mean of its parents. The
        matrix then holds, for every two, the sum over the founders of the product of the shares
        that each has of the founder, expected over who the parents are.

    Notes
    -----
    Building costs what `inbreeding` costs; every product with a vector is O(n) after that, with
    one NumPy step per level of the pedigree.

    References
    ----------
    Henderson, C. R. (1976). A simple method for computing the inverse of a numerator relationship
    matrix used in prediction of breeding values. Biometrics 32: 69-83.
    Henderson, C. R. (1988). Use of an average numerator relationship matrix for multiple-sire
    joining. Journal of Animal Science 66: 1614-1621.

    Examples
    --------
    >>> sibs = Relationship(Pedigree.from_parents(dam=[-1, -1, 0, 0], sire=[-1, -1, 1, 1]))
    >>> sibs.kinship_to(2)
    array([0.25, 0.25, 0.5 , 0.25])
    >>> sibs.matvec([0.0, 0.0, 1.0, 1.0])
    array([1. , 1. , 1.5, 1.5])
    """

    def __init__(self, pedigree: Pedigree, *, sampling: bool = True) -> None:
        sweep = Sweep(pedigree, sampling=sampling)
        self._pedigree = pedigree
        self._variances, self._down, self._up = _factor(pedigree, sweep)
        self.inbreeding = sweep.inbreeding

    def __len__(self) -> int:
        """Return n, the number of individuals."""
        return len(self._pedigree)

    def matvec(self, x: ArrayLike) -> FloatArray:
        """Return A x by two triangular solves, without A.

        x has shape (n,), or (n, k) for k vectors at once; so has the result.

        Raises ValueError if the first axis of x is not n long.

        Reference: Colleau, J.-J. (2002). An indirect approach to the extensive calculation of
        relationship coefficients. Genetics Selection Evolution 34: 409-421.
        """
        vector, nodes = self._gathered(x)
        nodes *= self._variances[:, np.newaxis]
        for step in self._down:
            step.apply(nodes)
        return nodes[: len(self)].reshape(vector.shape)

    def quadratic(self, x: ArrayLike) -> FloatArray:
        """Return x' A x, of shape (), or (k,) for k vectors of shape (n, k); one solve.

        Raises ValueError if the first axis of x is not n long.
        """
        vector, nodes = self._gathered(x)
        found: FloatArray = (nodes**2 * self._variances[:, np.newaxis]).sum(axis=0)
        return found.reshape(vector.shape[1:])

    def descent(self, x: ArrayLike) -> FloatArray:
        """Return how much of what is in x came through each individual: T' x, shaped like x.

        Of x, the shares of some individuals in a group, what stands at a founder is the part of
        the group's genes that is expected to come from it.

        Raises ValueError if the first axis of x is not n long.
        """
        vector, nodes = self._gathered(x)
        return nodes[: len(self)].reshape(vector.shape)

    def _gathered(self, x: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return x as numbers, and T' x of all nodes in columns."""
        vector = np.asarray(x, dtype=np.float64)
        n = len(self)
        if vector.ndim not in (1, 2) or len(vector) != n:
            raise ValueError(f"x has shape {vector.shape}; give ({n},) or ({n}, k)")
        columns = vector.shape[1] if vector.ndim == 2 else 1
        nodes = np.zeros((len(self._variances), columns))
        nodes[:n] = vector.reshape(n, columns)
        for step in self._up:
            step.apply(nodes)
        return vector, nodes

    def mean_kinship(
        self, group: Sequence[int] | None = None, *, weights: ArrayLike | None = None
    ) -> FloatArray:
        r"""Return the mean kinship of every individual with a group.

        .. math:: m_i = \sum_j w_j \, \varphi(i, j) \Big/ \sum_j w_j

        A member's kinship with itself counts too, as is the custom.

        Parameters
        ----------
        group : sequence of int, optional
            Different individuals, each of weight 1. Without group or weights: all of them.
        weights : array_like of float, shape (n,), optional
            Weights of 0 or more, not all 0; instead of `group`.

        Returns
        -------
        ndarray of float64, shape (n,)

        Raises
        ------
        ValueError
            If both are given, the group is empty, names somebody twice or somebody unknown, or
            the weights have another shape, are negative or not finite, or sum to 0.

        References
        ----------
        Ballou, J. D. and Lacy, R. C. (1995). Identifying genetically important individuals for
        management of genetic variation in pedigreed populations. In Population Management for
        Survival and Recovery, Columbia University Press, 76-111 (quoted from memory).

        Examples
        --------
        >>> trio = Relationship(Pedigree.from_parents(dam=[-1, -1, 0], sire=[-1, -1, 1]))
        >>> trio.mean_kinship([0, 1])
        array([0.25, 0.25, 0.25])
        """
        if group is not None and weights is not None:
            raise ValueError("give a group or weights, not both")
        if weights is None:
            vector = self._group_weights(range(len(self)) if group is None else group)
        else:
            vector = np.asarray(weights, dtype=np.float64)
        if vector.shape != (len(self),):
            raise ValueError(f"weights have shape {vector.shape}; give ({len(self)},)")
        bad = np.flatnonzero(~(np.isfinite(vector) & (vector >= 0)))
        if bad.size:
            raise ValueError(f"weights[{bad[0]}]: {vector[bad[0]]} is not a number of 0 or more")
        total = float(vector.sum())
        if not total > 0:
            raise ValueError("the group is empty: give at least one weight above 0")
        return self.matvec(vector) / (2 * total)

    def kinship_to(self, individual: int) -> FloatArray:
        """Return the kinship of every individual with one: a column of phi = A / 2, shape (n,).

        Raises ValueError if there is no such individual.
        """
        return next(self._columns([individual]))[:, 0]

    def kinship_among(self, individuals: Sequence[int]) -> FloatArray:
        """Return the dense matrix of kinship of k individuals, in their order, shape (k, k).

        The diagonal holds (1 + F) / 2. Costs O(n k) time and memory O(k^2 + 256 n).
        Raises ValueError if there is no such individual.
        """
        chosen = np.array([self._pedigree.check_individual(i) for i in individuals], dtype=np.intp)
        blocks = [block[chosen] for block in self._columns(individuals)]
        matrix = np.hstack(blocks) if blocks else np.zeros((0, 0))
        symmetric: FloatArray = (matrix + matrix.T) / 2  # the halves may differ by rounding
        return symmetric

    def _columns(self, individuals: Sequence[int]) -> Iterator[FloatArray]:
        """Yield the columns of phi of the individuals, some at a time."""
        chosen = [self._pedigree.check_individual(i) for i in individuals]
        for start in range(0, len(chosen), _BLOCK):
            block = chosen[start : start + _BLOCK]
            unit = np.zeros((len(self), len(block)))
            unit[block, range(len(block))] = 1.0
            yield self.matvec(unit) / 2

    def _group_weights(self, group: Sequence[int]) -> FloatArray:
        vector = np.zeros(len(self))
        for individual in group:
            index = self._pedigree.check_individual(individual)
            if vector[index]:
                raise ValueError(f"the group names individual {index} twice")
            vector[index] = 1.0
        return vector


def _factor(
    pedigree: Pedigree, sweep: Sweep
) -> tuple[FloatArray, tuple[_Step, ...], tuple[_Step, ...]]:
    """Return the diagonal of D and the steps of T (down, by level) and of T' (up).

    Nodes 0 to n - 1 are the individuals, the litters follow. Levels are doubled so that a litter
    finds room between its candidates and its members.
    """
    n = len(pedigree)
    node = {number: n + k for k, number in enumerate(sweep.shared)}
    edges: list[tuple[int, int, int, float]] = []  # level of the child, child, parent, weight
    done: set[int] = set()
    for individual in pedigree.order:
        child, depth = individual, 2 * pedigree.level[individual]
        number = pedigree.litter[individual]
        if number in node:
            edges.append((depth, child, node[number], 1.0))
            if number in done:
                continue
            done.add(number)
            child, depth = node[number], depth - 1
        for dam, sire, p, _ in pedigree.couples[individual]:
            edges.extend((depth, child, parent, p / 2) for parent in (dam, sire) if parent >= 0)
    variances = np.concatenate([sweep.residual, np.array(list(sweep.shared.values()))])
    return variances, *_steps(edges)


def _steps(
    edges: list[tuple[int, int, int, float]],
) -> tuple[tuple[_Step, ...], tuple[_Step, ...]]:
    """Sort the edges by level; a level's children never have parents on the same level."""
    if not edges:
        return (), ()
    depth, child, parent = (np.array([e[k] for e in edges], dtype=np.intp) for k in range(3))
    weight = np.array([e[3] for e in edges])
    by_depth = np.argsort(depth, kind="stable")
    cuts = np.flatnonzero(np.diff(depth[by_depth])) + 1
    levels = np.split(by_depth, cuts)
    down = tuple(_Step.gather(child[at], parent[at], weight[at]) for at in levels)
    up = tuple(_Step.gather(parent[at], child[at], weight[at]) for at in reversed(levels))
    return down, up
