"""The brute-force twin's worlds: hypotheses, draws of uncertain parents, joint genotypes."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product
from typing import Any

from tests.genetics.twin_alone import is_nobody, nobody, state_of_nobody
from tests.genetics.twin_begun import begun
from tests.genetics.twin_genome import (
    FEMALE,
    MALE,
    NOBODY,
    SEXES,
    Case,
    Genome,
    State,
    Statement,
    number,
)

Couple = tuple[str, str]
Slot = tuple[str, str]
"""Where one couple is drawn: (clutch, "") for a whole clutch, (clutch, animal) for one egg."""
Draw = dict[Slot, int]


# ---- hypotheses: which lines are one locus ---------------------------------------------------


@dataclass(frozen=True)
class Hypothesis:
    """One way in which the undecided lines may be one locus, with its prior."""

    genome: Genome
    prior: float
    one: tuple[bool, ...]


def hypotheses(case: Case) -> list[Hypothesis]:
    """Every consistent combination of the `same_locus` entries."""
    entries = case.get("same_locus", [])
    found = []
    for truth in product((False, True), repeat=len(entries)):
        prior = 1.0
        for entry, one in zip(entries, truth, strict=True):
            p = float(number(entry["prior"]))
            prior *= p if one else 1 - p
        classes = _classes([e["loci"] for e, one in zip(entries, truth, strict=True) if one])
        closed = all(
            one or not any(set(entry["loci"]) <= set(members) for members in classes)
            for entry, one in zip(entries, truth, strict=True)
        )
        if closed and prior > 0:
            found.append((truth, classes, prior))
    total = sum(prior for _, _, prior in found)
    return [Hypothesis(Genome(case, classes), p / total, t) for t, classes, p in found]


def _classes(pairs: Sequence[Sequence[str]]) -> list[list[str]]:
    """Transitive closure of the pairs."""
    classes: list[list[str]] = []
    for pair in pairs:
        touched = [c for c in classes if set(c) & set(pair)]
        rest = [c for c in classes if c not in touched]
        classes = [*rest, sorted({*pair, *(locus for c in touched for locus in c)})]
    return classes


# ---- whose words hold --------------------------------------------------------------------------


def trusts(case: Case) -> Iterator[tuple[float, frozenset[str]]]:
    """Every way in which what was said together may hold or not: the trusts that do."""
    named = {one["trust"] for animal in case["animals"] for one in animal.get("statements", [])}
    names = sorted(named)
    for truth in product((False, True), repeat=len(names)):
        p = 1.0
        for name, holds in zip(names, truth, strict=True):
            trust = float(number(case["trust"][name]))
            p *= trust if holds else 1 - trust
        if p > 0:
            yield p, frozenset(name for name, holds in zip(names, truth, strict=True) if holds)


def named_loci(statement: Mapping[str, Any]) -> set[str]:
    """The loci at which a statement says what a founder is."""
    joint = {lc for row in statement.get("founder_joint", []) for lc in row["genotypes"]}
    return joint | set(statement.get("founder", {}))


# ---- the pedigree under one draw of parents --------------------------------------------------


@dataclass
class Line:
    """A tally line: what `count` hatchlings showed, and the couples that may have had them.

    `couples` is None when the clutch's parents are dropped: anything can hatch.
    """

    report: Mapping[str, Any]
    couples: list[tuple[float, Couple]] | None


@dataclass
class Pedigree:
    """Who descends from whom, once every uncertain couple is drawn."""

    parents: dict[str, Couple | None] = field(default_factory=dict)
    lines: list[Line] = field(default_factory=list)

    def order(self) -> list[str]:
        """Everybody, parents first, and each child as soon as its parents are there."""
        placed: list[str] = []
        while len(placed) < len(self.parents):
            ready = [
                who
                for who, couple in self.parents.items()
                if who not in placed and (couple is None or set(couple) <= set(placed))
            ]
            children = [who for who in ready if self.parents[who] is not None]
            placed.append((children or ready)[0])
        return placed


def known_sexes(case: Case) -> dict[str, str]:
    """Recorded sexes, and those that follow from being named as a dam or a sire."""
    sexes = {a["id"]: a.get("sex", "unknown") for a in case["animals"]}
    named = list(case["animals"])
    for clutch in case.get("clutches", []):
        named += [clutch, *clutch.get("candidates", [])]
    for couple in named:
        if couple.get("dam"):
            sexes[couple["dam"]] = FEMALE
        if couple.get("sire") and couple["sire"] != NOBODY:
            sexes[couple["sire"]] = MALE
    return sexes


def has_parents(animal: Mapping[str, Any]) -> bool:
    """Whether an animal is no founder."""
    return bool(animal.get("dam") or animal.get("sire") or animal.get("clutch"))


def couples_of(clutch: Mapping[str, Any]) -> list[tuple[float, Couple]]:
    """The clutch's couples with their probabilities; a null parent is one unknown founder."""
    rows = clutch.get("candidates") or [{**clutch, "p": 1}]
    return [(float(number(r["p"])), _couple(r, f"clutch {clutch['id']}")) for r in rows]


