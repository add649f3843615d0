"""Which mating tells most of whether an animal is what it may be.

Whether it is, and the chance c that one hatchling shows the trait, are uncertain together: both
follow from what the animal and its mate are, jointly.  Given both, how many of n hatchlings show is
binomial.  So all figures are of a mixture of binomials, one for each (whether it is, c):

    P(k show, it is) = Σ w · C(n, k) c^k (1 − c)^(n − k)   over the rows in which it is.

`genetics.testing` answers an older question, of one locus, in fractions, from rows that its caller
may make up: how many clean eggs prove what a table of breeding says.  There offspring of an animal
that is not what is asked for never show; here they may, other traits may hide, and loci be linked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from genetics.arrays import Bools1, Floats1, Floats2
from genetics.errors import BeyondExact
from genetics.json_values import JsonObject
from genetics.plans.genotypes import (
    Genotypes,
    Query,
    asked_exactly,
    joint_query,
    loci_of_looks,
    loci_of_sexes,
)
from genetics.plans.questions import TestQuestion
from genetics.population import Number, Population
from genetics.solving import Solved

MOST_NEEDED = 200
"""Most hatchlings that are tried for the number needed."""
MOST_HATCHLINGS = 100_000
"""Most hatchlings of which every count is weighed."""
NEAR = 1e-12
"""What falls short of a bound by no more counts as reached.

A chance that is exactly at a bound in rational numbers may be computed on either side of it.  So
both comparisons of `needed`, of the chance that a count leaves and of the chance that such a count
comes, are made as of fractions, to within what floats may lose: a tie is reached.
"""


@dataclass(frozen=True)
class TestMating:
    """What hatchlings with one mate would tell; the mappings are by number of hatchlings.

    Attributes:
        mate: with whom.
        prior: chance now that the animal is one of the genotypes asked.
        positive: chance that at least one hatchling shows the trait.
        clean: chance that it is, given that none shows; `None` if that cannot be.
        bits: mutual information between whether it is and how many show.
        needed: the smallest number that settles the question; `None` if none does.
    """

    __test__ = False

    mate: str
    prior: float
    positive: Mapping[int, float]
    clean: Mapping[int, float | None]
    bits: Mapping[int, float]
    needed: int | None

    def as_json(self) -> JsonObject:
        """The contract's object."""
        return {
            "mate": self.mate,
            "prior": self.prior,
            "positive": {str(n): p for n, p in self.positive.items()},
            "clean": {str(n): p for n, p in self.clean.items()},
            "bits": {str(n): bits for n, bits in self.bits.items()},
            "needed": self.needed,
        }


@dataclass(frozen=True)
class Mixture:
    """Rows of a weight, whether it is, and the chance that one hatchling shows.

    The weights sum to one.
    """

    weight: Floats1
    it_is: Bools1
    chance: Floats1

    @property
    def prior(self) -> float:
        """Chance that it is."""
        return float(min(1.0, self.weight[self.it_is].sum()))

    def seen(self, shown: float, mistaken: float) -> Mixture:
        """The same by eyes that err: these shares of what shows it, and of the rest, are seen."""
        chance = self.chance * shown + (1.0 - self.chance) * mistaken
        return Mixture(self.weight, self.it_is, chance)

    def other_way(self) -> Mixture:
        """The same asked the other way round: whether it is not."""
        return Mixture(self.weight, ~self.it_is, self.chance)

    def positive(self, n: int) -> float:
        """Chance that at least one of n hatchlings shows."""
        if n == 0:
            return 0.0
        with np.errstate(divide="ignore"):
            some = -np.expm1(n * np.log1p(-self.chance))
        return float(self.weight @ some)

    def clean(self, n: int) -> float | None:
        """Chance that it is, given that none of n hatchlings shows; `None` if that cannot be."""
        none = self.weight * (1.0 - self.chance) ** n
        whole = float(none.sum())
        return float(none[self.it_is].sum()) / whole if whole > 0 else None

    def bits(self, n: int) -> float:
        """Mutual information, in bits, between whether it is and how many of n show.

        Raises:
            BeyondExact: more than `MOST_HATCHLINGS`.
        """
        if n > MOST_HATCHLINGS:
            message = (
                f"every count among {n} hatchlings is to be weighed, more than the limit of "
                f"{MOST_HATCHLINGS}"
            )
            raise BeyondExact(float(n), float(MOST_HATCHLINGS), message)
        counts = self._counts(n)
        apart = counts.sum(axis=1, keepdims=True) * counts.sum(axis=0, keepdims=True)
        seen = (counts > 0) & (apart > 0)
        total = (counts[seen] * np.log2(counts[seen] / apart[seen])).sum()
        return float(max(0.0, total))

    def settled(self, n: int, settle: Number) -> float:
        """Chance that the count of n hatchlings leaves at least `settle`, or at most 1 - `settle`.

        Ties are reached, as in `needed`.
        """
        counts, left = self._left(n)
        enough, little = float(settle), float(1 - Fraction(settle))
        told = (left >= enough - NEAR) | (left <= little + NEAR)
        return float(min(1.0, counts[:, told].sum()))

    def needed(self, settle: Number) -> int | None:
        """The smallest number of hatchlings, up to 200, whose counts settle whether it is.

        Settled: given that it is, with at least the chance `settle` the count leaves at least
        `settle` that it is; given that it is not, as often at most 1 - `settle`.
        """
        if self.it_is.all() or not self.it_is.any():
            return None
        enough, little = float(settle), float(1 - Fraction(settle))
        shares = np.array([self.weight[~self.it_is].sum(), self.weight[self.it_is].sum()])
        for n in range(1, MOST_NEEDED + 1):
            counts, left = self._left(n)
            is_not = counts[0, left <= little + NEAR].sum() / shares[0]
            it_is = counts[1, left >= enough - NEAR].sum() / shares[1]
            if min(is_not, it_is) >= enough - NEAR:
                return n
        return None

    def _left(self, n: int) -> tuple[Floats2, Floats1]:
        """The counts, and the chance that it is given each of them; a half where it cannot come."""
        counts = self._counts(n)
        whole = counts.sum(axis=0)
        return counts, np.divide(counts[1], whole, out=np.full(n + 1, 0.5), where=whole > 0)

    def _counts(self, n: int) -> Floats2:
        """Chances that it is not (first row) or is (second) and that 0, 1, …, n show."""
        from scipy.special import gammaln, xlog1py, xlogy

        k = np.arange(n + 1.0)
        found = np.zeros((2, n + 1))
        ways = gammaln(n + 1.0) - gammaln(k + 1.0) - gammaln(n - k + 1.0)
        for weight, it_is, chance in zip(self.weight, self.it_is, self.chance, strict=True):
            logs = ways + xlogy(k, chance) + xlog1py(n - k, -chance)
            found[int(it_is)] += weight * np.exp(logs)
        return found


