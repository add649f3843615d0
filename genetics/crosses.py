"""Crosses of animals of known genotype: gametes, and offspring by genotype and by look.

A genotype maps loci to keys, in the contract's spelling; a locus left out is wild type.  At loci
of one linkage group `"a|b"` states the phase: the alleles before the bar lie together on one
homolog, those after it on the other.  Heterozygous keys with `"/"` have unknown phase, every
phase equally likely.  At a `"sex"` locus, in the heterogametic sex, `"a|b"` has a on the X (Z)
and `"a/b"` means both arrangements, equally likely.

Numbers stay as they are given: rational recombination and survival give `Fraction` chances.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import product
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from genetics.checks import check_key, listed, refuse, refuse_unknown
from genetics.clutch_size import (
    ClutchSize,
    FixedClutch,
    NegativeBinomialClutch,
    PoissonClutch,
    at_least_one,
    at_least_one_in_clutches,
    clutches_needed,
    eggs_needed,
    per_clutch,
)
from genetics.dam_alone import hatched_alone, sex_alone
from genetics.errors import BeyondExact
from genetics.keys import SEXES, KnownSex, covered_keys, is_heterogametic
from genetics.looks import Looks, looks
from genetics.population import Goal, Locus, Number, OffspringQuestion, Population, Retained
from genetics.space_list import make_spaces
from genetics.spaces import EITHER, FEMALE, MALE, Space, State
from genetics.spaces import Gamete as Passed

if TYPE_CHECKING:
    from genetics.solving import Solved

__all__ = [
    "ClutchSize",
    "Cross",
    "FixedClutch",
    "Gamete",
    "NegativeBinomialClutch",
    "PoissonClutch",
    "at_least_one",
    "at_least_one_in_clutches",
    "clutches_needed",
    "couple_chances",
    "cross",
    "cross_alone",
    "eggs_needed",
    "gametes",
    "per_clutch",
]

MOST_KINDS = 200_000
"""Kinds of gametes or hatchlings told apart before the answer is called too large."""

Genotypes = Mapping[str, str]
Look = tuple[str, ...]
Lines = Collection[tuple[str, ...]]
FactName = str | tuple[str, int] | tuple[str, str]
"""A locus (its key), an alternative of a trait, or a condition of a goal (whether it is met)."""
Facts = tuple[tuple[FactName, bool | str], ...]
Known = dict[FactName, NDArray[np.bool_ | np.str_]]
"""The value of each fact by state."""
_Passed = tuple[str | None, tuple[tuple[str, str], ...]]
"""Sex chromosome, if it is known, and alleles by locus."""


class Gamete(NamedTuple):
    """Alleles by locus, and the sex chromosome where one of the loci sits on it, else `None`."""

    alleles: tuple[str, ...]
    chromosome: str | None = None


@dataclass(frozen=True, eq=False)
class Cross:
    """What a couple of known genotypes gives: hatchlings, each at every locus on its own.

    Attributes:
        population: the inheritance used.
        viable: whether any hatchling can live; if not, every distribution is empty.
    """

    population: Population
    spaces: tuple[Space, ...]
    _hatched: tuple[Mapping[int, Number], ...]
    _shares: Mapping[KnownSex, Number]

    @property
    def viable(self) -> bool:
        """Whether any hatchling can live."""
        return all(self._hatched)

    def sexes(self) -> dict[KnownSex, Number]:
        """Chance of each sex: even, but for survival, the species' share, a dam alone."""
        found: dict[KnownSex, Number] = {}
        for fact, p in self._joined([{} for _ in self.spaces]).items():
            found[fact[0]] = found.get(fact[0], 0) + p
        return found

    def genotypes(self, *loci: str) -> dict[tuple[str, ...], Number]:
        """Chances of the hatchling's keys at the loci (at all of them if none is named).

        Raises:
            MalformedCase: no locus has that id.
            BeyondExact: too many genotypes to list.
        """
        wanted = _known_loci(self.population, loci or None)
        names: list[Known] = []
        for space in self.spaces:
            own: Known = {}
            for position, locus in enumerate(space.loci):
                if locus.id in wanted:
                    own[locus.id] = np.array(space.keys[position])[space.key_of[position]]
            names.append(own)
        found: dict[tuple[str, ...], Number] = {}
        for (_, facts), p in self._joined(names).items():
            known = dict(facts)
            keys = tuple(str(known[locus]) for locus in wanted)
            found[keys] = found.get(keys, 0) + p
        return found

    def phenotypes(self) -> dict[Look, Number]:
        """Chances of the visible traits of a hatchling, each look in the order of the traits."""
        found: dict[Look, Number] = {}
        for (_, look), p in self.phenotypes_by_sex().items():
            found[look] = found.get(look, 0) + p
        return found

    def phenotypes_by_sex(self) -> dict[tuple[KnownSex, Look], Number]:
        """Chances of the sex and the visible traits together.

        Raises:
            BeyondExact: too many kinds of hatchlings to tell apart.
        """
        found: dict[tuple[KnownSex, Look], Number] = {}
        for (sex, facts), p in self._joined(self._trait_masks()).items():
            kind = sex, self._visible(dict(facts))
            found[kind] = found.get(kind, 0) + p
        return found

    def chance(self, goal: Goal) -> Number:
        """Chance that a hatchling meets the goal; 0 where none can live.

        Raises:
            MalformedCase: no trait or locus has that id, or a genotype is misspelled.
            BeyondExact: too many kinds of hatchlings to tell apart.
        """
        masks = self._trait_masks() if goal.shows else [{} for _ in self.spaces]
        known_traits = [trait.id for trait in self.population.traits]
        for trait in goal.shows:
            if trait not in known_traits:
                refuse_unknown("goal.shows", "trait", trait, known_traits)
        for locus in _known_loci(self.population, tuple(goal.genotypes), "goal.genotypes"):
            k = _place(self.spaces, locus)
            keys = goal.genotypes[locus]
            record = self.population.loci[self.population.locus_index[locus]]
            for key in keys:
                place = f"goal.genotypes.{locus}"
                check_key(key, record, self.population.sex_determination, "unknown", place)
            masks[k][("goal", locus)] = self.spaces[k].accepts(locus, keys)
        met: Number = Fraction(0)
        for (sex, facts), p in self._joined(masks).items():
            known = dict(facts)
            right = all(known["goal", locus] for locus in goal.genotypes)
            if right and goal.shows:
                look = self._visible(known)
                right = all((trait in look) == wanted for trait, wanted in goal.shows.items())
            if right and goal.sex in (None, sex):
                met = met + p
        return met

    @cached_property
    def _looks(self) -> Looks:
        return looks(self.population, self.spaces)

    def _trait_masks(self) -> list[Known]:
        """By space: the condition on it of each alternative of each trait."""
        masks: list[Known] = [{} for _ in self.spaces]
        for trait, expression in self._looks.expressions.items():
            for number, alternative in enumerate(expression.alternatives):
                for k, mask in alternative.items():
                    masks[k][trait, number] = mask
        return masks

    def _visible(self, known: Mapping[FactName, bool | str]) -> Look:
        expressed = {
            trait: any(
                bool(known.get((trait, number), True))
                for number in range(len(expression.alternatives))
            )
            for trait, expression in self._looks.expressions.items()
        }
        hidden_by = self._looks.hidden_by
        return tuple(
            trait
            for trait, shown in expressed.items()
            if shown and not any(expressed[hider] for hider in hidden_by[trait])
        )

    def _joined(self, columns: Sequence[Known]) -> dict[tuple[KnownSex, Facts], Number]:
        """Joint chances of the sex and of the columns' values, over all spaces.

        Spaces are independent given the sex; the first sex-linked one brings it in.
        """
        if not self.viable:
            return {}
        found: dict[tuple[KnownSex, Facts], Number] = {
            (sex, ()): share for sex, share in self._shares.items()
        }
        for space, hatched, column in zip(self.spaces, self._hatched, columns, strict=True):
            if not column and not space.carries_sex:
                continue
            own: dict[tuple[KnownSex | None, Facts], Number] = defaultdict(Fraction)
            for state, p in hatched.items():
                sex = SEXES[space.sex[state]] if space.sex_linked else None
                facts = tuple((name, values[state].item()) for name, values in column.items())
                own[sex, facts] = own[sex, facts] + p
            more: dict[tuple[KnownSex, Facts], Number] = defaultdict(Fraction)
            for ((sex, facts), p), ((own_sex, new), q) in product(found.items(), own.items()):
                if own_sex in (None, sex):
                    kind = sex, _both(facts, new)
                    more[kind] = more[kind] + p * (q if own_sex is None else 2 * q)
            if len(more) > MOST_KINDS:
                raise BeyondExact(float(len(more)), float(MOST_KINDS))
            found = dict(more)
        # Of one sex every space that tells it counted the whole.
        whole = sum(found.values()) if len(self._shares) == 1 else 1
        return found if whole == 1 else {kind: p / whole for kind, p in found.items()}