def _couple(record: Mapping[str, Any], owner: str) -> Couple:
    dam = record.get("dam") or f"unrecorded dam of {owner}"
    if record.get("sire") == NOBODY:
        return dam, nobody(record)
    return dam, record.get("sire") or f"unrecorded sire of {owner}"


def draws(case: Case, dropped: Collection[str] = ()) -> Iterator[tuple[float, Draw]]:
    """Every way to draw the clutches' couples, with its prior probability."""
    slots: list[tuple[Slot, list[tuple[float, Couple]]]] = []
    for clutch in case.get("clutches", []):
        if f"{clutch['id']}.parents" in dropped:
            continue
        young = [a["id"] for a in case["animals"] if a.get("clutch") == clutch["id"]]
        each = clutch.get("paternity", "one") == "each"
        for who in young if each else [""]:
            slots.append(((clutch["id"], who), couples_of(clutch)))
    for choice in product(*(range(len(couples)) for _, couples in slots)):
        p = math.prod(couples[k][0] for (_, couples), k in zip(slots, choice, strict=True))
        if p > 0:
            yield p, {slot: k for (slot, _), k in zip(slots, choice, strict=True)}


def pedigree(case: Case, draw: Draw, dropped: Collection[str] = ()) -> Pedigree:
    """The pedigree under one draw, without the parents that are dropped."""
    found = Pedigree()
    clutches = {clutch["id"]: clutch for clutch in case.get("clutches", [])}
    for animal in case["animals"]:
        who, clutch_id = animal["id"], animal.get("clutch")
        owner = clutch_id or who
        if not has_parents(animal) or f"{owner}.parents" in dropped:
            found.parents[who] = None
        elif clutch_id:
            k = draw[clutch_id, who] if (clutch_id, who) in draw else draw[clutch_id, ""]
            found.parents[who] = couples_of(clutches[clutch_id])[k][1]
        else:
            found.parents[who] = _couple(animal, f"animal {who}")
    for clutch in clutches.values():
        couples: list[tuple[float, Couple]] | None = couples_of(clutch)
        if f"{clutch['id']}.parents" in dropped:
            couples = None
        elif clutch.get("paternity", "one") == "one":
            couples = [(1.0, couples_of(clutch)[draw[clutch["id"], ""]][1])]
        for i, report in enumerate(clutch.get("tally", [])):
            if f"{clutch['id']}.tally[{i}]" not in dropped:
                found.lines.append(Line(report, couples))
    named = [c for c in found.parents.values() if c is not None]
    named += [couple for line in found.lines for _, couple in line.couples or []]
    for who in (who for couple in named for who in couple):
        found.parents.setdefault(who, None)
    return found


# ---- enumeration -----------------------------------------------------------------------------


