"""The brute-force twin's genetics: chromosomes, gametes, hatchlings, founders, what shows.

Everything here is for one hypothesis of which lines are one locus. Written for plainness, not
speed, from the contract alone; it shares no code with the engine it checks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import combinations_with_replacement, pairwise, product
from typing import Any, TypeVar

T = TypeVar("T")

Case = dict[str, Any]
Haplotype = tuple[str, ...]
"""The alleles on one chromosome segment, one for each locus of the segment."""
Copies = tuple[Haplotype, ...]
"""One animal's haplotypes of one segment: a sorted pair, a lone one, or (on X, on Y)."""
State = tuple[str, tuple[Copies, ...]]
"""One animal: its sex, and its haplotypes of every segment."""
Alleles = tuple[str, ...]
"""One animal's alleles of one locus: a pair in list order, a lone one, or (on X, on Y)."""
Statement = list[tuple[float, dict[str, dict[Alleles, float]]]]
"""What is said of a founder: rows of (probability, locus -> alleles -> probability)."""

FEMALE, MALE = "female", "male"
SEXES = (FEMALE, MALE)
NOBODY = "none"
"""In place of a sex: the state of no sire."""


@cache
def number(value: Any) -> Fraction:
    """The number that a case file means, exactly: decimals as written, or a fraction."""
    return Fraction(value if isinstance(value, str) else str(value))


@dataclass(frozen=True)
class Segment:
    """Loci inherited together: a lone locus, a linkage group, or lines that are one locus.

    Lines that are one locus are a segment without recombination on which no haplotype carries
    more than one mutant allele, which is what being alleles of one locus means.
    """

    loci: tuple[str, ...]
    kind: str
    recombination: Mapping[str, tuple[float, ...]]
    one_locus: bool = False


