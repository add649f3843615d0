"""Tangled random pedigrees at one locus, as a case and as a general-purpose library's network.

The network is written from the laws of segregation alone and shares nothing with the engine: one
node an individual (tallied hatchlings too) whose values are its possible genotypes; an individual
of unknown sex has the genotypes of both sexes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from itertools import combinations_with_replacement
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.rivals import gum

Kind = Literal["recessive", "three alleles", "X"]
Genotype = tuple[str, str]
FREQUENCY = {"recessive": {"a": 0.25}, "three alleles": {"a": 0.2, "b": 0.15}, "X": {"a": 0.3}}
#: Genotypes that show each look of a kind of locus.
LOOKS: dict[Kind, dict[str, list[str]]] = {
    "recessive": {"Plain": ["a/a"]},
    "three alleles": {"Plain": ["a/a", "a/b", "b/b"], "Strong": ["+/b", "b/b"]},
    "X": {"Plain": ["a/a", "a/Y"]},
}
FALSE_NEGATIVE, FALSE_POSITIVE = 0.1, 0.05


def alleles(kind: Kind) -> list[str]:
    """Alleles of a kind of locus, the wild type first."""
    return ["+", *FREQUENCY[kind]]


@cache
def genotypes(kind: Kind, sex: str) -> tuple[Genotype, ...]:
    """Genotypes that an individual of a sex can have."""
    pairs = tuple(combinations_with_replacement(alleles(kind), 2))
    if kind != "X" or sex == "female":
        return pairs
    single = tuple((allele, "Y") for allele in alleles(kind))
    return single if sex == "male" else pairs + single


@cache
def founder_chances(kind: Kind, sex: str) -> NDArray[np.float64]:
    """Chances of the genotypes of a founder of which nothing is known."""
    frequency = dict(FREQUENCY[kind])
    frequency["+"] = 1 - sum(frequency.values())
    frequency["Y"] = 1.0
    chance = [
        frequency[one] * frequency[other] * (1 if one == other or other == "Y" else 2)
        for one, other in genotypes(kind, sex)
    ]
    return np.array(chance) / sum(chance)


@cache
def young_chances(kind: Kind, sex: str) -> NDArray[np.float64]:
    """P(genotype of the young | sire, dam, sex of the young), axes [sire, dam, young]."""
    order = [*alleles(kind), "Y"]
    dams, sires = genotypes(kind, "female"), genotypes(kind, "male")
    young = genotypes(kind, sex)
    table = np.zeros((len(sires), len(dams), len(young)))
    for i, from_sire in enumerate(sires):
        for j, from_dam in enumerate(dams):
            for one in from_dam:
                for other in from_sire:
                    made = (one, other) if order.index(one) <= order.index(other) else (other, one)
                    if made in young:
                        table[i, j, young.index(made)] += 1
    made_sums: NDArray[np.float64] = table / table.sum(axis=2, keepdims=True)
    return made_sums


@dataclass
class Individual:
    """One individual; a tallied hatchling has no name."""

    name: str | None
    sex: str
    dam: int = -1
    sire: int = -1
    truth: Genotype = ("+", "+")
    stated: dict[str, float] = field(default_factory=dict)
    shows: dict[str, dict[str, Any]] = field(default_factory=dict)


@dataclass
class Tangle:
    """A pedigree at one locus, parents before young."""

    kind: Kind
    individuals: list[Individual] = field(default_factory=list)

    def key(self, genotype: Genotype) -> str:
        """The genotype as cases write it."""
        return "/".join(genotype)

    def case(self) -> dict[str, Any]:
        """The case of this pedigree; each tallied hatchling is a line of its couple's clutch."""
        kind, names = self.kind, [one.name for one in self.individuals]
        chromosome = "X" if kind == "X" else "autosome"
        clutches: dict[tuple[int, int], list[dict[str, Any]]] = {}
        animals = []
        for one in self.individuals:
            if one.name is None:
                line = {"count": 1, "sex": one.sex, "shows": one.shows}
                clutches.setdefault((one.dam, one.sire), []).append(line)
                continue
            animal: dict[str, Any] = {"id": one.name, "sex": one.sex, "shows": one.shows}
            if one.stated:
                animal["founder"] = {"g": one.stated}
            if one.dam >= 0:
                animal |= {"dam": names[one.dam], "sire": names[one.sire]}
            animals.append(animal)
        return {
            "case": 1,
            "sex_determination": "XY",
            "loci": [{"id": "g", "alleles": alleles(kind), "chromosome": chromosome}],
            "traits": [
                {"id": look, "shown_by": [{"g": keys}]} for look, keys in LOOKS[kind].items()
            ],
            "background": {"g": FREQUENCY[kind]},
            "animals": animals,
            "clutches": [
                {"id": f"C{n}", "dam": names[dam], "sire": names[sire], "tally": tally}
                for n, ((dam, sire), tally) in enumerate(clutches.items())
            ],
        }

    def reference(self) -> tuple[dict[str, dict[str, float]], float]:
        """Posteriors by animal and key from the library, and the log of all evidence.

        The library's probability of the evidence leaves out that the sexes of animals that were
        bred are evidence too: one half each.
        """
        net = gum.BayesNet()
        net.beginTopologyTransformation()
        for node, one in enumerate(self.individuals):
            values = len(genotypes(self.kind, one.sex))
            net.add(gum.RangeVariable(str(node), "", 0, values - 1), node)
        for node, one in enumerate(self.individuals):
            if one.dam >= 0:
                net.addArc(one.dam, node)
                net.addArc(one.sire, node)
        net.endTopologyTransformation()
        for node, one in enumerate(self.individuals):
            net.cpt(node).fillWith(np.ascontiguousarray(self._table(one)))
        inference = gum.ShaferShenoyInference(net)
        for node, one in enumerate(self.individuals):
            if one.shows:
                inference.addEvidence(node, self._likelihood(one).tolist())
        inference.makeInference()
        found = {}
        for node, one in enumerate(self.individuals):
            if one.name is not None:
                keys = map(self.key, genotypes(self.kind, one.sex))
                row = inference.posterior(node).toarray().tolist()
                found[one.name] = dict(zip(keys, row, strict=True))
        sexed = sum(one.dam >= 0 and one.sex != "unknown" for one in self.individuals)
        log_evidence = np.log(inference.evidenceProbability()) + sexed * np.log(0.5)
        return found, float(log_evidence)

    def _table(self, one: Individual) -> NDArray[np.float64]:
        if one.dam >= 0:
            return young_chances(self.kind, one.sex)
        if not one.stated:
            return founder_chances(self.kind, one.sex)
        keys = map(self.key, genotypes(self.kind, one.sex))
        return np.array([one.stated.get(key, 0.0) for key in keys])

    def _likelihood(self, one: Individual) -> NDArray[np.float64]:
        chance = np.ones(len(genotypes(self.kind, one.sex)))
        for look, seen in one.shows.items():
            shown = np.array(
                [self.key(g) in LOOKS[self.kind][look] for g in genotypes(self.kind, one.sex)]
            )
            missed, imagined = seen.get("false_negative", 0), seen.get("false_positive", 0)
            report = np.where(shown, 1 - missed, imagined)
            chance *= report if seen["seen"] else 1 - report
        return chance


