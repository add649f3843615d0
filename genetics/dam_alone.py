"""Young of a dam alone: parthenogenesis by terminal fusion.

An egg is restored from one of its dam's gametes: at each locus it has two copies of one allele.
With the chance `retained` at a locus the dam's other allele stays beside it, which shows where she
is heterozygous.  Along linked loci the alleles follow one another as in a gamete of the dam; loci
that never recombine in her are one piece, which stays or goes as a whole.  The young of an XX dam
are daughters.  Those of a ZW dam are ZZ, sons; WW eggs do not live.  The factor that makes a dam W
is never retained, nor is a locus that never recombines with it.

In the engine no sire is an individual of its own, known to be in a state that no animal has, so
that a candidate without sire, a tally and a clutch tree need no rule of their own.

References: Booth and Schuett 2016, The emerging phylogenetic pattern of parthenogenesis in snakes,
Biological Journal of the Linnean Society 118 (quoted from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from fractions import Fraction
from functools import cached_property
from itertools import product

import numpy as np

from genetics.arrays import Bools1, Floats3
from genetics.keys import HETEROGAMETIC, is_heterogametic
from genetics.population import Interval, Number, Retained, SexDetermination
from genetics.spaces import EITHER, FEMALE, HALF, MALE, Gamete, Space, State

NOBODY = 3
"""In place of a sex: the state of no sire."""


def sex_alone(system: SexDetermination) -> int:
    """Code of the sex that all young of a dam alone have; 2 where chromosomes do not decide."""
    if HETEROGAMETIC[system] is None:
        return EITHER
    return MALE if is_heterogametic(system, "female") else FEMALE


def chance_retained(retained: Retained, locus: str) -> Number:
    """The chance that a locus stays as the dam's is.

    >>> chance_retained((("sg", Fraction(1, 10)),), "qw")
    0
    """
    if isinstance(retained, tuple):
        return dict(retained).get(locus, 0)
    return retained


def hatched_alone(space: Space, dam: int, retained: Retained) -> dict[int, Number]:
    """Genotypes of hatchlings of a dam alone by state, survival counted, as given numbers.

    The probabilities sum to one, or the result is empty where no hatchling can live.

    Args:
        space: where the genotypes are looked at.
        dam: her state.
        retained: chance that a locus stays as hers.
    """
    stays = [chance_retained(retained, locus.id) for locus in space.loci]
    if space.sex_linked:
        eggs = _on_sex_chromosomes(space, dam, stays)
    else:
        eggs = _fused(space.states[dam], stays[:1] if space.merged else stays, space.intervals)
    found: dict[int, Number] = {}
    for genotype, p in eggs.items():
        state = space.index[genotype]
        found[state] = found.get(state, 0) + p * space.survival[state]
    total = sum(found.values())
    if not total:
        return {}
    whole = Fraction(total) if isinstance(total, int) else total
    return {state: p / whole for state, p in found.items() if p}


def _on_sex_chromosomes(space: Space, dam: int, stays: Sequence[Number]) -> dict[State, Number]:
    by_locus: list[dict[tuple[int, int], Number]] = []
    single = is_heterogametic(space.system, "female")
    for locus, (first, second), stay in zip(space.loci, space.states[dam], stays, strict=True):
        if second is None:
            by_locus.append({(first, first): 1})
            continue
        other: Number = HALF
        if single:
            other = locus.recombination
            stay = stay if other else 0
        pairs: dict[tuple[int, int], Number] = {}
        for pair, p in (
            ((first, first), (1 - other) * (1 - stay)),
            ((second, second), other * (1 - stay)),
            ((min(first, second), max(first, second)), stay),
        ):
            pairs[pair] = pairs.get(pair, 0) + p
        by_locus.append({pair: p for pair, p in pairs.items() if p})
    eggs: dict[State, Number] = {}
    for choice in product(*(pairs.items() for pairs in by_locus)):
        chance: Number = 1
        for _, p in choice:
            chance = chance * p
        eggs[("XX", *(pair for pair, _ in choice))] = chance
    return eggs


def _fused(
    dam: State, stays: Sequence[Number], intervals: Sequence[Interval]
) -> dict[State, Number]:
    """Pairs of haplotypes, by a walk along the map as a gamete takes it.

    A step is the haplotypes so far (that of the gamete, and beside it), the homolog that the
    gamete follows, and whether the locus was retained.
    """
    walks: dict[tuple[Gamete, Gamete, int, bool], Number] = {((), (), 0, False): 1}
    for position, stay in enumerate(stays):
        r = intervals[position - 1].female if position else HALF
        longer: dict[tuple[Gamete, Gamete, int, bool], Number] = {}
        for (one, other, strand, kept), p in walks.items():
            kinds = ((kept, 1),) if r == 0 else ((False, 1 - stay), (True, stay))
            for (side, q), (stayed, s) in product(((strand, 1 - r), (1 - strand, r)), kinds):
                if not q * s:
                    continue
                beside = dam[1 - side if stayed else side][position]
                step = (*one, dam[side][position]), (*other, beside), side, stayed
                longer[step] = longer.get(step, 0) + p * q * s
        walks = longer
    eggs: dict[State, Number] = {}
    for (one, other, _, _), p in walks.items():
        genotype = (one, other) if one <= other else (other, one)
        eggs[genotype] = eggs.get(genotype, 0) + p
    return eggs


@dataclass(frozen=True, eq=False, kw_only=True)
class SpaceAlone(Space):
    """A space with one more state for each way in which dams alone have young.

    Attributes:
        plain: the space of the genotypes, which come first.
        ways: what the young retain, by state after the genotypes.
        twice: whether the transmission here tells the sex of the young: as all tables of the sex
            chromosomes sum to one within each sex, it then sums to two in the one sex there is.
    """

    plain: Space
    ways: tuple[Retained, ...]
    twice: bool

    @property
    def genotypes(self) -> int:
        """Number of states that an animal can have."""
        return self.plain.size

    def allowed(self, sex: int) -> Bools1:
        """Mask of the states possible in a sex (0, 1, or 2 for either); no sire is in none."""
        mask: Bools1 = np.zeros(self.size, dtype=bool)
        mask[: self.genotypes] = self.plain.allowed(sex)
        return mask

    @cached_property
    def table(self) -> Floats3:
        """Transmission T[dam, sire, child], as of the plain space; no sire is among the sires."""
        n = self.genotypes
        table = np.zeros((self.size, self.size, self.size))
        table[:n, :n, :n] = self.plain.table
        for dam in np.flatnonzero(self.plain.allowed(FEMALE)).tolist():
            for sire, retained in enumerate(self.ways, start=n):
                for child, p in hatched_alone(self.plain, dam, retained).items():
                    table[dam, sire, child] = float(p) * (2.0 if self.twice else 1.0)
        return table


def with_nobody(plain: Space, ways: tuple[Retained, ...], twice: bool) -> SpaceAlone:
    """The space with a state for each way in which dams alone have young."""
    more = len(ways)
    own = {one.name: getattr(plain, one.name) for one in fields(plain)}
    own |= {
        "states": (*plain.states, *(("no sire", way) for way in range(more))),
        "sex": np.concatenate((plain.sex, np.full(more, NOBODY, dtype=np.int8))),
        "key_of": tuple(np.pad(one, (0, more)) for one in plain.key_of),
        "copies": tuple(np.pad(one, (0, more)) for one in plain.copies),
        "multiplicity": np.pad(plain.multiplicity, (0, more)),
        "survival": (*plain.survival, *[1] * more),
    }
    return SpaceAlone(**own, plain=plain, ways=ways, twice=twice)
