"""State spaces: the genotypes that one individual can have at loci that are solved together.

A `Space` covers one unlinked autosomal locus, a linkage group, lines that are taken for one locus,
one locus of the sex chromosomes, or all loci of the sex chromosomes with viability.  Gametes are
computed with the numbers as they were given, so that `Fraction` input gives exact answers; the
engine turns them into float tables once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import combinations_with_replacement, product
from math import prod
from typing import Any, TypeVar

import numpy as np

from genetics.arrays import Bools1, Codes1, Floats1, Floats2, Floats3, Positions1
from genetics.keys import SEXES, KnownSex, covered_keys, genotype_keys, is_heterogametic
from genetics.population import Interval, Locus, Number, Population, SexDetermination

Allele = int | None
"""Position of an allele in the list of its locus; None where the chromosome has no such locus."""
Pair = tuple[int, Allele]
Gamete = tuple[Any, ...]
"""Alleles, of the sex chromosomes after the letter of the chromosome."""
State = tuple[Any, ...]
"""A genotype: two gametes, or on the sex chromosomes a pair of alleles for each locus."""
Sortable = TypeVar("Sortable", int, tuple[int, ...])
FEMALE, MALE, EITHER = 0, 1, 2
HALF = Fraction(1, 2)


@dataclass(frozen=True, eq=False)
class Space:
    """Genotype states of one individual at `loci`, and how parents pass them on.

    Attributes:
        loci: the loci reported, in the order in which a state has them.
        merged: whether the loci are lines taken for one locus.
        states: one hashable genotype per state.
        sex: per state 0 (female only), 1 (male only) or 2 (either).
        keys: per locus every key reported; `key_of[l][s]` is the position of state s's key.
        copies: per locus and state, non-wild copies (of the whole class when merged).
        multiplicity: chance factor of the state's phase given its keys.
        survival: relative survival per state.
        carries_sex: the chance of the sexes depends on the parents here (viability).
    """

    system: SexDetermination
    loci: tuple[Locus, ...]
    merged: bool
    intervals: tuple[Interval, ...]
    states: tuple[State, ...]
    sex: Codes1
    keys: tuple[tuple[str, ...], ...]
    key_of: tuple[Positions1, ...]
    copies: tuple[Positions1, ...]
    multiplicity: Floats1
    survival: tuple[Number, ...]
    carries_sex: bool = False
    index: dict[State, int] = field(default_factory=dict)

    @property
    def size(self) -> int:
        """Number of states."""
        return len(self.states)

    @property
    def genotypes(self) -> int:
        """Number of states that an animal can have."""
        return self.size

    @property
    def sex_linked(self) -> bool:
        """Whether the loci sit on the sex chromosomes."""
        return self.loci[0].chromosome != "autosome"

    def allowed(self, sex: int) -> Bools1:
        """Mask of the states possible in a sex (0, 1, or 2 for either)."""
        if sex == EITHER:
            return np.ones(self.size, dtype=bool)
        mask: Bools1 = (self.sex == sex) | (self.sex == EITHER)
        return mask

    def gametes(self, state: int, parent: KnownSex) -> dict[Gamete, Number]:
        """Gametes of a parent in this state with their probabilities, which sum to one."""
        genotype = self.states[state]
        if not self.sex_linked:
            return dict(_recombined(genotype, self.intervals, parent))
        if not is_heterogametic(self.system, parent):
            by_locus: list[dict[Allele, Number]] = []
            for first, second in genotype:
                by_locus.append({first: 1} if first == second else {first: HALF, second: HALF})
            return {("X", *alleles): p for alleles, p in _independent(by_locus)}
        found: dict[Gamete, Number] = {}
        for chromosome in "XY":
            by_locus = []
            for locus, pair in zip(self.loci, genotype, strict=True):
                own, other = pair if chromosome == "X" else pair[::-1]
                r = locus.recombination if locus.chromosome == "sex" else 0
                alleles_here: dict[Allele, Number] = {own: 1 - r}
                alleles_here[other] = alleles_here.get(other, 0) + r
                by_locus.append({allele: p for allele, p in alleles_here.items() if p})
            for alleles, p in _independent(by_locus):
                found[(chromosome, *alleles)] = HALF * p
        return found

    def child(self, dam: Gamete, sire: Gamete) -> int:
        """State of the zygote of two gametes."""
        if not self.sex_linked:
            return self.index[_ordered(dam, sire)]
        if "Y" not in (dam[0], sire[0]):
            pairs = tuple(_ordered(a, b) for a, b in zip(dam[1:], sire[1:], strict=True))
            return self.index[("XX", *pairs)]
        x, y = (dam, sire) if sire[0] == "Y" else (sire, dam)
        return self.index[("XY", *zip(x[1:], y[1:], strict=True))]

    def offspring(self, dam: int, sire: int) -> dict[int, Number]:
        """Genotypes of hatchlings of a couple by state, survival counted, as given numbers.

        The probabilities sum to one over both sexes, or the result is empty where no hatchling
        can live.
        """
        found: dict[int, Number] = {}
        paternal = self.gametes(sire, "male")
        for one, p in self.gametes(dam, "female").items():
            for other, q in paternal.items():
                state = self.child(one, other)
                found[state] = found.get(state, 0) + p * q * self.survival[state]
        total = sum(found.values())
        if not total:
            return {}
        whole = Fraction(total) if isinstance(total, int) else total
        return {state: p / whole for state, p in found.items() if p}

    @cached_property
    def table(self) -> Floats3:
        """Transmission T[dam, sire, child]; sums to one, within each sex where sex-linked.

        With viability on the sex chromosomes it sums to one over both sexes together.
        """
        females, gd = self._gamete_matrix("female")
        males, gs = self._gamete_matrix("male")
        table = np.zeros((self.size, self.size, self.size))
        for i, one in enumerate(females):
            for j, other in enumerate(males):
                table[:, :, self.child(one, other)] += np.outer(gd[:, i], gs[:, j])
        table *= np.array([float(s) for s in self.survival])
        total = table.sum(axis=2, keepdims=True)
        np.divide(table, total, out=table, where=total > 0)
        if self.sex_linked and not self.carries_sex:
            table *= 2.0
        return np.ascontiguousarray(table)

    def _gamete_matrix(self, parent: KnownSex) -> tuple[list[Gamete], Floats2]:
        code = FEMALE if parent == "female" else MALE
        columns: dict[Gamete, int] = {}
        entries = []
        for state in np.flatnonzero(self.allowed(code)).tolist():
            for gamete, p in self.gametes(state, parent).items():
                column = columns.setdefault(gamete, len(columns))
                entries.append((state, column, float(p)))
        matrix = np.zeros((self.size, len(columns)))
        for state, column, p in entries:
            matrix[state, column] += p
        return list(columns), matrix

    def locus_position(self, locus: str) -> int:
        """Position of a locus in the space."""
        return next(i for i, known in enumerate(self.loci) if known.id == locus)

    def accepts(self, locus: str, keys: Sequence[str]) -> Bools1:
        """Mask of the states whose key at the locus is one of those stated."""
        position = self.locus_position(locus)
        wanted: set[str] = set()
        for sex in SEXES:
            covered = covered_keys(self.loci[position], self.system, sex)
            for key in keys:
                wanted.update(covered.get(key, ()))
        mask = np.array([key in wanted for key in self.keys[position]])
        return mask[self.key_of[position]]

    def weights(self, locus: str, stated: Mapping[str, Number]) -> Floats1:
        """Likelihood of each state from weights by key; a key left out weighs nothing."""
        position = self.locus_position(locus)
        vector = dict.fromkeys(self.keys[position], 0.0)
        for sex in SEXES:
            covered = covered_keys(self.loci[position], self.system, sex)
            for key in sorted(stated, key=lambda k: "|" in k):
                for one in covered.get(key, ()):
                    vector[one] = float(stated[key])
        return np.array(list(vector.values()))[self.key_of[position]]

    def founder(
        self,
        statements: Mapping[str, Mapping[str, Number]],
        background: Mapping[str, Mapping[str, Number]],
        survivals: Mapping[str, Mapping[str, Number]],
        sex: int,
    ) -> Floats1:
        """Prior of a founder's states: statements where given, else the background.

        Of known sex it sums to one; of unknown sex within each sex where sex-linked, else to one.
        All zeros where merged lines leave nothing possible.
        """
        sexes = [FEMALE, MALE] if sex == EITHER and self.sex_linked else [min(sex, MALE)]
        total = np.zeros(self.size)
        for code in sexes:
            name: KnownSex = SEXES[code]
            prior = self.multiplicity.copy()
            for position, locus in enumerate(self.loci):
                if locus.id in statements:
                    vector = _stated(locus, self.system, name, statements[locus.id])
                else:
                    vector = _background(
                        locus,
                        self.system,
                        name,
                        background.get(locus.id, {}),
                        survivals.get(locus.id, {}),
                    )
                by_key = np.array([vector.get(key, 0.0) for key in self.keys[position]])
                prior *= by_key[self.key_of[position]]
            prior *= self.allowed(code)
            mass = prior.sum()
            total += prior / mass if mass > 0 else 0.0
        return total


def _independent(by_locus: Sequence[Mapping[Allele, Number]]) -> Iterator[tuple[Gamete, Number]]:
    for combination in product(*(alleles_here.items() for alleles_here in by_locus)):
        p: Number = 1
        for _, chance in combination:
            p = p * chance
        yield tuple(allele for allele, _ in combination), p


def _recombined(
    genotype: tuple[Gamete, Gamete], intervals: Sequence[Interval], parent: KnownSex
) -> dict[Gamete, Number]:
    """Haplotypes passed on, by a walk along the map that changes homolog with chance r."""
    walks: dict[tuple[Gamete, int], Number] = {
        ((genotype[0][0],), 0): HALF,
        ((genotype[1][0],), 1): HALF,
    }
    if genotype[0][0] == genotype[1][0] and len(genotype[0]) == 1:
        return {genotype[0]: 1}
    for position, interval in enumerate(intervals, start=1):
        r = interval.female if parent == "female" else interval.male
        longer: dict[tuple[Gamete, int], Number] = {}
        for (alleles, strand), p in walks.items():
            for side, chance in ((strand, 1 - r), (1 - strand, r)):
                if chance:
                    step = ((*alleles, genotype[side][position]), side)
                    longer[step] = longer.get(step, 0) + p * chance
        walks = longer
    found: dict[Gamete, Number] = {}
    for (alleles, _), p in walks.items():
        found[alleles] = found.get(alleles, 0) + p
    return found


def _ordered(first: Sortable, second: Sortable) -> tuple[Sortable, Sortable]:
    return (first, second) if first <= second else (second, first)


def _stated(
    locus: Locus, system: SexDetermination, sex: KnownSex, statement: Mapping[str, Number]
) -> dict[str, float]:
    """A statement as chances of the sex's own keys, conditioned on the sex."""
    covered = covered_keys(locus, system, sex)
    found: dict[str, float] = {}
    for key, p in statement.items():
        meant = covered.get(key, ())
        for one in meant:
            found[one] = found.get(one, 0.0) + float(p) / len(meant)
    total = sum(found.values())
    return {key: p / total for key, p in found.items()} if total > 0 else {}