def _both(first: Facts, second: Facts) -> Facts:
    """Facts of two spaces; what both are asked of together is met where both meet their part."""
    own = dict(first)
    for name, value in second:
        own[name] = bool(own.get(name, True) and value) if isinstance(value, bool) else value
    return tuple(own.items())


def gametes(
    population: Population,
    sex: KnownSex,
    genotypes: Genotypes,
    loci: Sequence[str] | None = None,
    *,
    lines: Lines = (),
) -> dict[Gamete, Number]:
    """Gametes of an animal of known sex and genotype, with chances that sum to one.

    Reported are the given loci, else those of the genotype, in the order of the population.
    `lines` lists the loci that are taken for one (undecided lines are apart otherwise).

    Raises:
        MalformedCase: no locus has that id, or a genotype is misspelled or not possible.
        BeyondExact: too many gametes to list.

    >>> from genetics.population import Interval, Linkage
    >>> inheritance = Population(
    ...     (Locus("sg", ("+", "s")), Locus("qw", ("+", "q"))), (),
    ...     linkage=(Linkage(("sg", "qw"), (Interval(Fraction(1, 10), Fraction(1, 10)),)),),
    ... )
    >>> found = gametes(inheritance, "male", {"sg": "s|+", "qw": "q|+"})
    >>> {gamete.alleles: str(p) for gamete, p in found.items()}
    {('+', '+'): '9/20', ('+', 'q'): '1/20', ('s', 'q'): '9/20', ('s', '+'): '1/20'}
    """
    wanted = _known_loci(population, tuple(genotypes) if loci is None else tuple(loci))
    found: dict[_Passed, Number] = {(None, ()): Fraction(1)}
    for space in make_spaces(population, lines, {}):
        asked = [locus.id in wanted for locus in space.loci]
        own: dict[_Passed, Number] = defaultdict(Fraction)
        for state, weight in _states(population, space, sex, genotypes, "genotypes").items():
            for gamete, p in space.gametes(state, sex).items():
                chromosome, alleles = _spelled(population, space, gamete)
                haplotype = tuple(a for a, ask in zip(alleles, asked, strict=True) if ask)
                own[chromosome, haplotype] = own[chromosome, haplotype] + weight * p
        if not any(asked):
            continue
        more: dict[_Passed, Number] = defaultdict(Fraction)
        for ((chromosome, alleles), p), ((its, new), q) in product(found.items(), own.items()):
            if chromosome is None or its is None or chromosome == its:
                # The chromosome's own chance of 1/2 counts once where both haplotypes have it.
                twice = chromosome is not None and its is not None
                both = is_heterogametic(population.sex_determination, sex) and twice
                kind = chromosome or its, alleles + new
                more[kind] = more[kind] + p * (2 * q if both else q)
        if len(more) > MOST_KINDS:
            raise BeyondExact(float(len(more)), float(MOST_KINDS))
        found = dict(more)
    return {
        Gamete(tuple(dict(alleles)[locus] for locus in wanted), chromosome): p
        for (chromosome, alleles), p in found.items()
    }


