"""Test breeding: what clean offspring say of a possible carrier of a recessive trait.

One offspring of a carrier shows the trait with a chance r that the mate decides: 1/2 from a
homozygous (visual) mate, 1/4 from a carrier, times the penetrance.  Offspring of a non-carrier
never show it, so that one that does proves the carrier, while n clean ones leave

    P(carrier | n clean) = Σ_carrier w (1 - r)^n / (the same + Σ_non-carrier w),

which is never zero: "tested clean" always comes with the chance that remains.  Offspring are
those that hatched and could be looked at.  Rational input gives rational probabilities;
information is a float, in bits.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from genetics.checks import check_key, refuse_unknown
from genetics.clutch_size import ClutchSize, as_written, eggs_needed
from genetics.population import Number, Population

if TYPE_CHECKING:
    from genetics.solving import Solved, World

QUARTER = Fraction(1, 4)
HALF = Fraction(1, 2)


class Row(NamedTuple):
    """A state of the pair: its weight, whether the suspect carries, the chance r of one egg."""

    weight: Number
    carrier: bool
    chance: Number


@dataclass(frozen=True, slots=True)
class Settled:
    """Chances that a season settles the question: proven by a visual, or clean and excluded."""

    proven: Number
    excluded: Number

    @property
    def chance(self) -> Number:
        """Chance that it is settled either way."""
        return self.proven + self.excluded


@dataclass(frozen=True)
class Mating:
    """A possible carrier and one mate, what is not known of either as weighted rows.

    Raises:
        ValueError: a number is not from 0 to 1, the weights do not sum to 1, or an offspring of
            a non-carrier could show the trait (it would then prove nothing).
    """

    rows: tuple[Row, ...]

    def __post_init__(self) -> None:
        for row in self.rows:
            _check("weight", row.weight)
            _check("chance", row.chance)
            if not row.carrier and row.weight > 0 and row.chance > 0:
                raise ValueError(
                    f"an offspring of a non-carrier shows the trait with chance {row.chance}; "
                    "expected 0, or such an offspring would prove nothing"
                )
        total: Number = sum((row.weight for row in self.rows), start=Fraction(0))
        off = total != 1 if isinstance(total, Fraction) else abs(total - 1) > 1e-9
        if off:
            raise ValueError(f"weights sum to {total}, not 1")

    @property
    def prior(self) -> Number:
        """Chance that the suspect carries, before any of these eggs."""
        return self.posterior(0)

    def chances(self) -> list[tuple[Number, Number]]:
        """Pairs (weight, r) over the whole uncertainty, for `genetics.crosses.at_least_one`."""
        return [(row.weight, row.chance) for row in self.rows]

    def clean(self, offspring: int) -> Number:
        """Chance that so many offspring are all clean."""
        return self._missed(offspring, True) + self._missed(offspring, False)

    def posterior(self, clean: int) -> Number:
        """Chance that the suspect carries after so many offspring, all clean.

        Raises:
            ValueError: the number is negative, or so many clean offspring are impossible.

        >>> [str(against_carrier(Fraction(2, 3)).posterior(n)) for n in (0, 1, 2, 3)]
        ['2/3', '3/5', '9/17', '27/59']
        """
        carrying = self._missed(clean, True)
        total = carrying + self._missed(clean, False)
        if not total:
            raise ValueError(f"{clean} clean offspring are impossible from this pair")
        return carrying / total

    def posteriors(self, most: int) -> tuple[Number, ...]:
        """The chances after 0, 1, …, `most` clean offspring."""
        return tuple(self.posterior(n) for n in range(most + 1))

    def eggs_to_detect(self, confidence: Number) -> int | None:
        """Smallest number of offspring among which a carrier shows itself with this chance.

        The rule of the breeding tables, without the suspect's prior, and strict: 17 for 99 %
        from a carrier mate, not 16, since 1 - (3/4)^16 = 98.998 %.  `None` where no number
        does, because the mate may not carry (or the suspect cannot).

        Raises:
            ValueError: the confidence is not from 0 to 1.

        >>> [against_carrier(HALF).eggs_to_detect(c) for c in (0.95, 0.99)]
        [11, 17]
        >>> [against_visual(HALF).eggs_to_detect(c) for c in (0.95, 0.99)]
        [5, 7]
        """
        carriers = self._carriers()
        return eggs_needed(carriers, confidence) if carriers else None

    def eggs_to_exclude(self, threshold: Number) -> int | None:
        """Smallest number of clean offspring after which P(carrier) is at most the threshold.

        With the suspect's prior, unlike `eggs_to_detect`.  `None` where no number does.

        Raises:
            ValueError: the threshold is not from 0 to 1.

        >>> against_carrier(Fraction(2, 3)).eggs_to_exclude(0.01)
        19
        """
        _check("threshold", threshold)
        bound = as_written(threshold)
        carriers = self._carriers()
        if not carriers or bound == 1:
            return 0
        clear = self._missed(0, False)
        # C_n / (C_n + N) <= t  is the same as  C_n / C_0 <= t N / ((1 - t) C_0).
        left = bound * clear / ((1 - bound) * self._missed(0, True))
        # A small float would lose its digits in the difference; as a fraction it keeps them.
        return 0 if left >= 1 else eggs_needed(carriers, 1 - Fraction(left))

    def settled(self, size: ClutchSize, threshold: Number, clutches: int = 1) -> Settled:
        """Chances that a season of so many clutches settles the question.

        Proven: at least one offspring shows.  Excluded: all are clean, and they are enough for
        P(carrier) to be at most the threshold.

        Raises:
            ValueError: the threshold is not from 0 to 1, or clutches is negative.

        >>> from genetics.clutch_size import FixedClutch
        >>> against_visual(HALF).settled(FixedClutch(7), 0.01)
        Settled(proven=Fraction(127, 256), excluded=Fraction(129, 256))
        """
        season = size.times(clutches)
        clean_by_row = [(row.weight, season.pgf(1 - row.chance)) for row in self.rows]
        clean = sum((w * g for w, g in clean_by_row), start=Fraction(0))
        needed = self.eggs_to_exclude(threshold)
        if needed is None:
            return Settled(max(Fraction(0), 1 - clean), Fraction(0))
        too_few = sum((season.pmf(n) * self.clean(n) for n in range(needed)), start=Fraction(0))
        # Differences of nearly equal floats may fall a hair below 0.
        return Settled(max(Fraction(0), 1 - clean), max(Fraction(0), clean - too_few))

    def information(self, offspring: int) -> float:
        """Mutual information in bits between carrying and the looks of so many offspring.

        I = H(prior) - P(all clean) H(posterior after all clean), since one offspring that shows
        leaves nothing open; H is the binary entropy.

        >>> round(against_visual(HALF).information(1), 6)
        0.311278
        """
        clean = float(self.clean(offspring))
        left = clean * _entropy(float(self.posterior(offspring))) if clean else 0.0
        return max(0.0, _entropy(float(self.prior)) - left)

    def information_per_egg(self, offspring: int = 1) -> float:
        """Expected information per egg, in bits, over so many eggs.

        Raises:
            ValueError: the number is below 1.
        """
        if offspring < 1:
            raise ValueError(f"offspring: {offspring} is not accepted; expected 1 or more")
        return self.information(offspring) / offspring

    def _missed(self, n: int, carrier: bool) -> Number:
        """Chance that the suspect carries (or does not) and that n offspring are clean."""
        if n < 0:
            raise ValueError(f"{n} offspring are not accepted; expected 0 or more")
        masses = (r.weight * (1 - r.chance) ** n for r in self.rows if r.carrier is carrier)
        return sum(masses, start=Fraction(0))

    def _carriers(self) -> list[tuple[Number, Number]]:
        """Chances given that the suspect carries; empty if it cannot."""
        total = self._missed(0, True)
        if not total:
            return []
        return [(r.weight / total, r.chance) for r in self.rows if r.carrier and r.weight]


def against_visual(prior: Number, *, penetrance: Number = 1) -> Mating:
    """Mating of a possible carrier with a homozygous (visual) mate: r = penetrance/2.

    Raises:
        ValueError: a number is not from 0 to 1.
    """
    return _against(prior, HALF, penetrance)


def against_carrier(prior: Number, *, penetrance: Number = 1) -> Mating:
    """Mating of a possible carrier with a proven carrier: r = penetrance/4.

    Raises:
        ValueError: a number is not from 0 to 1.
    """
    return _against(prior, QUARTER, penetrance)


def against_possible_carrier(prior: Number, mate: Number, *, penetrance: Number = 1) -> Mating:
    """Mating with one mate that is a carrier with chance `mate`, independent of the suspect.

    Raises:
        ValueError: a number is not from 0 to 1.
    """
    _check("prior", prior)
    _check("mate", mate)
    p, m = _exact(prior), _exact(mate)
    joint = {
        (True, True): p * m,
        (True, False): p * (1 - m),
        (False, True): (1 - p) * m,
        (False, False): (1 - p) * (1 - m),
    }
    return against_pair(joint, penetrance=penetrance)


def against_pair(joint: Mapping[tuple[bool, bool], Number], *, penetrance: Number = 1) -> Mating:
    """Mating of a pair known only jointly: chance by (suspect carries, mate carries).

    Raises:
        ValueError: a number is not from 0 to 1, or the chances do not sum to 1.
    """
    _check("penetrance", penetrance)
    r = QUARTER * _exact(penetrance)
    return _merged(
        [(_exact(p), both[0], r if all(both) else Fraction(0)) for both, p in joint.items()]
    )


def against_kinds(prior: Number, kinds: Sequence[tuple[Number, Number]]) -> Mating:
    """Mating of a possible carrier, by what one offspring shows if it is one: pairs (weight, r).

    The weights are those of what the couple may be given that the suspect carries; they are
    brought to a sum of 1.

    Raises:
        ValueError: a number is not from 0 to 1, or no kind has any weight.

    >>> against_kinds(HALF, [(1, HALF)]) == against_visual(HALF)
    True
    """
    _check("prior", prior)
    p, whole = _exact(prior), sum((_exact(weight) for weight, _ in kinds), start=Fraction(0))
    if not whole:
        raise ValueError("no kind of the couple has any weight; expected one that may be")
    rows: list[tuple[Number, bool, Number]] = [(1 - p, False, Fraction(0))]
    rows = [(p * _exact(weight) / whole, True, _exact(r)) for weight, r in kinds] + rows
    return _merged(rows)


def against_many(prior: Number, mates: Number, *, penetrance: Number = 1) -> Mating:
    """Every offspring from another mate, each a carrier with chance `mates`: r = mates/4.

    A sire over his own daughters has `mates` = 1/2, over normal sibs of visuals 2/3.

    Raises:
        ValueError: a number is not from 0 to 1.

    >>> against_many(HALF, Fraction(1, 2)).eggs_to_detect(0.99)
    35
    """
    _check("mates", mates)
    return _against(prior, QUARTER * _exact(mates), penetrance)


def mating_query(suspect: str, mate: str, locus: str) -> tuple[tuple[str, str], ...]:
    """The (animal, locus) pairs whose joint table a mating needs of `genetics.solve`."""
    return ((suspect, locus), (mate, locus))


def matings(
    solved: Solved,
    suspect: str,
    mates: Sequence[str],
    locus: str,
    *,
    keys: Sequence[str] = (),
    penetrance: Number = 1,
) -> dict[str, Mating]:
    """The mating of a suspect with each mate, from the joint posterior of the two genotypes.

    A carrier has at least one mutant allele at the locus (at any line taken for the same locus).
    An offspring shows the trait, with the penetrance, if its genotype is among `keys`; without
    keys, if it has two mutant alleles.

    Raises:
        MalformedCase: no animal or locus has that id, or a key is misspelled.
        ValueError: the sexes are not known and opposite, the penetrance is not from 0 to 1, or
            an offspring of a non-carrier could show the trait.
        BeyondExact: a joint posterior is beyond exact inference.
    """
    population = solved.population
    _check("penetrance", penetrance)
    for animal in (suspect, *mates):
        if animal not in population.animal_index:
            refuse_unknown("mating", "animal", animal, list(population.animal_index))
    if locus not in population.locus_index:
        refuse_unknown("mating", "locus", locus, list(population.locus_index))
    for key in keys:
        record = population.loci[population.locus_index[locus]]
        check_key(key, record, population.sex_determination, "unknown", "keys")
    for mate in mates:
        _check_sexes(population, suspect, mate)
    asked = solved.asked([mating_query(suspect, mate, locus) for mate in mates])
    return {mate: _from_posterior(asked, suspect, mate, locus, keys, penetrance) for mate in mates}


@dataclass(frozen=True, slots=True)
class MateReport:
    """One mate in a ranking, with what a season with it is worth.

    Attributes:
        to_detect, to_exclude: see `Mating`; `None` where no number of eggs does.
        settled: chances that the season settles the question.
        information: bits per egg, over the mean number of hatchlings of the season (at least 1).
    """

    mate: str
    to_detect: int | None
    to_exclude: int | None
    settled: Settled
    information: float


def rank_mates(
    pairs: Mapping[str, Mating],
    size: ClutchSize,
    *,
    confidence: Number,
    threshold: Number,
    clutches: int = 1,
) -> list[MateReport]:
    """Mates, the one most likely to settle the question within the season first.

    Ties go to the more informative egg, then to the name.

    Raises:
        ValueError: the confidence or the threshold is not from 0 to 1, or clutches is negative.
    """
    hatchlings = max(1, round(size.times(clutches).hatchlings))
    reports = [
        MateReport(
            mate,
            mating.eggs_to_detect(confidence),
            mating.eggs_to_exclude(threshold),
            mating.settled(size, threshold, clutches),
            mating.information_per_egg(hatchlings),
        )
        for mate, mating in pairs.items()
    ]
    return sorted(reports, key=lambda r: (-r.settled.chance, -r.information, r.mate))


def _against(prior: Number, chance: Number, penetrance: Number) -> Mating:
    _check("prior", prior)
    _check("penetrance", penetrance)
    p = _exact(prior)
    return _merged([(p, True, chance * _exact(penetrance)), (1 - p, False, Fraction(0))])


def _merged(rows: Sequence[tuple[Number, bool, Number]]) -> Mating:
    """One row for all states that give the same chance."""
    weights: dict[tuple[bool, Number], Number] = defaultdict(Fraction)
    for weight, carrier, chance in rows:
        weights[carrier, chance] = weights[carrier, chance] + weight
    return Mating(tuple(Row(w, carrier, r) for (carrier, r), w in weights.items()))


def _check_sexes(population: Population, suspect: str, mate: str) -> None:
    sexes = {population.sexes[population.animal_index[animal]] for animal in (suspect, mate)}
    if sexes != {"female", "male"}:
        raise ValueError(
            f"the sexes of {suspect!r} and {mate!r} are {' and '.join(sorted(sexes))}; "
            "expected a female and a male"
        )


def _from_posterior(
    solved: Solved,
    suspect: str,
    mate: str,
    locus: str,
    keys: Sequence[str],
    penetrance: Number,
) -> Mating:
    rows: list[tuple[Number, bool, Number]] = []
    for world, share in zip(solved.worlds, solved.chance, strict=True):
        for weight, carrier, chance in _pairs(solved.population, world, suspect, mate, locus, keys):
            rows.append((share * weight, carrier, float(penetrance) * chance))
    # Rounding in the engine's sums must not make the weights differ from 1.
    total = math.fsum(float(weight) for weight, _, _ in rows)
    return _merged([(weight / total, carrier, chance) for weight, carrier, chance in rows])


def _pairs(
    population: Population, world: World, suspect: str, mate: str, locus: str, keys: Sequence[str]
) -> list[tuple[float, bool, float]]:
    """States of a pair in one hypothesis: posterior, whether the suspect carries, chance r."""
    k = world.model.place(locus)
    space = world.model.spaces[k]
    index = population.animal_index
    own, other = index[suspect], index[mate]
    from genetics.model import genotype

    nodes = tuple(sorted(genotype(k, i) for i in (own, other)))
    table = world.group_of[k].joint[nodes]
    position = space.locus_position(locus)
    carried = space.copies[position] >= 1
    shows = space.accepts(locus, keys) if keys else space.copies[position] >= 2
    # Where sex-linked without viability, children sum to 1 within each sex, so to 2 in all.
    scale = 2.0 if space.sex_linked and not space.carries_sex else 1.0
    first_is_dam = population.sexes[min(own, other)] == "female"
    found = []
    for cell in np.argwhere(table > 0):
        first, second = (int(state) for state in cell)
        dam, sire = (first, second) if first_is_dam else (second, first)
        chance = float(space.table[dam, sire, shows].sum()) / scale
        carrier = bool(carried[first if own < other else second])
        # The same chance must not fall apart into rows by rounding errors.
        found.append((float(table[first, second]), carrier, min(1.0, round(chance, 15))))
    return found


def _entropy(p: float) -> float:
    return -sum(x * math.log2(x) for x in (p, 1.0 - p) if x > 0)


def _exact(value: Number) -> Number:
    return Fraction(value) if isinstance(value, int) else value


def _check(name: str, value: Number) -> None:
    # The comparison is false for NaN; weights in floating point may pass 1 by rounding.
    high = 1 + 1e-9 if isinstance(value, float) and name == "weight" else 1
    if isinstance(value, bool) or not 0 <= value <= high:
        raise ValueError(f"{name}: {value} is not accepted; expected a number from 0 to 1")
