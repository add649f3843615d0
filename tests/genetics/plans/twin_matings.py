"""A slow, obvious twin of test matings: every joint genotype is listed, every count is weighed.

Written from the contract alone; it shares no code with the engine.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from tests.genetics.twin_genome import FEMALE, Case, Genome, State, number
from tests.genetics.twin_worlds import World, draws, hypotheses, known_sexes, pedigree, trusts

Pairs = list[tuple[Genome, State, State, float]]
"""What two animals may be together: the genome, both states, the chance."""
Kinds = list[tuple[bool, float, float]]
"""Whether it is, the chance that one hatchling shows, the chance of both."""
MOST = 200


def pairs(case: Case, one: str, other: str) -> Pairs:
    """What two animals may be together, with chances; empty if the evidence is impossible."""
    found: dict[tuple[int, State, State], float] = {}
    models = hypotheses(case)
    for h, model in enumerate(models):
        for q, trusted in trusts(case):
            world = World(case, model.genome, trusted=trusted)
            for p, draw in draws(case):
                for states, weight in world.joint(pedigree(case, draw)):
                    key = h, states[one], states[other]
                    found[key] = found.get(key, 0.0) + model.prior * q * p * weight
    total = sum(found.values())
    return [(models[h].genome, a, b, w / total) for (h, a, b), w in found.items()]


def twin_matings(case: Case, question: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The contract's answer to one `test` question; `needed` as the two bounds of `bounds`."""
    return [_mating(case, question, mate) for mate in question["mates"]]


def _mating(case: Case, question: Mapping[str, Any], mate: str) -> dict[str, Any]:
    kinds = _kinds(case, question, mate)
    prior = sum(w for it_is, _, w in kinds if it_is)
    settle = float(number(question["settle"]))
    certain = len({it_is for it_is, _, _ in kinds}) < 2
    return {
        "mate": mate,
        "prior": prior,
        "positive": {str(n): sum(w * (1 - (1 - c) ** n) for _, c, w in kinds)
                     for n in question["eggs"]},
        "clean": {str(n): left(kinds, n, 0) for n in question["eggs"]},
        "bits": {str(n): bits(kinds, n) for n in question["eggs"]},
        "needed": (None, None) if certain else bounds(kinds, settle),
    }  # fmt: skip


def _kinds(case: Case, question: Mapping[str, Any], mate: str) -> Kinds:
    animal, trait = question["animal"], question["shows"]
    found = []
    for genome, own, its, w in pairs(case, animal, mate):
        it_is = all(
            any(genome.is_key(locus, own, key) for key in keys)
            for locus, keys in question["genotypes"].items()
        )
        dam, sire = (own, its) if known_sexes(case)[animal] == FEMALE else (its, own)
        young = genome.offspring(dam, sire)
        c = sum(p for child, p in young.items() if trait in genome.visible(child))
        found.append((it_is, min(1.0, round(c, 14)), w))
    return found


def binomial(n: int, k: int, c: float) -> float:
    """The chance that k of n show."""
    return math.comb(n, k) * c**k * (1 - c) ** (n - k)


def left(kinds: Kinds, n: int, k: int) -> float | None:
    """The chance that it is, once k of n show; None if that cannot be."""
    both = [
        sum(w * binomial(n, k, c) for it_is, c, w in kinds if it_is is x) for x in (True, False)
    ]
    return both[0] / sum(both) if sum(both) else None


def bits(kinds: Kinds, n: int) -> float:
    """Mutual information between "it is" and how many of n show."""
    total = 0.0
    for it_is in (True, False):
        share = sum(w for x, _, w in kinds if x is it_is)
        for k in range(n + 1):
            here = sum(w * binomial(n, k, c) for x, c, w in kinds if x is it_is)
            whole = sum(w * binomial(n, k, c) for _, c, w in kinds)
            if here > 0:
                total += here * math.log2(here / (share * whole))
    return total


def bounds(kinds: Kinds, settle: float) -> tuple[int | None, int | None]:
    """The number needed where a near miss counts, and where only what is clear does."""
    return needed(kinds, settle, 1e-9), needed(kinds, settle, -1e-9)


def needed(kinds: Kinds, settle: float, slack: float) -> int | None:
    """The smallest number that settles it, what falls short by `slack` counted."""
    for n in range(MOST + 1):
        if all(_settles(kinds, n, it_is, settle, slack) for it_is in (True, False)):
            return n
    return None


def _settles(kinds: Kinds, n: int, it_is: bool, settle: float, slack: float) -> bool:
    share = sum(w for x, _, w in kinds if x is it_is)
    total = 0.0
    for k in range(n + 1):
        chance = left(kinds, n, k)
        here = sum(w * binomial(n, k, c) for x, c, w in kinds if x is it_is) / share
        if chance is not None and (chance if it_is else 1 - chance) >= settle - slack:
            total += here
    return total >= settle - slack
