"""A slow, obvious twin of routes: every route is listed, every step asked of the extended case.

Written from the contract alone; it shares no code with the engine.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, product
from typing import Any

from tests.genetics.plans.twin_matings import Pairs, pairs
from tests.genetics.twin_genome import FEMALE, MALE, SEXES, Case, Genome, State, number
from tests.genetics.twin_worlds import known_sexes

Look = tuple[tuple[str, bool], ...]
Step = tuple[str, str, Look]
"""Dam, sire and the look that is kept; `"k1"` is what step 1 kept."""
Generations = tuple[tuple[Step, ...], ...]


def twin_routes(case: Case, question: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Every route of the contract with its figures, best first, not only ten."""
    asked = _Asked(case, question)
    found = []
    for generations in every_route(case, question):
        route = asked.route(generations)
        if route is not None:
            found.append(route)
    return sorted(found, key=lambda route: (round(route["seasons"], 9), len(route["steps"])))


# ---- every route -----------------------------------------------------------------------------


def every_route(case: Case, question: Mapping[str, Any]) -> Iterator[Generations]:
    """Every way to choose the steps, each set of steps once."""
    traits = sorted(question["goal"].get("shows", {}))
    looks = [tuple(zip(traits, seen, strict=True))
             for seen in product((True, False), repeat=len(traits))]  # fmt: skip
    goal = tuple((trait, question["goal"]["shows"][trait]) for trait in traits)
    sexes = known_sexes(case)
    hand = {sex: [who for who in question["animals"] if sexes[who] == sex] for sex in SEXES}

    def grow(done: Generations, before: list[str], kept: list[str]) -> Iterator[Generations]:
        couples = [
            (dam, sire)
            for dam, sire in product(hand[FEMALE] + kept, hand[MALE] + kept)
            if dam in before or sire in before
        ]
        for dam, sire in couples:
            whole = (*done, ((dam, sire, goal),))
            if _all_used(whole):
                yield whole
        if len(done) + 1 == question.get("generations", 2):
            return
        steps = [(dam, sire, look) for dam, sire in couples for look in looks]
        for size in (1, 2):
            for chosen in combinations(steps, size):
                new = [f"k{len(kept) + 1 + i}" for i in range(size)]
                yield from grow((*done, chosen), new, kept + new)

    yield from grow((), list(question["animals"]), [])


def _all_used(generations: Generations) -> bool:
    steps = [step for generation in generations for step in generation]
    used = {parent for dam, sire, _ in steps for parent in (dam, sire)}
    return all(f"k{i + 1}" in used for i in range(len(steps) - 1))


# ---- its figures -----------------------------------------------------------------------------


@dataclass
class _Asked:
    case: Case
    question: Mapping[str, Any]

    @cached_property
    def couples(self) -> dict[str, Pairs]:
        """What couples may be, by what the extended case is."""
        return {}

    def route(self, generations: Generations) -> dict[str, Any] | None:
        """The contract's answer for one route, None where a clutch cannot give what is kept."""
        steps = [step for generation in generations for step in generation]
        uses = [_sexes_used(f"k{i + 1}", steps) for i in range(len(steps))]
        answers: list[dict[str, Any]] = []
        waits = []
        for generation in generations:
            for _ in generation:
                step = self.step(len(answers), steps, uses)
                if step["clutch"] <= 0:
                    return None
                answers.append(step)
            waits.append(max(1 / one["clutch"] for one in answers[-len(generation) :]))
        mature = float(number(self.question.get("mature", 3)))
        return {
            "steps": answers,
            "generations": len(generations),
            "seasons": sum(waits) + mature * (len(generations) - 1),
        }

    def step(self, i: int, steps: Sequence[Step], uses: Sequence[str]) -> dict[str, Any]:
        """One step, asked of the case with the records of all steps that it descends from."""
        dam, sire, look = steps[i]
        last = i == len(steps) - 1
        goal = self.question["goal"]
        sex = (goal.get("sex") or "any") if last else uses[i]
        n = int(self.question.get("eggs", 8))
        chance, clutch, keys = 0.0, 0.0, set()
        for genome, own, its, w in self.parents(i, steps, uses):
            f = m = 0.0
            for child, p in genome.offspring(own, its).items():
                if not _has_look(genome, child, look):
                    continue
                if sex in ("any", "both", child[0]):
                    keys.add((child[0] if sex == "both" else "", self.keys(genome, child)))
                if last and not _meets(genome, child, goal):
                    continue
                f, m = (f + p, m) if child[0] == FEMALE else (f, m + p)
            chance += w * (f + m)
            if sex == "both":
                clutch += w * (1 - (1 - f) ** n - (1 - m) ** n + max(0.0, 1 - f - m) ** n)
            else:
                c = {FEMALE: f, MALE: m}.get(sex, f + m)
                clutch += w * (1 - (1 - min(c, 1.0)) ** n)
        return {
            "dam": dam, "sire": sire, "shows": dict(look), "sex": sex,
            "chance": chance, "clutch": clutch if clutch > 1e-13 else 0.0,
            "known": len({label for label, _ in keys}) == len(keys),
        }  # fmt: skip

    def keys(self, genome: Genome, child: State) -> tuple[str, ...]:
        """The genotype at every locus of the goal and of its traits."""
        goal = self.question["goal"]
        loci = set(goal.get("genotypes", {}))
        for trait in self.case["traits"]:
            if trait["id"] in goal.get("shows", {}):
                loci.update(trait.get("recessive_at", []))
                loci.update(lc for one in trait.get("shown_by", []) for lc in one)
        return tuple(genome.key_at(locus, child) for locus in sorted(loci))

    def parents(self, i: int, steps: Sequence[Step], uses: Sequence[str]) -> Pairs:
        """What the couple of a step may be, in the extended case."""
        wanted = _descent(i, steps) - {i}
        more = []
        for j in sorted(wanted):
            dam, sire, look = steps[j]
            for sex in SEXES if uses[j] == "both" else (uses[j],):
                more.append({
                    "id": f"k{j + 1} {sex}", "sex": sex, "shows": dict(look),
                    "dam": _name(dam, FEMALE), "sire": _name(sire, MALE),
                })  # fmt: skip
        extended = {**self.case, "animals": [*self.case["animals"], *more]}
        dam, sire = _name(steps[i][0], FEMALE), _name(steps[i][1], MALE)
        key = repr((more, dam, sire))
        if key not in self.couples:
            self.couples[key] = pairs(extended, dam, sire)
        return self.couples[key]


def _sexes_used(name: str, steps: Sequence[Step]) -> str:
    dam, sire = (any(step[role] == name for step in steps) for role in (0, 1))
    return "both" if dam and sire else FEMALE if dam else MALE


def _name(parent: str, sex: str) -> str:
    return f"{parent} {sex}" if parent.startswith("k") else parent


def _descent(i: int, steps: Sequence[Step]) -> set[int]:
    parents = [int(one[1:]) - 1 for one in steps[i][:2] if one.startswith("k")]
    return {i}.union(*(_descent(j, steps) for j in parents))


def _has_look(genome: Genome, child: State, look: Look) -> bool:
    visible = genome.visible(child)
    return all((trait in visible) == seen for trait, seen in look)


def _meets(genome: Genome, child: State, goal: Mapping[str, Any]) -> bool:
    return (goal.get("sex") or child[0]) == child[0] and all(
        any(genome.is_key(locus, child, key) for key in ([keys] if isinstance(keys, str) else keys))
        for locus, keys in goal.get("genotypes", {}).items()
    )