class Genome:
    """All that is known of inheritance in a case, given which lines are one locus."""

    def __init__(self, case: Case, classes: Iterable[Sequence[str]] = ()) -> None:
        self.case = case
        self.alleles: dict[str, list[str]] = {lc["id"]: lc["alleles"] for lc in case["loci"]}
        self.kinds = {lc["id"]: _kind(lc) for lc in case["loci"]}
        self.heterogametic = {"XY": MALE, "ZW": FEMALE}.get(case["sex_determination"])
        females = number(case.get("females", "1/2"))
        self.share = {FEMALE: float(females), MALE: float(1 - females)}
        self.letter = {"XY": "Y", "ZW": "W"}.get(case["sex_determination"], "")
        self.segments = _segments(case, [tuple(c) for c in classes])
        self.place = {
            locus: (i, j)
            for i, segment in enumerate(self.segments)
            for j, locus in enumerate(segment.loci)
        }
        self._survivals: dict[str, dict[str, float]] = {locus: {} for locus in self.alleles}
        for entry in case.get("viability", []):
            self._survivals[entry["locus"]][entry["genotype"]] = float(number(entry["survival"]))
        self._offspring: dict[tuple[State, State], dict[State, float]] = {}
        self._visible: dict[State, frozenset[str]] = {}

    # ---- genotype keys -------------------------------------------------------------------

    def possible_alleles(self, locus: str, sex: str) -> list[Alleles]:
        """Every genotype that an animal of this sex can have at this locus."""
        names = self.alleles[locus]
        if sex == self.heterogametic and self.kinds[locus] == "X":
            return [(a,) for a in names]
        if sex == self.heterogametic and self.kinds[locus] == "sex":
            return [(a, b) for a in names for b in names]
        return list(combinations_with_replacement(names, 2))

    def write_key(self, locus: str, sex: str, alleles: Alleles) -> str:
        """The key of a genotype as answers spell it."""
        if len(alleles) == 1:
            return f"{alleles[0]}/{self.letter}"
        if sex == self.heterogametic and self.kinds[locus] == "sex":
            return "|".join(alleles)
        return "/".join(alleles)

    def read_key(self, locus: str, sex: str, key: str) -> dict[Alleles, float]:
        """The genotypes a key stands for in this sex, equally likely; none if impossible."""
        exact = {self.write_key(locus, sex, g): g for g in self.possible_alleles(locus, sex)}
        if key in exact:
            return {exact[key]: 1.0}
        if sex == self.heterogametic and self.kinds[locus] == "sex" and "/" in key:
            a, b = key.split("/")
            both = {(a, b), (b, a)}
            return {g: 1.0 / len(both) for g in both}
        return {}

    def alleles_at(self, locus: str, state: State) -> Alleles:
        """The alleles of one locus (for lines that are one locus: as that line reports it)."""
        i, j = self.place[locus]
        found = [haplotype[j] for haplotype in state[1][i]]
        if state[0] == self.heterogametic and self.kinds[locus] != "autosome":
            return tuple(found)
        return tuple(sorted(found, key=self.alleles[locus].index))

    def key_at(self, locus: str, state: State) -> str:
        """The genotype key of an animal at a locus."""
        return self.write_key(locus, state[0], self.alleles_at(locus, state))

    def is_key(self, locus: str, state: State, key: str) -> bool:
        """Whether the animal's genotype is one that the key covers."""
        return self.alleles_at(locus, state) in self.read_key(locus, state[0], key)

    def weight_of(
        self, locus: str, state: State, weights: Mapping[str, float], default: float
    ) -> float:
        """The weight that a table by genotype key gives to an animal; the exact key wins."""
        own = self.key_at(locus, state)
        if own in weights:
            return weights[own]
        for key, weight in weights.items():
            if self.is_key(locus, state, key):
                return weight
        return default

    # ---- from parents to hatchlings ------------------------------------------------------

    def gametes(self, i: int, parent: State, gives_x: bool) -> dict[Haplotype | None, float]:
        """What a parent's gamete holds of segment i, given the sex chromosome it carries."""
        segment, copies = self.segments[i], parent[1][i]
        if parent[0] == self.heterogametic and segment.kind == "X":
            return {copies[0]: 1.0} if gives_x else {None: 1.0}
        if parent[0] == self.heterogametic and segment.kind == "sex":
            on_x, on_y = copies
            exchanged = segment.recombination[parent[0]][0]
            same, other = (on_x, on_y) if gives_x else (on_y, on_x)
            return _add_up([(same, 1 - exchanged), (other, exchanged)])
        rates = segment.recombination[parent[0]] if segment.kind == "autosome" else ()
        found: list[tuple[Haplotype | None, float]] = []
        for strands in product((0, 1), repeat=len(segment.loci)):
            chance = 0.5
            for rate, (here, there) in zip(rates, pairwise(strands), strict=True):
                chance *= rate if here != there else 1 - rate
            found.append((tuple(copies[s][j] for j, s in enumerate(strands)), chance))
        return _add_up(found)

    def _child_segment(
        self, i: int, dam: State, sire: State, sex: str
    ) -> list[tuple[Copies, float]]:
        """Haplotypes of segment i in a child of this sex, with their Mendelian chances."""
        kind = self.segments[i].kind
        dam_gives_x = not (self.heterogametic == FEMALE and sex == FEMALE)
        sire_gives_x = not (self.heterogametic == MALE and sex == MALE)
        found: list[tuple[Copies, float]] = []
        from_dam = self.gametes(i, dam, dam_gives_x)
        from_sire = self.gametes(i, sire, sire_gives_x)
        for (egg, p), (sperm, q) in product(from_dam.items(), from_sire.items()):
            if sex == self.heterogametic and kind != "autosome":
                on_x, on_y = (egg, sperm) if dam_gives_x else (sperm, egg)
                assert on_x is not None
                copies: Copies = (on_x,) if on_y is None else (on_x, on_y)
            else:
                assert egg is not None and sperm is not None
                copies = self.pair(egg, sperm)
            found.append((copies, p * q))
        return list(_add_up(found).items())

    def pair(self, one: Haplotype, other: Haplotype) -> Copies:
        """An unordered pair of haplotypes."""
        return (one, other) if one <= other else (other, one)

    def survival(self, state: State) -> float:
        """The chance to survive from egg to hatchling, relative to the other genotypes."""
        chance = 1.0
        for locus, table in self._survivals.items():
            chance *= self.weight_of(locus, state, table, 1.0) if table else 1.0
        return chance

    def offspring(self, dam: State, sire: State) -> dict[State, float]:
        """One hatchling of a couple: P(sex and genotype); empty if none can survive."""
        if sire[0] == NOBODY and (dam, sire) not in self._offspring:
            from tests.genetics.twin_alone import hatchlings_alone, retained_of

            self._offspring[dam, sire] = hatchlings_alone(self, dam, retained_of(sire))
        if (dam, sire) not in self._offspring:
            weights: dict[State, float] = {}
            for sex in SEXES:
                parts = [self._child_segment(i, dam, sire, sex) for i in range(len(self.segments))]
                for choice in product(*parts):
                    state = (sex, tuple(copies for copies, _ in choice))
                    chance = self.share[sex]
                    for _, p in choice:
                        chance *= p
                    weights[state] = weights.get(state, 0.0) + chance * self.survival(state)
            self._offspring[dam, sire] = _normalised(weights)
        return self._offspring[dam, sire]

    # ---- founders ------------------------------------------------------------------------

    def background(self, locus: str, sex: str) -> dict[Alleles, float]:
        """Hardy-Weinberg proportions of the background, times survival, renormalised."""
        stated = self.case.get("background", {}).get(locus, {})
        names = self.alleles[locus]
        frequency = {a: number(stated.get(a, 0)) for a in names[1:]}
        frequency[names[0]] = 1 - sum(frequency.values(), Fraction(0))
        weights: dict[Alleles, float] = {}
        for genotype in self.possible_alleles(locus, sex):
            chance = Fraction(1)
            for allele in genotype:
                chance *= frequency[allele]
            paired = not (sex == self.heterogametic and self.kinds[locus] != "autosome")
            if paired and genotype[0] != genotype[1]:
                chance *= 2
            weights[genotype] = float(chance) * self._locus_survival(locus, sex, genotype)
        return _normalised(weights)

    def _locus_survival(self, locus: str, sex: str, genotype: Alleles) -> float:
        survivals = self._survivals[locus]
        own = self.write_key(locus, sex, genotype)
        if own in survivals:
            return survivals[own]
        for key, survival in survivals.items():
            if genotype in self.read_key(locus, sex, key):
                return survival
        return 1.0

    def everything(self, locus: str, sex: str) -> dict[Alleles, float]:
        """Every genotype of a locus, equally likely."""
        found = self.possible_alleles(locus, sex)
        return {genotype: 1.0 / len(found) for genotype in found}

    def statement(self, animal: Mapping[str, Any], sex: str, free: Iterable[str]) -> Statement:
        """A founder's statements, given its sex; at the loci in `free` everything is possible."""
        fixed: dict[str, dict[Alleles, float]] = {}
        for locus, table in animal.get("founder", {}).items():
            weights: dict[Alleles, float] = {}
            for key, p in table.items():
                for genotype, share in self.read_key(locus, sex, key).items():
                    weights[genotype] = weights.get(genotype, 0.0) + share * float(number(p))
            fixed[locus] = _normalised(weights)
        for locus in free:
            fixed[locus] = self.everything(locus, sex)
        rows: Statement = []
        for row in animal.get("founder_joint") or [{"p": 1, "genotypes": {}}]:
            named = {lc: k for lc, k in row["genotypes"].items() if lc not in fixed}
            read = {lc: self.read_key(lc, sex, key) for lc, key in named.items()}
            if all(read.values()):
                rows.append((float(number(row["p"])), {**fixed, **read}))
        total = sum(p for p, _ in rows)
        return [(p / total, tables) for p, tables in rows]

    def founder(self, rows: Statement, sex: str) -> dict[State, float]:
        """A founder's sex-given states; a row that leaves nothing possible loses its share."""
        weights: dict[State, float] = {}
        for p, tables in rows:
            said = {
                lc: tables[lc] if lc in tables else self.background(lc, sex) for lc in self.alleles
            }
            parts = [list(self._founder_segment(s, said).items()) for s in self.segments]
            for choice in product(*parts):
                state = (sex, tuple(copies for copies, _ in choice))
                chance = p
                for _, share in choice:
                    chance *= share
                weights[state] = weights.get(state, 0.0) + chance
        return {state: w for state, w in weights.items() if w > 0}

    def _founder_segment(
        self, segment: Segment, said: Mapping[str, Mapping[Alleles, float]]
    ) -> dict[Copies, float]:
        """A founder's haplotypes of a segment: loci independent, every phase equally likely."""
        weights: dict[Copies, float] = {}
        for choice in product(*(said[locus].items() for locus in segment.loci)):
            genotypes = [genotype for genotype, _ in choice]
            chance = 1.0
            for _, p in choice:
                chance *= p
            if segment.one_locus:
                arrangements = self._as_one_locus(segment, genotypes)
            else:
                arrangements = self._phases(segment, genotypes)
            for copies, share in arrangements:
                weights[copies] = weights.get(copies, 0.0) + chance * share
        return _normalised(weights) if segment.one_locus else weights

    def _phases(self, segment: Segment, genotypes: Sequence[Alleles]) -> list[tuple[Copies, float]]:
        if len(segment.loci) == 1:
            return [(tuple((a,) for a in genotypes[0]), 1.0)]
        found = []
        orders = [((g[0], g[1]), (g[1], g[0])) for g in genotypes]
        for choice in product(*orders):
            one, other = tuple(g[0] for g in choice), tuple(g[1] for g in choice)
            found.append((self.pair(one, other), 0.5 ** len(segment.loci)))
        return found

    def _as_one_locus(
        self, segment: Segment, genotypes: Sequence[Alleles]
    ) -> list[tuple[Copies, float]]:
        """The one genotype with these copies of each line, or none if they exceed two."""
        wild = tuple(self.alleles[locus][0] for locus in segment.loci)
        mutants = [
            (*wild[:j], allele, *wild[j + 1 :])
            for j, genotype in enumerate(genotypes)
            for allele in genotype
            if allele != wild[j]
        ]
        if len(mutants) > 2:
            return []
        one, other = [*mutants, wild, wild][:2]
        return [(self.pair(one, other), 1.0)]

    # ---- what shows ----------------------------------------------------------------------

    def mutant_copies(self, locus: str, state: State) -> int:
        """Copies that are not wild type at the locus (all lines together if they are one)."""
        i, _ = self.place[locus]
        segment = self.segments[i]
        loci = segment.loci if segment.one_locus else (locus,)
        return sum(a != self.alleles[lc][0] for lc in loci for a in self.alleles_at(lc, state))

    def expresses(self, trait: Mapping[str, Any], state: State) -> bool:
        """Whether the genotype expresses the trait, hidden or not."""
        if any(self.mutant_copies(lc, state) == 2 for lc in trait.get("recessive_at", [])):
            return True
        return any(
            all(
                any(self.is_key(locus, state, key) for key in keys)
                for locus, keys in alternative.items()
            )
            for alternative in trait.get("shown_by", [])
        )

    def visible(self, state: State) -> frozenset[str]:
        """The traits that can be seen on the animal."""
        if state not in self._visible:
            expressed = [t for t in self.case.get("traits", []) if self.expresses(t, state)]
            self._visible[state] = frozenset(
                t["id"]
                for t in expressed
                if not any(
                    h["id"] != t["id"] and not {t["id"], "*"}.isdisjoint(h.get("hides", []))
                    for h in expressed
                )
            )
        return self._visible[state]

    def seen(self, state: State, shows: Mapping[str, Any]) -> float:
        """The chance of what was reported of an animal in this state."""
        chance = 1.0
        for trait, report in shows.items():
            entry = report if isinstance(report, dict) else {"seen": report}
            if trait in self.visible(state):
                reported = 1 - number(entry.get("false_negative", 0))
            else:
                reported = number(entry.get("false_positive", 0))
            chance *= float(reported if entry["seen"] else 1 - reported)
        return chance