def _background(
    locus: Locus,
    system: SexDetermination,
    sex: KnownSex,
    frequencies: Mapping[str, Number],
    survival: Mapping[str, Number],
) -> dict[str, float]:
    """Hardy-Weinberg chances of the sex's keys, weighted by survival and renormalised."""
    q = {allele: float(frequencies.get(allele, 0)) for allele in locus.alleles[1:]}
    q[locus.alleles[0]] = max(0.0, 1.0 - sum(q.values()))
    found = {}
    for key in genotype_keys(locus, system, sex):
        first, second = key.split("|" if "|" in key else "/")
        if second not in q:
            p = q[first]
        elif "|" in key or first == second:
            p = q[first] * q[second]
        else:
            p = 2.0 * q[first] * q[second]
        found[key] = p * float(survival.get(key, 1))
    total = sum(found.values())
    return {key: p / total for key, p in found.items()} if total > 0 else {}


def every_key(locus: Locus, system: SexDetermination) -> tuple[str, ...]:
    """Every key that is reported at a locus, in either sex."""
    return tuple(dict.fromkeys(key for sex in SEXES for key in genotype_keys(locus, system, sex)))


def survivals(population: Population) -> dict[str, dict[str, Number]]:
    """Survival by locus and report key (both arrangements where one key stands for both)."""
    loci = {locus.id: locus for locus in population.loci}
    found: dict[str, dict[str, Number]] = {}
    for entry in sorted(population.viability, key=lambda v: "|" in v.genotype):
        for sex in SEXES:
            covered = covered_keys(loci[entry.locus], population.sex_determination, sex)
            for key in covered.get(entry.genotype, ()):
                found.setdefault(entry.locus, {})[key] = entry.survival
    return found


