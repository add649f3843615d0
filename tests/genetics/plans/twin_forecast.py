"""A slow, plain simulation of a forecast, written from the contract alone.

It lists all that the animals at hand may jointly be, plays season after season with Python's own
random numbers, and takes the keeper's decisions from the test, which knows what is forced.  It
shares no code with the engine, nor with the engine's policy.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tests.genetics.twin import _meets
from tests.genetics.twin_genome import FEMALE, MALE, Case, Genome, State
from tests.genetics.twin_worlds import World, draws, hypotheses, pedigree, trusts


@dataclass
class Kept:
    """An animal of the simulation; `seen` is all that a keeper may decide by."""

    name: str
    state: State
    age: int
    parents: tuple[str, str] | None
    looks: frozenset[str]

    @property
    def sex(self) -> str:
        return self.state[0]


Pairing = Callable[[Sequence[Kept], Mapping[str, Any]], list[tuple[Kept, Kept]]]
"""Which pairs breed, of the living animals in the order in which they came."""
Keeping = Callable[[Sequence[Kept], Mapping[str, Any]], list[Kept]]
"""Who stays at the end of a season."""

DEFAULTS: dict[str, Any] = {
    "wanted": 1, "mature": {"female": 3, "male": 3}, "lays": 1, "lives": 1, "pairs": 1,
    "matings": 1, "places": None, "clutches": 1,
}  # fmt: skip


def joint_states(case: Case, names: Sequence[str]) -> list[tuple[float, Genome, tuple[State, ...]]]:
    """All that some animals may jointly be, with weights that need not sum to 1."""
    found = []
    for model in hypotheses(case):
        for q, trusted in trusts(case):
            world = World(case, model.genome, trusted=trusted)
            for p, draw in draws(case):
                for states, weight in world.joint(pedigree(case, draw)):
                    whole = model.prior * q * p * weight
                    found.append((whole, model.genome, tuple(states[who] for who in names)))
    return found


def ripe(animals: Sequence[Kept], rules: Mapping[str, Any], sex: str) -> list[Kept]:
    """Those of a sex that may breed."""
    return [one for one in animals if one.sex == sex and one.age >= rules["mature"][sex]]


def everybody(animals: Sequence[Kept], rules: Mapping[str, Any]) -> list[Kept]:
    """Keep all."""
    return list(animals)


def all_with_one_male(animals: Sequence[Kept], rules: Mapping[str, Any]) -> list[tuple[Kept, Kept]]:
    """Every mature female with the first mature male."""
    males = ripe(animals, rules, MALE)
    return [(dam, males[0]) for dam in ripe(animals, rules, FEMALE)] if males else []


def simulated(
    case: Case, question: Mapping[str, Any], pairing: Pairing, keeping: Keeping = everybody,
    runs: int = 4000, seed: int = 1,
) -> list[float]:  # fmt: skip
    """By season, the share of runs in which the goal was reached in it or earlier."""
    rules = DEFAULTS | dict(question)
    luck = random.Random(seed)
    rows = joint_states(case, list(rules["animals"]))
    chosen = luck.choices(rows, [weight for weight, _, _ in rows], k=runs)
    first = [_run(rules, genome, states, pairing, keeping, luck) for _, genome, states in chosen]
    return [sum(0 < one <= s for one in first) / runs for s in range(1, rules["seasons"] + 1)]


def _run(
    rules: Mapping[str, Any], genome: Genome, states: Sequence[State], pairing: Pairing,
    keeping: Keeping, luck: random.Random,
) -> int:  # fmt: skip
    animals = [
        Kept(name, state, age, None, genome.visible(state))
        for (name, age), state in zip(rules["animals"].items(), states, strict=True)
    ]
    met = 0
    for season in range(1, rules["seasons"] + 1):
        if season > 1:
            animals = [one for one in animals if luck.random() < float(rules["lives"])]
            for one in animals:
                one.age += 1
        pairs = pairing(animals, rules)
        assert len(pairs) <= rules["pairs"]
        young = [one for pair in pairs for one in _young(rules, genome, pair, season, luck)]
        met += sum(_meets(genome, one.state, rules["goal"]) for one in young)
        if met >= rules["wanted"]:
            return season
        animals = keeping([*animals, *young], rules)
        assert rules["places"] is None or len(animals) <= rules["places"]
    return 0


def _young(
    rules: Mapping[str, Any], genome: Genome, pair: tuple[Kept, Kept], season: int,
    luck: random.Random,
) -> list[Kept]:  # fmt: skip
    dam, sire = pair
    assert (dam.sex, sire.sex) == (FEMALE, MALE)
    chances = genome.offspring(dam.state, sire.state)
    found: list[Kept] = []
    for _ in range(rules["clutches"]):
        if luck.random() >= float(rules["lays"]):
            continue
        sizes = {int(size): float(p) for size, p in rules["clutch"].items()}
        size = luck.choices(list(sizes), list(sizes.values()))[0]
        for state in luck.choices(list(chances), list(chances.values()), k=size if chances else 0):
            name = f"{dam.name} × {sire.name}, {season}.{len(found)}"
            found.append(Kept(name, state, 0, (dam.name, sire.name), genome.visible(state)))
    return found
