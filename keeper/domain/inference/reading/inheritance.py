"""A species' loci, lines and traits in the words of `genetics`, and which belong together."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from itertools import combinations_with_replacement, product
from typing import TypedDict, cast

import genetics
from keeper import models as m
from keeper.domain.inference.reading import register
from keeper.domain.inference.reading.asked_traits import twice_told
from keeper.domain.inference.reading.combinations import combinations, meets
from keeper.domain.inference.reading.maps import chains, over_the_missing
from keeper.domain.inference.reading.statements import pair_prior, words_on

WILD = "+"


@dataclass(frozen=True)
class LocusGroup:
    """Loci of which the numbers depend on one another, with their lines and traits (ids)."""

    loci: frozenset[int]
    traits: frozenset[int]
    lines: frozenset[int]
    open: bool


class EngineParts(TypedDict):
    """The arguments of an engine's `Population` that inheritance decides."""

    loci: tuple[genetics.Locus, ...]
    traits: tuple[genetics.Trait, ...]
    sex_determination: genetics.SexDetermination
    linkage: tuple[genetics.Linkage, ...]
    viability: tuple[genetics.Viability, ...]
    background: dict[str, dict[str, Fraction]]
    same_locus: tuple[genetics.SameLocus, ...]


@dataclass
class Inheritance:
    """The live inheritance of one species, read once."""

    species: m.Species
    loci: dict[int, m.Locus]
    lines: dict[int, m.Line]
    traits: dict[int, m.Trait]
    conditions: dict[int, list[list[tuple[str, frozenset[int]]]]]
    hides: dict[int, frozenset[int]]
    intervals: list[m.Interval]
    survivals: list[m.Survival]
    open_pairs: list[m.OpenPair]
    pair_words: list[m.PairWord]
    _loci: dict[int, genetics.Locus] = field(default_factory=dict)

    @classmethod
    def load(cls, species: m.Species) -> "Inheritance":
        """Read it; what cannot be shown by any line is left out."""
        loci = {one.pk: one for one in register.LOCI.of([species.pk])}
        lines = {one.pk: one for one in register.LINES.of(loci)}
        traits = {one.pk: one for one in register.TRAITS.of([species.pk])}
        hides: dict[int, set[int]] = defaultdict(set)
        for hider, hidden in register.HIDES.rows(traits):
            hides[hider].add(hidden)
        there = {one.locus_id for one in lines.values()}
        return cls(
            species,
            {pk: one for pk, one in loci.items() if pk in there},
            lines,
            traits,
            combinations(lines),
            {pk: frozenset(found) for pk, found in hides.items()},
            over_the_missing(list(register.INTERVALS.of(loci)), there),
            list(register.SURVIVALS.of(loci)),
            list(register.OPEN_PAIRS.of(lines)),
            words_on(lines),
        )

    @cached_property
    def at_locus(self) -> dict[int, tuple[m.Line, ...]]:
        """The lines at each locus, in the order of the locus's alleles."""
        found: dict[int, list[m.Line]] = {pk: [] for pk in self.loci}
        for line in self.lines.values():
            found[line.locus_id].append(line)
        return {pk: tuple(lines) for pk, lines in found.items()}

    def lines_of(self, trait: m.Trait) -> tuple[m.Line, ...]:
        """The lines of a trait, or of its base if it is a double form."""
        owner = trait.base_id or trait.pk
        return tuple(line for line in self.lines.values() if line.trait_id == owner)

    def lines_showing(self, trait: m.Trait) -> set[int]:
        """The lines whose copies can show a trait; what a combination must not have is none."""
        found = {line.pk for line in self.lines_of(trait)}
        for parts in self.conditions.get(trait.pk, []):
            found |= {pk for dose, lines in parts if dose != m.Dose.ABSENT for pk in lines}
        return found

    def loci_of(self, trait: m.Trait) -> frozenset[int]:
        """Every locus that decides whether the trait is expressed."""
        found = {line.locus_id for line in self.lines_of(trait)}
        if trait.shown == m.Shown.RULES:
            for parts in self.conditions.get(trait.pk, []):
                found |= {self.lines[pk].locus_id for _, lines in parts for pk in lines}
        return frozenset(found)

    @cached_property
    def shown_traits(self) -> tuple[m.Trait, ...]:
        """Traits that something can show."""
        return tuple(one for one in self.traits.values() if self.loci_of(one))

    @cached_property
    def groups(self) -> tuple[LocusGroup, ...]:
        """Loci that bear on one another: linked, in one trait, masking, sex-linked, undecided."""
        coupled = genetics.Components(self.loci)
        for together in self._couplings():
            for other in together:
                coupled.join(other, min(together))
        return tuple(self._group(frozenset(loci)) for loci in coupled.members())

    def _couplings(self) -> Iterator[set[int]]:
        for trait in self.shown_traits:
            loci = set(self.loci_of(trait))
            yield set(loci)
            hidden = (
                self.shown_traits
                if trait.hides_all
                else [self.traits[pk] for pk in self.hides.get(trait.pk, ())]
            )
            for other in hidden:
                yield loci | self.loci_of(other)
        for interval in self.intervals:
            yield {interval.left_id, interval.right_id}
        for pair in self.open_pairs:
            yield {self.lines[pair.one_id].locus_id, self.lines[pair.other_id].locus_id}
        yield {pk for pk, one in self.loci.items() if one.chromosome != m.Chromosome.AUTOSOME}

    def _group(self, loci: frozenset[int]) -> LocusGroup:
        lines = frozenset(pk for pk, line in self.lines.items() if line.locus_id in loci)
        traits = frozenset(one.pk for one in self.shown_traits if self.loci_of(one) <= loci)
        return LocusGroup(loci, traits, lines, any(p.one_id in lines for p in self.open_pairs))

    # --- in the words of genetics -------------------------------------------------------------

    def locus(self, pk: int) -> genetics.Locus:
        """A locus as `genetics` knows it: alleles are line codes after the wild type."""
        if pk not in self._loci:
            one = self.loci[pk]
            seats: dict[str, genetics.Chromosome] = {
                m.Chromosome.AUTOSOME: "autosome",
                m.Chromosome.BOTH: "sex",
                m.Chromosome.ONE: "X" if self.species.sex_determination == "XY" else "Z",
            }
            chromosome = seats[one.chromosome]
            self._loci[pk] = genetics.Locus(
                id=one.name,
                alleles=(WILD, *(line.code for line in self.at_locus[pk])),
                chromosome=chromosome,
                recombination=one.recombination if chromosome == "sex" else 0,
            )
        return self._loci[pk]

    @property
    def sex_determination(self) -> genetics.SexDetermination:
        """How the species' sex is determined, in the engine's words."""
        if not self.species.has_sex_chromosomes:
            return "none"
        # The database holds no other value.
        return cast("genetics.SexDetermination", self.species.sex_determination)

    @property
    def heterogametic(self) -> str | None:
        """The sex with two different sex chromosomes, if there is one."""
        return {"XY": "male", "ZW": "female"}.get(self.species.sex_determination)

    def single_mark(self, pk: int) -> str | None:
        """How the missing copy of the heterogametic sex is written, if there is one."""
        if self.loci[pk].chromosome != m.Chromosome.ONE:
            return None
        return "Y" if self.species.sex_determination == "XY" else "W"

    def keys(self, pk: int) -> list[tuple[str, tuple[int | None, ...]]]:
        """Genotype keys at a locus with the lines of their copies; None is the wild type."""
        alleles: list[tuple[str, int | None]] = [(WILD, None)]
        alleles += [(line.code, line.pk) for line in self.at_locus[pk]]
        found: list[tuple[str, tuple[int | None, ...]]] = [
            (f"{a}/{b}", (x, y)) for (a, x), (b, y) in combinations_with_replacement(alleles, 2)
        ]
        mark = self.single_mark(pk)
        if mark:
            found += [(f"{a}/{mark}", (x,)) for a, x in alleles]
        return found

    def wild_keys(self, pk: int, sex: str) -> list[str]:
        """How an animal without any line at the locus is written: both ways if its sex may be."""
        mark = self.single_mark(pk)
        hetero = self.heterogametic
        if mark is None or sex not in (hetero, m.Sex.UNKNOWN):
            return [f"{WILD}/{WILD}"]
        single = f"{WILD}/{mark}"
        return [single] if sex == hetero else [f"{WILD}/{WILD}", single]

    def engine_parts(
        self,
        loci: frozenset[int],
        traits: Iterable[int],
        contradicted: Collection[int] = (),
    ) -> EngineParts:
        """The arguments of a `Population` that inheritance decides.

        Looks at a `contradicted` trait are two records: it is there twice, the other time `again`.
        """
        names = {pk: self.traits[pk].name for pk in traits}
        twice = {self.traits[pk].name for pk in contradicted}
        return {
            "loci": tuple(self.locus(pk) for pk in self.loci if pk in loci),
            "traits": tuple(
                twice_told((self._trait(self.traits[pk], names) for pk in sorted(names)), twice)
            ),
            "sex_determination": self.sex_determination,
            "linkage": tuple(self._linkage(loci)),
            "viability": tuple(self._viability(loci)),
            "background": self._background(loci),
            "same_locus": tuple(
                genetics.SameLocus(
                    loci=(
                        self.loci[self.lines[pair.one_id].locus_id].name,
                        self.loci[self.lines[pair.other_id].locus_id].name,
                    ),
                    prior=pair_prior(pair, self.pair_words),
                )
                for pair in self.open_pairs
                if self.lines[pair.one_id].locus_id in loci
            ),
        }

    def _trait(self, trait: m.Trait, names: dict[int, str]) -> genetics.Trait:
        # "All others" are named, so that what is asked as if it were a trait is not hidden.
        hidden = names.keys() - {trait.pk} if trait.hides_all else self.hides.get(trait.pk, ())
        hides = tuple(names[pk] for pk in sorted(hidden) if pk in names)
        if self._follows_loci(trait):
            loci = sorted(self.loci_of(trait))
            return genetics.Trait(
                id=trait.name, recessive_at=tuple(self.loci[pk].name for pk in loci), hides=hides
            )
        return genetics.Trait(id=trait.name, shown_by=tuple(self._shown_by(trait)), hides=hides)

    def hidden_by(self, seen: Iterable[int]) -> set[int]:
        """The traits that cannot be seen on an animal that shows some."""
        found: set[int] = set()
        for pk in seen:
            trait = self.traits.get(pk)
            if trait is not None:
                found |= self.traits.keys() if trait.hides_all else self.hides.get(pk, frozenset())
        return found

    def with_forms(self, trait: int) -> list[int]:
        """A trait and its double forms."""
        return [trait, *(pk for pk, one in self.traits.items() if one.base_id == trait)]

    def tested(self, line: int, copies: str, name: str) -> genetics.Trait:
        """The question whether an animal has so many copies of a line, as a trait."""
        locus = self.lines[line].locus_id
        wanted = {m.Found.ONE: {1}, m.Found.TWO: {2}}.get(m.Found(copies), {1, 2})
        keys = tuple(key for key, have in self.keys(locus) if have.count(line) in wanted)
        return genetics.Trait(id=name, shown_by=({self.loci[locus].name: keys},))

    def worded(self, trait: int, line: int | None, claim: m.Claim, name: str) -> genetics.Trait:
        """The question whether a word on a trait is true, as a trait."""
        one = self.traits[trait]
        if claim == m.Claim.VISUAL and line is None:
            return genetics.Trait(id=name, shown_by=tuple(self._shown_by(one)))
        dose = m.Dose.ANY
        if claim == m.Claim.DOUBLE or (claim == m.Claim.VISUAL and one.shown == m.Shown.RECESSIVE):
            dose = m.Dose.EVERY
        lines = frozenset(a.pk for a in self.lines_of(one) if line in (None, a.pk))
        return genetics.Trait(id=name, shown_by=tuple(self._met(dose, lines)))

    def _met(self, dose: str, among: frozenset[int]) -> Iterator[dict[str, tuple[str, ...]]]:
        for place in self._places(dose, among):
            yield {self.loci[pk].name: keys for pk, keys in place.items() if keys}

    def _follows_loci(self, trait: m.Trait) -> bool:
        """Whether the trait can be written so that it follows loci that turn out to be one."""
        return trait.shown == m.Shown.RECESSIVE and all(
            self.loci[pk].chromosome != m.Chromosome.ONE
            and all(line.trait_id == trait.pk for line in self.at_locus[pk])
            for pk in self.loci_of(trait)
        )

    def _shown_by(self, trait: m.Trait) -> Iterator[dict[str, tuple[str, ...]]]:
        dose = {
            m.Shown.RECESSIVE: m.Dose.EVERY,
            m.Shown.EVERY: m.Dose.EVERY,
            m.Shown.DOMINANT: m.Dose.ANY,
            m.Shown.SINGLE: m.Dose.SINGLE,
        }.get(m.Shown(trait.shown))
        lines = frozenset(line.pk for line in self.lines_of(trait))
        rules = self.conditions.get(trait.pk, []) if dose is None else [[(str(dose), lines)]]
        for parts in rules:
            for choice in product(*(list(self._places(one, among)) for one, among in parts)):
                accepted: dict[str, tuple[str, ...]] = {}
                for place in choice:
                    for pk, keys in place.items():
                        name = self.loci[pk].name
                        accepted[name] = tuple(k for k in accepted.get(name, keys) if k in keys)
                if all(accepted.values()):
                    yield accepted

    def shows(self, trait: int, copies: Mapping[int, tuple[int, ...]]) -> bool:
        """Whether lines by locus make one of the combinations of a trait."""

        def holds(dose: str, among: frozenset[int]) -> bool:
            met = [
                meets(dose, (*copies.get(locus, ()), None, None)[:2], among)
                for locus in {self.lines[pk].locus_id for pk in among}
            ]
            return all(met) if dose == m.Dose.ABSENT else any(met)

        return any(
            all(holds(dose, among) for dose, among in parts)
            for parts in self.conditions.get(trait, [])
        )

    def _places(self, dose: str, among: frozenset[int]) -> Iterator[dict[int, tuple[str, ...]]]:
        """The ways in which a dose of some lines can be met: locus → keys."""
        loci = sorted({self.lines[pk].locus_id for pk in among})
        met = {
            pk: tuple(key for key, copies in self.keys(pk) if meets(dose, copies, among))
            for pk in loci
        }
        if dose == m.Dose.ABSENT:
            yield met
        else:
            yield from ({pk: keys} for pk, keys in met.items())

    def _linkage(self, loci: frozenset[int]) -> Iterator[genetics.Linkage]:
        for chain, between in chains(self.intervals, loci):
            yield genetics.Linkage(
                loci=tuple(self.loci[one].name for one in chain),
                recombination=tuple(
                    genetics.Interval(female=one.female, male=one.male) for one in between
                ),
            )

    def retained(self, loci: Collection[int]) -> tuple[tuple[str, Fraction], ...]:
        """How often some loci stay as their dam's in young of hers alone; not named: never.

        Loci that never come apart, or may be one, stay together: as often as the least of them.
        """
        pieces = genetics.Components(sorted(loci))
        ties = [
            (self.lines[p.one_id].locus_id, self.lines[p.other_id].locus_id)
            for p in self.open_pairs
        ]
        ties += [(i.left_id, i.right_id) for i in self.intervals if not (i.female or i.male)]
        for one, other in ties:
            if one in loci and other in loci:
                pieces.join(one, other)
        least: dict[int, Fraction] = {}
        for pk in loci:
            chance, head = Fraction(self.loci[pk].retained), pieces.head(pk)
            least[head] = min(least.get(head, chance), chance)
        return tuple(
            (self.loci[pk].name, least[pieces.head(pk)])
            for pk in sorted(loci)
            if least[pieces.head(pk)]
        )

    def _viability(self, loci: frozenset[int]) -> Iterator[genetics.Viability]:
        for one in self.survivals:
            if one.locus_id not in loci:
                continue
            wanted = sorted([one.one_id, one.other_id or 0])
            for key, copies in self.keys(one.locus_id):
                pair = [line or 0 for line in copies]
                # A single copy of a sex-linked line fares like two.
                if sorted(pair * 2 if len(pair) == 1 else pair) == wanted:
                    yield genetics.Viability(
                        locus=self.loci[one.locus_id].name, genotype=key, survival=one.survival
                    )

    def _background(self, loci: frozenset[int]) -> dict[str, dict[str, Fraction]]:
        found: dict[str, dict[str, Fraction]] = {}
        for line in self.lines.values():
            if line.locus_id in loci and line.background:
                found.setdefault(self.loci[line.locus_id].name, {})[line.code] = line.background
        return found


def codes_of(key: str) -> list[str]:
    """The alleles in a genotype key, whatever stands between them."""
    return key.replace("|", "/").split("/")
