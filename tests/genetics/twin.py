"""A slow, obvious twin of the engine: it lists everything that could be and adds it up.

For every hypothesis of which lines are one locus, every draw of the uncertain parents and
every joint genotype of all animals, it multiplies the chances and the evidence. Only tiny
pedigrees are affordable. It shares no code with the engine; both follow the contract.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from tests.genetics.twin_alone import inbreeding_alone, is_nobody, nobody, state_of_nobody
from tests.genetics.twin_genome import FEMALE, NOBODY, SEXES, Case, Genome, State, number
from tests.genetics.twin_worlds import (
    Hypothesis,
    Pedigree,
    Slot,
    World,
    draws,
    hypotheses,
    is_possible,
    known_sexes,
    pedigree,
    records,
    trusts,
)

__all__ = ["TooLarge", "is_possible", "records", "twin"]


class TooLarge(Exception):
    """The case has more joint genotypes than the caller wants to wait for."""


# ---- the whole answer ------------------------------------------------------------------------


@dataclass
class Sums:
    """Total probability of the evidence, and of the evidence together with each event."""

    total: float = 0.0
    hypothesis: dict[int, float] = field(default_factory=dict)
    slot: dict[tuple[Slot, int], float] = field(default_factory=dict)
    animal: dict[tuple[str, int, State], float] = field(default_factory=dict)
    trust: dict[str, float] = field(default_factory=dict)
    couple: dict[tuple[int, int, State, State], float] = field(default_factory=dict)


def twin(case: Case, limit: int | None = None) -> dict[str, Any]:
    """The contract's answer to a valid case.

    Raises TooLarge when the enumeration takes more than `limit` steps.
    """
    models = hypotheses(case)
    sums = _sum_up(case, models, limit)
    if sums.total == 0:
        return {"error": "impossible", "message": "no joint genotype explains the evidence"}
    genomes = [model.genome for model in models]
    ask = case.get("ask", {})
    return {
        "log_evidence": math.log(sums.total),
        "posterior": _posterior(case, genomes, sums),
        "sex": _sex(case, sums),
        "parentage": _parentage(case, sums),
        "same_locus": [
            sum(sums.hypothesis.get(h, 0.0) for h, m in enumerate(models) if m.one[i]) / sums.total
            for i in range(len(case.get("same_locus", [])))
        ],
        "trust": _trust(case, sums),
        "joint": [_joint(question, genomes, sums) for question in ask.get("joint", [])],
        "offspring": [
            _offspring(case, question, i, genomes, sums)
            for i, question in enumerate(ask.get("offspring", []))
        ],
        "kinship": [_kinship(case, a, b) for a, b in ask.get("kinship", [])],
        "inbreeding": [2 * _kinship(case, a, a) - 1 for a in ask.get("inbreeding", [])],
    }


def _sum_up(case: Case, models: Sequence[Hypothesis], limit: int | None) -> Sums:
    sums = Sums()
    steps = 0

    def tick(more: int) -> None:
        nonlocal steps
        steps += more
        if limit is not None and steps > limit:
            raise TooLarge

    couples = [
        (q["dam"], nobody(q) if q["sire"] == NOBODY else q["sire"])
        for q in case.get("ask", {}).get("offspring", [])
    ]
    ids = [animal["id"] for animal in case["animals"]]
    for h, model in enumerate(models):
        for q, trusted in trusts(case):
            world = World(case, model.genome, tick=tick, trusted=trusted)
            for p, draw in draws(case):
                for states, weight in world.joint(pedigree(case, draw)):
                    w = model.prior * q * p * weight
                    sums.total += w
                    for name in trusted:
                        _add(sums.trust, name, w)
                    _add(sums.hypothesis, h, w)
                    for chosen in draw.items():
                        _add(sums.slot, chosen, w)
                    for who in ids:
                        _add(sums.animal, (who, h, states[who]), w)
                    for i, (dam, sire) in enumerate(couples):
                        mate = state_of_nobody(sire) if is_nobody(sire) else states[sire]
                        _add(sums.couple, (i, h, states[dam], mate), w)
    return sums


def _add(table: dict[Any, float], key: Any, weight: float) -> None:
    table[key] = table.get(key, 0.0) + weight


def _posterior(
    case: Case, genomes: Sequence[Genome], sums: Sums
) -> dict[str, dict[str, dict[str, float]]]:
    sexes = known_sexes(case)
    found: dict[str, dict[str, dict[str, float]]] = {}
    for who, sex in sexes.items():
        found[who] = {
            locus: {
                genomes[0].write_key(locus, each, genotype): 0.0
                for each in ((sex,) if sex in SEXES else SEXES)
                for genotype in genomes[0].possible_alleles(locus, each)
            }
            for locus in genomes[0].alleles
        }
    for (who, h, state), w in sums.animal.items():
        for locus, table in found[who].items():
            table[genomes[h].key_at(locus, state)] += w / sums.total
    return found


def _sex(case: Case, sums: Sums) -> dict[str, float]:
    unknown = [who for who, sex in known_sexes(case).items() if sex not in SEXES]
    return {
        who: sum(w for (a, _, s), w in sums.animal.items() if a == who and s[0] == FEMALE)
        / sums.total
        for who in unknown
    }


def _trust(case: Case, sums: Sums) -> dict[str, float]:
    named = {one["trust"] for a in case["animals"] for one in a.get("statements", [])}
    return {
        name: sums.trust.get(name, 0.0) / sums.total if name in named else float(number(t))
        for name, t in case.get("trust", {}).items()
    }


def _parentage(case: Case, sums: Sums) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for clutch in case.get("clutches", []):
        rows = range(len(clutch.get("candidates", [])))
        if not rows:
            continue
        if clutch.get("paternity", "one") == "one":
            slot = (clutch["id"], "")
            found[clutch["id"]] = [sums.slot.get((slot, k), 0.0) / sums.total for k in rows]
        else:
            young = [a["id"] for a in case["animals"] if a.get("clutch") == clutch["id"]]
            found[clutch["id"]] = {
                who: [sums.slot.get(((clutch["id"], who), k), 0.0) / sums.total for k in rows]
                for who in young
            }
    return found


def _has_genotypes(genome: Genome, state: State, wanted: Mapping[str, Any]) -> bool:
    return all(
        any(genome.is_key(locus, state, key) for key in ([keys] if isinstance(keys, str) else keys))
        for locus, keys in wanted.items()
    )


def _joint(question: Mapping[str, Any], genomes: Sequence[Genome], sums: Sums) -> float:
    return (
        sum(
            w
            for (who, h, state), w in sums.animal.items()
            if who == question["animal"]
            and _has_genotypes(genomes[h], state, question["genotypes"])
        )
        / sums.total
    )


def _offspring(
    case: Case, question: Mapping[str, Any], index: int, genomes: Sequence[Genome], sums: Sums
) -> dict[str, Any]:
    """One question on a couple: what a hatchling shows, and the chances of the goal."""
    shown: dict[tuple[str, ...], float] = {}
    goal, eggs = question.get("goal"), question.get("eggs", [])
    met, at_least_one = 0.0, dict.fromkeys((str(n) for n in eggs), 0.0)
    order = [trait["id"] for trait in case.get("traits", [])]
    for (i, h, dam, sire), w in sums.couple.items():
        if i != index:
            continue
        hit = 0.0
        for child, p in genomes[h].offspring(dam, sire).items():
            visible = tuple(sorted(genomes[h].visible(child), key=order.index))
            _add(shown, visible, p * w / sums.total)
            if goal is not None and _meets(genomes[h], child, goal):
                hit += p
        met += hit * w / sums.total
        for n in eggs:
            at_least_one[str(n)] += (1 - (1 - hit) ** n) * w / sums.total
    ranked = sorted(
        shown.items(),
        key=lambda item: (-round(item[1], 12), len(item[0]), [order.index(t) for t in item[0]]),
    )
    return {
        "phenotypes": [{"shows": list(shows), "p": p} for shows, p in ranked],
        "goal": None if goal is None else met,
        "at_least_one": None if goal is None else at_least_one,
    }


def _meets(genome: Genome, child: State, goal: Mapping[str, Any]) -> bool:
    visible = genome.visible(child)
    return (
        goal.get("sex", child[0]) == child[0]
        and all((t in visible) == wanted for t, wanted in goal.get("shows", {}).items())
        and _has_genotypes(genome, child, goal.get("genotypes", {}))
    )


def _kinship(case: Case, one: str, other: str) -> float:
    """Wright's coefficient, averaged over the prior draws of the uncertain parents."""
    return sum(p * _kin(pedigree(case, draw), one, other) for p, draw in draws(case))


def _kin(family: Pedigree, one: str, other: str) -> float:
    order = family.order()
    if order.index(one) > order.index(other):
        one, other = other, one
    couple = family.parents[other]
    if couple is not None and is_nobody(couple[1]):
        dam = couple[0]
        if one != other:
            return _kin(family, one, dam)
        return (1 + inbreeding_alone(couple[1], 2 * _kin(family, dam, dam) - 1)) / 2
    if one == other:
        return 0.5 if couple is None else (1 + _kin(family, *couple)) / 2
    if couple is None:
        return 0.0
    return (_kin(family, one, couple[0]) + _kin(family, one, couple[1])) / 2