def count_states(loci: Sequence[Locus], merged: bool) -> int:
    """How many genotypes loci that are solved together have, without making any of them.

    >>> count_states([Locus("sg", ("+", "har"))], merged=False)
    3
    """
    alleles = [len(locus.alleles) for locus in loci]
    pairs = [n * (n + 1) // 2 for n in alleles]
    if loci[0].chromosome == "autosome":
        haplotypes = len(loci) + 1 if merged else prod(alleles)
        return haplotypes * (haplotypes + 1) // 2
    unlike = (
        n * n if locus.chromosome == "sex" else n for n, locus in zip(alleles, loci, strict=True)
    )
    return prod(pairs) + prod(unlike)


def autosomal_space(
    system: SexDetermination,
    loci: tuple[Locus, ...],
    intervals: tuple[Interval, ...],
    survival: Mapping[str, Mapping[str, Number]],
) -> Space:
    """Space of one autosomal locus or of a linkage group: unordered pairs of haplotypes."""
    haplotypes = list(product(*(range(len(locus.alleles)) for locus in loci)))
    states = tuple(combinations_with_replacement(haplotypes, 2))
    pairs = [[_ordered(a[i], b[i]) for a, b in states] for i in range(len(loci))]
    multiplicity = [
        (1.0 if a == b else 2.0) * 0.5 ** sum(x != y for x, y in zip(a, b, strict=True))
        for a, b in states
    ]
    return _space(system, loci, False, intervals, states, pairs, multiplicity, survival)


@lru_cache(maxsize=1024)
def single_space(system: SexDetermination, locus: Locus) -> Space:
    """Space of one autosomal locus of which all genotypes live; treat it as read-only."""
    return autosomal_space(system, (locus,), (), {})


def merged_space(system: SexDetermination, loci: tuple[Locus, ...]) -> Space:
    """Space of lines taken for one locus: pairs of {wild, each line's mutant}."""
    states = tuple(((a,), (b,)) for a, b in combinations_with_replacement(range(len(loci) + 1), 2))
    pairs = [
        [_ordered(int(a == line), int(b == line)) for (a,), (b,) in states]
        for line in range(1, len(loci) + 1)
    ]
    space = _space(system, loci, True, (), states, pairs, [1.0] * len(states), {})
    copies = np.array([(a > 0) + (b > 0) for (a,), (b,) in states])
    object.__setattr__(space, "copies", (copies,) * len(loci))
    return space


def sex_space(
    system: SexDetermination,
    loci: tuple[Locus, ...],
    survival: Mapping[str, Mapping[str, Number]],
) -> Space:
    """Space of loci on the sex chromosomes, homogametic states first."""
    like: list[list[Pair]] = []
    unlike: list[list[Pair]] = []
    for locus in loci:
        n = range(len(locus.alleles))
        like.append(list(combinations_with_replacement(n, 2)))
        both = locus.chromosome == "sex"
        unlike.append([(a, b) for a in n for b in (n if both else (None,))])
    states = tuple(product(*like)) + tuple(product(*unlike))
    n_like = len(list(product(*like)))
    marked = ["XX"] * n_like + ["XY"] * (len(states) - n_like)
    pairs: list[list[Pair]] = [[state[i] for state in states] for i in range(len(loci))]
    space = _space(
        system, loci, False, (), states, pairs, [1.0] * len(states), survival, marked=marked
    )
    return space


def _space(
    system: SexDetermination,
    loci: tuple[Locus, ...],
    merged: bool,
    intervals: tuple[Interval, ...],
    states: tuple[State, ...],
    pairs: Sequence[Sequence[Pair]],
    multiplicity: Sequence[float],
    survival: Mapping[str, Mapping[str, Number]],
    marked: Sequence[str] | None = None,
) -> Space:
    keys, key_of, copies = [], [], []
    survives: list[Number] = [1] * len(states)
    for locus, column in zip(loci, pairs, strict=True):
        known = every_key(locus, system)
        names = [
            _key(locus, system, pair, marked[i] if marked else None)
            for i, pair in enumerate(column)
        ]
        keys.append(known)
        key_of.append(np.array([known.index(name) for name in names], dtype=np.intp))
        copies.append(np.array([(a > 0) + (b is not None and b > 0) for a, b in column]))
        for i, name in enumerate(names):
            survives[i] = survives[i] * survival.get(locus.id, {}).get(name, 1)
    if marked is None:
        sex = np.full(len(states), EITHER, dtype=np.int8)
        index = {state: i for i, state in enumerate(states)}
    else:
        like = MALE if is_heterogametic(system, "female") else FEMALE
        sex = np.array([like if m == "XX" else 1 - like for m in marked], dtype=np.int8)
        index = {(m, *state): i for i, (m, state) in enumerate(zip(marked, states, strict=True))}
    return Space(
        system, loci, merged, intervals, states, sex, tuple(keys), tuple(key_of), tuple(copies),
        np.array(multiplicity), tuple(survives),
        marked is not None and any(locus.id in survival for locus in loci), index,
    )  # fmt: skip


def _key(locus: Locus, system: SexDetermination, pair: Pair, marked: str | None) -> str:
    first = locus.alleles[pair[0]]
    if pair[1] is None:
        return f"{first}/{'Y' if system == 'XY' else 'W'}"
    return f"{first}{'|' if marked == 'XY' else '/'}{locus.alleles[pair[1]]}"