def cross(
    population: Population,
    dam_genotypes: Genotypes,
    sire_genotypes: Genotypes,
    *,
    lines: Lines = (),
) -> Cross:
    """What a dam and a sire of known genotypes give, survival counted.

    P(hatchling) = Mendel × survival, divided by its sum over both sexes and all genotypes.
    All hatchlings of a couple share their parents' phases and arrangements: for the chance of at
    least one in several, cross each phase on its own.
    `lines` lists the loci that are taken for one (undecided lines are apart otherwise).

    Raises:
        MalformedCase: no locus has that id, or a genotype is misspelled or not possible.

    >>> from genetics.population import Trait
    >>> inheritance = Population(
    ...     (Locus("sg", ("+", "s")),), (), traits=(Trait("Saltgrass", recessive_at=("sg",)),)
    ... )
    >>> found = cross(inheritance, {"sg": "+/s"}, {"sg": "s/s"})
    >>> {keys: str(p) for keys, p in found.genotypes("sg").items()}
    {('+/s',): '1/2', ('s/s',): '1/2'}
    >>> {look: str(p) for look, p in found.phenotypes().items()}
    {(): '1/2', ('Saltgrass',): '1/2'}
    """
    spaces = tuple(make_spaces(population, lines, {}))
    _known_loci(population, tuple(dam_genotypes), "dam")
    _known_loci(population, tuple(sire_genotypes), "sire")
    hatched = []
    for space in spaces:
        dams = _states(population, space, "female", dam_genotypes, "dam")
        sires = _states(population, space, "male", sire_genotypes, "sire")
        hatched.append(_hatched(space, dams, sires))
    return Cross(population, spaces, tuple(hatched), _sex_shares(population))


