"""Every way in which a small pedigree's alleles can have come down: slow, obvious, in fractions.

For each drawing of uncertain parents and each meiosis (2^k of them) the alleles of everybody are
written down by the founder copy that they descend from. What a group is made of is counted there.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from genetics.kinship import Couple, Pedigree

Parents = list[tuple[str, str, Fraction | None] | None]
"""Of each dam, sire and, of a dam alone, the chance to retain both; of a founder None."""


@dataclass(frozen=True)
class Counted:
    """What a group has of its founders, expected.

    Attributes:
        contributions: by founder; an unrecorded one is called by whose parent it is.
        even: the sum of squares of the founders' shares, given who the parents are.
        kinship: the chance that two alleles drawn with replacement are of one founder copy.
        inbreeding: of each individual the chance that its two alleles are.
    """

    contributions: dict[str, Fraction]
    even: Fraction
    kinship: Fraction
    inbreeding: list[Fraction]


def counted(pedigree: Pedigree, weights: Sequence[int]) -> Counted:
    """Count what a group of such whole weights is made of."""
    n = len(pedigree)
    whole = sum(weights)
    contributions: dict[str, Fraction] = defaultdict(Fraction)
    even = kinship = Fraction(0)
    inbreeding = [Fraction(0)] * n
    for chance, parents in _drawings(pedigree):
        shares: dict[str, Fraction] = defaultdict(Fraction)
        for likely, alleles in _descents(pedigree, parents):
            pool: dict[tuple[str, int], Fraction] = defaultdict(Fraction)
            for i, weight in enumerate(weights):
                first, second = alleles[str(i)]
                inbreeding[i] += chance * likely * (first == second)
                for copy in (first, second):
                    pool[copy] += Fraction(weight, 2 * whole)
                    shares[copy[0]] += likely * Fraction(weight, 2 * whole)
            kinship += chance * likely * sum(part**2 for part in pool.values())
        even += chance * sum(share**2 for share in shares.values())
        for founder, share in shares.items():
            contributions[founder] += chance * share
    return Counted(dict(contributions), even, kinship, inbreeding)


def _drawings(pedigree: Pedigree) -> Iterator[tuple[Fraction, Parents]]:
    """Yield who the parents may be, with its chance: litters draw once, others alone."""
    units: dict[tuple[str, int], list[int]] = {}
    for i, number in enumerate(pedigree.litter):
        units.setdefault(("litter", number) if number >= 0 else ("one", i), []).append(i)
    rows = [pedigree.couples[members[0]] for members in units.values()]
    for choice in itertools.product(*rows):
        chance = Fraction(1)
        parents: Parents = [None] * len(pedigree)
        for unit, row, couple in zip(units.items(), rows, choice, strict=True):
            (kind, number), members = unit
            chance *= Fraction(couple.p).limit_denominator(100)
            if row == (Couple(-1, -1),) and len(members) == 1:
                continue
            of = f"{kind} {number}"
            dam = f"dam of {of}" if couple.dam < 0 else str(couple.dam)
            sire = f"sire of {of}" if couple.sire < 0 else str(couple.sire)
            retained = Fraction(couple.retained).limit_denominator(100) if couple.alone else None
            for member in members:
                parents[member] = (dam, dam if couple.alone else sire, retained)
        yield chance, parents


Alleles = dict[str, tuple[tuple[str, int], tuple[str, int]]]


def _descents(pedigree: Pedigree, parents: Parents) -> Iterator[tuple[Fraction, Alleles]]:
    """Yield everybody's two alleles for each meiosis, with its chance."""
    born = [i for i in pedigree.order if parents[i] is not None]
    known = {one for row in parents if row is not None for one in row[:2]}
    founders = {str(i) for i, row in enumerate(parents) if row is None}
    founders |= {name for name in known if not name.isdigit()}
    for ways in itertools.product(*(_ways(parents[i]) for i in born)):
        chance = Fraction(1)
        alleles: Alleles = {name: ((name, 0), (name, 1)) for name in founders}
        for i, (likely, first, second) in zip(born, ways, strict=True):
            row = parents[i]
            assert row is not None
            chance *= likely
            alleles[str(i)] = (alleles[row[0]][first], alleles[row[1]][second])
        if chance:
            yield chance, alleles


def _ways(row: tuple[str, str, Fraction | None] | None) -> list[tuple[Fraction, int, int]]:
    """Which copy of the dam and which of the sire, with its chance."""
    retained = row[2] if row is not None else None
    if retained is None:
        return [(Fraction(1, 4), a, b) for a in (0, 1) for b in (0, 1)]
    return [(retained, 0, 1), *(((1 - retained) / 2, copy, copy) for copy in (0, 1))]