def mating_queries(population: Population, question: TestQuestion) -> tuple[Query, ...]:
    """The joint tables, one a mate, without which the question cannot be answered."""
    loci = _loci(population, question)
    return tuple(joint_query((question.animal, mate), loci) for mate in question.mates)


def _loci(population: Population, question: TestQuestion) -> tuple[str, ...]:
    wanted = loci_of_looks(population, (question.shows,)) | loci_of_sexes(population)
    wanted |= set(question.genotypes)
    return tuple(locus.id for locus in population.loci if locus.id in wanted)


def matings(solved: Solved, question: TestQuestion) -> tuple[TestMating, ...]:
    """What hatchlings with each mate would tell, in the order of the mates.

    The population is solved again for the joint genotypes of the animal and each mate.

    Raises:
        BeyondExact: they are too many to be told apart, or the hatchlings are.
    """
    found = []
    for mate, mixture in zip(question.mates, mixtures(solved, [question])[0], strict=True):
        eggs = dict.fromkeys(question.eggs)
        found.append(
            TestMating(
                mate,
                mixture.prior,
                {n: mixture.positive(n) for n in eggs},
                {n: mixture.clean(n) for n in eggs},
                {n: mixture.bits(n) for n in eggs},
                mixture.needed(question.settle),
            )
        )
    return tuple(found)


def mixtures(solved: Solved, questions: Sequence[TestQuestion]) -> list[tuple[Mixture, ...]]:
    """Of each question, for each of its mates, the mixture that all figures are of.

    The population is solved again once, for the joint genotypes of all couples.

    Raises:
        BeyondExact: they are too many to be told apart.
    """
    wanted = [query for one in questions for query in mating_queries(solved.population, one)]
    asked = asked_exactly(solved, wanted)
    return [tuple(_mixture(asked, one, mate) for mate in one.mates) for one in questions]


def mating_answers(solved: Solved, question: TestQuestion) -> list[JsonObject]:
    """The contract's answer: one object a mate, in the order given."""
    return [one.as_json() for one in matings(solved, question)]


def _mixture(asked: Solved, question: TestQuestion, mate: str) -> Mixture:
    population, couple = asked.population, (question.animal, mate)
    genotypes = Genotypes(asked, couple, _loci(population, question), generations=1)
    chance, rows = genotypes.joint(asked, couple)
    it_is = np.ones(genotypes.size, dtype=bool)
    for locus, keys in question.genotypes.items():
        it_is &= genotypes.accepted(locus, keys)
    own, other = rows.T
    is_dam = population.sexes[population.animal_index[question.animal]] == "female"
    dams, sires = (own, other) if is_dam else (other, own)
    young = genotypes.young(dams, sires)[:, :, genotypes.visible(question.shows)]
    # The same chance must not fall apart into rows by rounding errors.
    shows = np.minimum(1.0, young.sum(axis=(0, 2)).round(15))
    kinds, which = np.unique(np.stack((it_is[own], shows)), axis=1, return_inverse=True)
    weight = np.bincount(which.reshape(-1), weights=chance, minlength=kinds.shape[1])
    return Mixture(weight / weight.sum(), kinds[0] > 0, kinds[1])