def _sex_shares(population: Population, only: int = EITHER) -> dict[KnownSex, Number]:
    shares = zip(SEXES, (population.females, 1 - population.females), strict=True)
    return {sex: p for code, (sex, p) in enumerate(shares) if only in (code, EITHER) and p}


def cross_alone(
    population: Population,
    dam_genotypes: Genotypes,
    *,
    retained: Retained = 0,
    lines: Lines = (),
) -> Cross:
    """What a dam of known genotype gives alone, by terminal fusion, survival counted.

    `retained` is the chance that a locus stays as hers, a number or (locus, chance) pairs.

    Raises:
        MalformedCase: no locus has that id, or a genotype is misspelled or not possible.

    >>> from genetics.population import Trait
    >>> inheritance = Population((Locus("sg", ("+", "s")),), (), sex_determination="XY")
    >>> found = cross_alone(inheritance, {"sg": "+/s"}, retained=Fraction(1, 10))
    >>> {keys: str(p) for keys, p in found.genotypes("sg").items()}
    {('+/+',): '9/20', ('s/s',): '9/20', ('+/s',): '1/10'}
    >>> found.sexes()
    {'female': Fraction(1, 1)}
    """
    spaces = tuple(make_spaces(population, lines, {}))
    _known_loci(population, tuple(dam_genotypes), "dam")
    hatched = []
    for space in spaces:
        dams = _states(population, space, "female", dam_genotypes, "dam")
        hatched.append(_mixed((p, hatched_alone(space, dam, retained)) for dam, p in dams.items()))
    only = sex_alone(population.sex_determination)
    return Cross(population, spaces, tuple(hatched), _sex_shares(population, only))


def couple_chances(solved: Solved, question: OffspringQuestion) -> list[tuple[float, float]]:
    """Uncertain parents as pairs (weight, chance that an egg meets the question's goal).

    The population must have been solved with `genetics.couple.couple_query` of the question.
    The result is for `at_least_one`, `eggs_needed` and `per_clutch`; most likely goal first.

    Raises:
        ValueError: the question has no goal.
        BeyondExact: too many kinds of parents to tell apart.
    """
    from genetics.couple import couple_kinds

    if question.goal is None:
        raise ValueError("the question has no goal; expected one to count as success")
    found: dict[float, float] = defaultdict(float)
    for world, share in zip(solved.worlds, solved.chance, strict=True):
        for weight, _, success in couple_kinds(solved, world, question):
            # Sums of chances may pass 1 by a rounding error.
            found[min(success, 1.0)] += share * weight
    return [(weight, p) for p, weight in sorted(found.items(), reverse=True)]