class World:
    """Chances and evidence of one case under one hypothesis, with some records dropped."""

    def __init__(
        self,
        case: Case,
        genome: Genome,
        dropped: Collection[str] = (),
        tick: Callable[[int], None] = lambda steps: None,
        trusted: Collection[str] = (),
    ) -> None:
        self.genome, self.dropped, self.tick = genome, dropped, tick
        self.trusted = trusted
        self.animals = {animal["id"]: animal for animal in case["animals"]}
        self.sexes = known_sexes(case)
        self._weighed: dict[tuple[str, State, State] | str, list[tuple[State, float]]] = {}
        self._lines: dict[tuple[int, State, State], float] = {}

    def sex_of(self, who: str) -> str:
        """The sex of an animal or of an unrecorded parent: female, male or unknown."""
        if who in self.sexes:
            return self.sexes[who]
        if is_nobody(who):
            return NOBODY
        return FEMALE if who.startswith("unrecorded dam") else MALE

    def founder(self, who: str) -> dict[State, float]:
        """P(sex and genotype) of a founder; a known sex counts no factor."""
        if is_nobody(who):
            return {state_of_nobody(who): 1.0}
        animal = self.animals.get(who, {})
        sex = self.sex_of(who)
        found: dict[State, float] = {}
        for each, share in ((sex, 1.0),) if sex in SEXES else self.genome.share.items():
            rows: Statement = [(1.0, {})]
            for said, free in self._said(animal):
                more = self.genome.statement(said, each, free)
                rows = [(p * q, {**a, **b}) for p, a in rows for q, b in more]
            for state, p in self.genome.founder(rows, each).items():
                found[state] = share * p
        return found

    def _holding(self, animal: Mapping[str, Any]) -> list[Mapping[str, Any]]:
        """The statements on an animal that hold, without the dropped ones."""
        return [
            one
            for i, one in enumerate(animal.get("statements", []))
            if one["trust"] in self.trusted
            and f"{animal['id']}.statements[{i}]" not in self.dropped
        ]

    def _said(self, animal: Mapping[str, Any]) -> list[tuple[Mapping[str, Any], set[str]]]:
        """What is said of a founder, part by part, each with the loci that it leaves free.

        Where a statement holds, its loci are taken out of what the animal's own fields say.
        """
        free = self._free(animal)
        if has_parents(animal) and not animal.get("begins"):
            return [({}, free)]
        for i, one in enumerate(animal.get("statements", [])):
            if f"{animal['id']}.statements[{i}]" in self.dropped:
                free |= named_loci(one)
        holding = self._holding(animal)
        told = {locus for one in holding for locus in named_loci(one)}
        own = {lc: table for lc, table in animal.get("founder", {}).items() if lc not in told}
        parts: list[tuple[Mapping[str, Any], set[str]]] = [
            ({**animal, "founder": own}, free - told)
        ]
        return parts + [(one, set()) for one in holding]

    def _free(self, animal: Mapping[str, Any]) -> set[str]:
        """The loci at which a dropped record leaves every genotype possible."""
        free: set[str] = set()
        if has_parents(animal):
            free = set(self.genome.alleles) - set(animal.get("begins", []))
        free |= {
            locus
            for locus in animal.get("founder", {})
            if f"{animal['id']}.founder.{locus}" in self.dropped
        }
        if f"{animal.get('id')}.founder_joint" in self.dropped:
            free |= {lc for row in animal.get("founder_joint", []) for lc in row["genotypes"]}
        return free

    def evidence(self, who: str, state: State) -> float:
        """The chance of everything recorded of one animal, given its state."""
        if self.sex_of(who) not in (state[0], "unknown"):
            return 0.0
        if is_nobody(who):
            return 1.0
        animal = self.animals.get(who, {})
        shows = {
            trait: report
            for trait, report in animal.get("shows", {}).items()
            if f"{who}.shows.{trait}" not in self.dropped
        }
        chance = self.genome.seen(state, shows)
        for locus, table in animal.get("likelihood", {}).items():
            if f"{who}.likelihood.{locus}" not in self.dropped:
                weights = {key: float(number(weight)) for key, weight in table.items()}
                chance *= self.genome.weight_of(locus, state, weights, 0.0)
        for one in self._holding(animal):
            for locus, table in one.get("likelihood", {}).items():
                weights = {key: float(number(weight)) for key, weight in table.items()}
                chance *= self.genome.weight_of(locus, state, weights, 0.0)
        return chance

    def options(
        self, who: str, couple: Couple | None, states: Mapping[str, State]
    ) -> list[tuple[State, float]]:
        """An animal's possible states with chance times evidence, given its parents' states."""
        key = who if couple is None else (who, states[couple[0]], states[couple[1]])
        if key not in self._weighed:
            if couple is None:
                chances = self.founder(who)
            elif self.animals.get(who, {}).get("begins"):
                dam, sire = couple
                chances = begun(
                    self.genome, self.animals[who]["begins"], self.founder(who), self.sex_of(who),
                    states[dam], states[sire],
                )  # fmt: skip
            else:
                chances = self.genome.offspring(states[couple[0]], states[couple[1]])
            self.tick(len(chances))
            weighed = [(s, p * self.evidence(who, s)) for s, p in chances.items()]
            self._weighed[key] = [(s, w) for s, w in weighed if w > 0]
        return self._weighed[key]

    def hatchling(self, report: Mapping[str, Any], chances: Mapping[State, float]) -> float:
        """The chance that one hatchling is as a tally line says."""
        return sum(
            p * self.genome.seen(state, report.get("shows", {}))
            for state, p in chances.items()
            if report.get("sex", "unknown") in (state[0], "unknown")
        )

    def line(self, line: Line, states: Mapping[str, State]) -> float:
        """The chance of a tally line given the states of all who may be its parents."""
        if line.couples is None:
            return self.hatchling(line.report, self.anything()) ** int(line.report["count"])
        chance = 0.0
        for p, (dam, sire) in line.couples:
            key = (id(line.report), states[dam], states[sire])
            if key not in self._lines:
                couple = self.genome.offspring(states[dam], states[sire])
                self._lines[key] = self.hatchling(line.report, couple)
            chance += p * self._lines[key]
        return float(chance ** int(line.report["count"]))

    def anything(self) -> dict[State, float]:
        """A hatchling whose parents are dropped: every sex and genotype."""
        loci = list(self.genome.alleles)
        return {
            state: p * self.genome.share[sex]
            for sex in SEXES
            for state, p in self.genome.founder(self.genome.statement({}, sex, loci), sex).items()
        }

    def joint(self, family: Pedigree) -> Iterator[tuple[dict[str, State], float]]:
        """Every joint state of a family that the evidence allows, with its probability.

        The same dictionary is yielded each time, changed in place.
        """
        order = family.order()
        position = {who: i for i, who in enumerate(order)}
        due: list[list[Line]] = [[] for _ in range(len(order) + 1)]
        for line in family.lines:
            members = [who for _, couple in line.couples or [] for who in couple]
            due[max((position[who] + 1 for who in members), default=0)].append(line)
        states: dict[str, State] = {}

        def walk(i: int, weight: float) -> Iterator[tuple[dict[str, State], float]]:
            self.tick(1)
            for line in due[i]:
                weight *= self.line(line, states)
            if weight == 0:
                return
            if i == len(order):
                yield states, weight
                return
            who = order[i]
            for state, chance in self.options(who, family.parents[who], states):
                states[who] = state
                yield from walk(i + 1, weight * chance)

        return walk(0, 1.0)