def _kind(locus: Mapping[str, Any]) -> str:
    kind = locus.get("chromosome", "autosome")
    return "X" if kind == "Z" else str(kind)


def _segments(case: Case, classes: Sequence[tuple[str, ...]]) -> list[Segment]:
    """The case's loci as segments, in the order in which the case first names them."""
    found: list[Segment] = []
    for members in classes:
        never = (0.0,) * (len(members) - 1)
        found.append(Segment(members, "autosome", dict.fromkeys(SEXES, never), one_locus=True))
    for group in case.get("linkage", []):
        rates = {
            sex: tuple(float(number(interval[sex])) for interval in group["recombination"])
            for sex in SEXES
        }
        found.append(Segment(tuple(group["loci"]), "autosome", rates))
    grouped = {locus for segment in found for locus in segment.loci}
    for locus in case["loci"]:
        if locus["id"] not in grouped:
            kind = _kind(locus)
            rate = (float(number(locus["recombination"])),) if kind == "sex" else ()
            found.append(Segment((locus["id"],), kind, dict.fromkeys(SEXES, rate)))
    return found


def _add_up(weighted: Iterable[tuple[T, float]]) -> dict[T, float]:
    """Sum the weights of equal things, leaving out what cannot be."""
    found: dict[T, float] = {}
    for thing, weight in weighted:
        if weight > 0:
            found[thing] = found.get(thing, 0.0) + weight
    return found


def _normalised(weights: Mapping[T, float]) -> dict[T, float]:
    """The positive weights as probabilities; empty if there are none."""
    total = sum(weights.values())
    return {thing: w / total for thing, w in weights.items() if w > 0}