def _hatched(
    space: Space, dams: Mapping[int, Number], sires: Mapping[int, Number]
) -> dict[int, Number]:
    """Hatchlings by state, over the parents' phases; empty where none can live.

    A phase that lets fewer eggs hatch is not less likely for it: each counts with its weight.
    """
    return _mixed(
        (v * w, space.offspring(dam, sire))
        for (dam, v), (sire, w) in product(dams.items(), sires.items())
    )


def _mixed(young: Iterable[tuple[Number, Mapping[int, Number]]]) -> dict[int, Number]:
    found: dict[int, Number] = {}
    living: Number = Fraction(0)
    for weight, offspring in young:
        living = living + (weight if offspring else 0)
        for state, p in offspring.items():
            found[state] = found.get(state, Fraction(0)) + weight * p
    return {state: p / living for state, p in found.items()}


def _states(
    population: Population, space: Space, sex: KnownSex, genotypes: Genotypes, place: str
) -> dict[int, Number]:
    """States that agree with the keys, equally likely: the phases or arrangements left open."""
    mask = space.allowed(FEMALE if sex == "female" else MALE)
    phased: list[tuple[int, tuple[int, int]]] = []
    for position, locus in enumerate(space.loci):
        key = genotypes.get(locus.id) or _wild(population, locus, sex)
        linked = len(space.loci) > 1 and not space.sex_linked and not space.merged
        if linked and "|" in key:
            first, _, second = key.partition("|")
            if first in locus.alleles and second in locus.alleles:
                pair = locus.alleles.index(first), locus.alleles.index(second)
                phased.append((position, pair))
                key = "/".join(locus.alleles[a] for a in sorted(pair))
        check_key(key, locus, population.sex_determination, sex, f"{place}.{locus.id}")
        mask = mask & space.accepts(locus.id, (key,))
    states = [int(s) for s in np.flatnonzero(mask) if _agrees(space.states[s], phased)]
    if not states:
        stated = listed(locus.id for locus in space.loci)
        refuse(place, f"more than two copies at {stated}, which are taken for one locus")
    return {state: Fraction(1, len(states)) for state in states}


def _agrees(state: State, phased: Sequence[tuple[int, tuple[int, int]]]) -> bool:
    if not phased:
        return True
    one, other = state
    return any(
        all((a[i], b[i]) == pair for i, pair in phased) for a, b in ((one, other), (other, one))
    )


def _wild(population: Population, locus: Locus, sex: KnownSex) -> str:
    """The key of the wild type in that sex."""
    return next(iter(covered_keys(locus, population.sex_determination, sex)))


def _spelled(
    population: Population, space: Space, gamete: Passed
) -> tuple[str | None, tuple[tuple[str, str], ...]]:
    """Sex chromosome (if the space has one) and alleles of a gamete, by locus."""
    if space.merged:
        held = [(one, one.alleles[gamete[0] == i]) for i, one in enumerate(space.loci, start=1)]
        return None, tuple((locus.id, allele) for locus, allele in held)
    if not space.sex_linked:
        pairs = zip(space.loci, gamete, strict=True)
        return None, tuple((locus.id, locus.alleles[a]) for locus, a in pairs)
    zw = population.sex_determination == "ZW"
    chromosome = {"X": "Z", "Y": "W"}[gamete[0]] if zw else str(gamete[0])
    return chromosome, tuple(
        (locus.id, chromosome if a is None else locus.alleles[a])
        for locus, a in zip(space.loci, gamete[1:], strict=True)
    )


def _place(spaces: Sequence[Space], locus: str) -> int:
    return next(k for k, s in enumerate(spaces) if any(one.id == locus for one in s.loci))


def _known_loci(
    population: Population, loci: Collection[str] | None, place: str = "loci"
) -> tuple[str, ...]:
    """The loci in the order of the population; all of them for `None`."""
    names = [locus.id for locus in population.loci]
    if loci is None:
        return tuple(names)
    for locus in loci:
        if locus not in names:
            refuse_unknown(place, "locus", locus, names)
    return tuple(name for name in names if name in loci)