# ---- whether evidence can be true ------------------------------------------------------------


def records(case: Case) -> list[str]:
    """The names of every record that a conflict may list."""
    names = []
    for animal in case["animals"]:
        who = animal["id"]
        names += [f"{who}.shows.{trait}" for trait in animal.get("shows", {})]
        names += [f"{who}.founder.{locus}" for locus in animal.get("founder", {})]
        names += [f"{who}.founder_joint"] if animal.get("founder_joint") else []
        names += [f"{who}.likelihood.{locus}" for locus in animal.get("likelihood", {})]
        names += [f"{who}.statements[{i}]" for i in range(len(animal.get("statements", [])))]
        names += [f"{who}.parents"] if animal.get("dam") or animal.get("sire") else []
    for clutch in case.get("clutches", []):
        names += [f"{clutch['id']}.tally[{i}]" for i in range(len(clutch.get("tally", [])))]
        names += [f"{clutch['id']}.parents"]
    return names


def is_possible(case: Case, dropped: Collection[str] = ()) -> bool:
    """Whether the evidence can be true when the named records are dropped."""
    for hypothesis in hypotheses(case):
        for _, trusted in trusts(case):
            world = World(case, hypothesis.genome, dropped, trusted=trusted)
            for _, draw in draws(case, dropped):
                families = _unconnected(pedigree(case, draw, dropped))
                if all(next(world.joint(family), None) is not None for family in families):
                    return True
    return False


def _unconnected(whole: Pedigree) -> list[Pedigree]:
    """The parts of a pedigree that share no parentage and no tally line."""
    groups = [{who} for who in whole.parents]
    bonds = [{who, *couple} for who, couple in whole.parents.items() if couple is not None]
    lines = [{m for _, couple in line.couples or [] for m in couple} for line in whole.lines]
    for bond in [*bonds, *lines]:
        touched = [group for group in groups if group & bond]
        groups = [group for group in groups if group not in touched]
        groups.append(set().union(*touched))
    return [
        Pedigree(
            {who: couple for who, couple in whole.parents.items() if who in group},
            [line for line, bond in zip(whole.lines, lines, strict=True) if bond <= group],
        )
        for group in groups
    ]