class Breeder:
    """Breeds a tangle at random, dropping genes, and notes what is seen."""

    def __init__(self, kind: Kind, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.made = Tangle(kind)

    @property
    def rows(self) -> list[Individual]:
        """The individuals so far."""
        return self.made.individuals

    def founder(self, sex: str) -> int:
        """Add a founder; every third has papers that leave two genotypes."""
        kind, rng = self.made.kind, self.rng
        choices = genotypes(kind, sex)
        truth = choices[rng.choice(len(choices), p=founder_chances(kind, sex))]
        one = Individual(f"A{len(self.rows)}", sex, truth=truth)
        if rng.random() < 1 / 3:
            other = choices[int(rng.integers(len(choices)))]
            one.stated = {self.made.key(truth): 0.7}
            if other == truth:
                one.stated = {self.made.key(truth): 1.0}
            else:
                one.stated[self.made.key(other)] = 0.3
        return self._add(one)

    def young(self, dam: int, sire: int, sex: str, *, tallied: bool = False) -> int:
        """Add a young of a couple."""
        kind, rng = self.made.kind, self.rng
        true_sex = sex if sex != "unknown" else str(rng.choice(["female", "male"]))
        table = young_chances(kind, true_sex)
        i = genotypes(kind, "male").index(self.rows[sire].truth)
        j = genotypes(kind, "female").index(self.rows[dam].truth)
        choices = genotypes(kind, true_sex)
        truth = choices[rng.choice(len(choices), p=table[i, j])]
        name = None if tallied else f"A{len(self.rows)}"
        return self._add(Individual(name, sex, dam, sire, truth))

    def _add(self, one: Individual) -> int:
        rng = self.rng
        for look, keys in LOOKS[self.made.kind].items():
            if rng.random() < 0.3:
                continue
            shown = self.made.key(one.truth) in keys
            if rng.random() < 0.3:
                wrong = rng.random() < (FALSE_NEGATIVE if shown else FALSE_POSITIVE)
                errs = {"false_negative": FALSE_NEGATIVE, "false_positive": FALSE_POSITIVE}
                one.shows[look] = {"seen": bool(shown != wrong), **errs}
            else:
                one.shows[look] = {"seen": shown}
        self.rows.append(one)
        return len(self.rows) - 1


def closed_pool(kind: Kind, animals: int, pool: int, seed: int) -> Tangle:
    """Mate within a few living animals for ever: full and half sibs, young back to parents."""
    breeder = Breeder(kind, seed)
    rng = breeder.rng
    alive = {sex: [breeder.founder(sex) for _ in range(pool)] for sex in ("female", "male")}
    while len(breeder.rows) < animals:
        dam = alive["female"][int(rng.integers(pool))]
        sire = _mate_of(breeder, alive, dam)
        for _ in range(int(rng.integers(1, 5))):
            sex = str(rng.choice(["female", "male", "unknown"], p=[0.4, 0.4, 0.2]))
            young = breeder.young(dam, sire, sex, tallied=rng.random() < 0.2)
            if breeder.rows[young].name is not None and sex != "unknown" and rng.random() < 0.4:
                alive[sex][int(rng.integers(pool))] = young
    return breeder.made


def _mate_of(breeder: Breeder, alive: dict[str, list[int]], dam: int) -> int:
    """A living father, full brother, half brother or son of the dam if drawn, else any male."""
    rows, her = breeder.rows, breeder.rows[dam]
    wish = int(breeder.rng.integers(5))
    wanted: tuple[Callable[[int], bool], ...] = (
        lambda m: m == her.sire,
        lambda m: rows[m].dam == her.dam >= 0 and rows[m].sire == her.sire,
        lambda m: rows[m].sire == her.sire >= 0,
        lambda m: rows[m].dam == dam,
        lambda m: True,
    )
    near = [male for male in alive["male"] if wanted[wish](male)] or alive["male"]
    return near[int(breeder.rng.integers(len(near)))]


def one_sire(kind: Kind, dams: int, seed: int) -> Tangle:
    """One sire over many dams, then over some of his daughters; half sibs mated, too."""
    breeder = Breeder(kind, seed)
    rng = breeder.rng
    sire = breeder.founder("male")
    daughters, sons = [], []
    for _ in range(dams):
        dam = breeder.founder("female")
        for _ in range(int(rng.integers(1, 4))):
            breeder.young(dam, sire, "unknown", tallied=True)
        daughters.append(breeder.young(dam, sire, "female"))
        sons.append(breeder.young(dam, sire, "male"))
    for number in range(0, dams, 3):
        for _ in range(2):
            breeder.young(daughters[number], sire, str(rng.choice(["female", "unknown"])))
            breeder.young(daughters[number], sons[number - 1], "male")
    return breeder.made
