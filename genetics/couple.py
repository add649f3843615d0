"""What a couple gives: looks by chance and the odds of a goal, parents uncertain together."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from genetics.arrays import Bools1
from genetics.dam_alone import hatched_alone, sex_alone
from genetics.errors import BeyondExact
from genetics.model import genotype
from genetics.population import NO_SIRE, Goal, OffspringQuestion, Population, Sex
from genetics.solving import Solved, World
from genetics.spaces import EITHER

SEXES: tuple[Sex, Sex] = ("female", "male")
MOST_CLASSES = 200_000
"""Kinds of parents, or of hatchlings, told apart before the answer is called too large."""


@dataclass(frozen=True)
class Offspring:
    """Looks with their chances, the chance of the goal, and of at least one by hatchlings."""

    phenotypes: tuple[tuple[tuple[str, ...], float], ...]
    goal: float | None
    at_least_one: Mapping[int, float]


GOAL = "~goal"
"""The fact that every genotype of the goal is there."""

Fact = tuple[tuple[str, int], ...]
"""What is so of a hatchling: conditions of traits and goals that are met (1) or not, its sex."""
Facts = dict[Fact, float]


def couple_query(
    population: Population, question: OffspringQuestion
) -> tuple[tuple[str, str], ...]:
    """The (animal, locus) pairs whose joint table the question needs."""
    wanted = _loci(population, question)
    parents = (one for one in (question.dam, question.sire) if one != NO_SIRE)
    return tuple((animal, locus) for animal in parents for locus in wanted)


def goal_query(population: Population, question: OffspringQuestion) -> tuple[tuple[str, str], ...]:
    """The same for the goal alone (`goal_kinds`): only loci that decide whether it is met."""
    wanted = _loci(population, question, _deciding(population, question))
    parents = (one for one in (question.dam, question.sire) if one != NO_SIRE)
    return tuple((animal, locus) for animal in parents for locus in wanted)


def _deciding(population: Population, question: OffspringQuestion) -> frozenset[str]:
    """The traits that decide whether a goal is met: its own, and what hides these."""
    own = frozenset(question.goal.shows) if question.goal is not None else frozenset()
    return own | {trait.id for trait in population.traits if own & set(trait.hides)}


def _loci(
    population: Population, question: OffspringQuestion, only: frozenset[str] | None = None
) -> list[str]:
    """Loci that traits or the goal look at, and those of viability on the sex chromosomes.

    With `only` no trait counts but those.
    """
    found: set[str] = set()
    for trait in population.traits:
        if only is not None and trait.id not in only:
            continue
        found.update(trait.recessive_at)
        for alternative in trait.shown_by:
            found.update(alternative)
    if question.goal is not None:
        found.update(question.goal.genotypes)
    sexed = {locus.id for locus in population.loci if locus.chromosome != "autosome"}
    found.update(entry.locus for entry in population.viability if entry.locus in sexed)
    return [locus.id for locus in population.loci if locus.id in found]


def offspring(solved: Solved, question: OffspringQuestion) -> Offspring:
    """Answer an offspring question on a population solved with its `couple_query`.

    The chance of at least one success in n hatchlings is the average of 1 - (1 - p)^n over the
    joint posterior of the parents' genotypes and of the open hypotheses.

    Raises:
        BeyondExact: too many kinds of parents to tell apart.
    """
    looks: dict[tuple[str, ...], float] = defaultdict(float)
    chances: dict[float, float] = defaultdict(float)
    for world, share in zip(solved.worlds, solved.chance, strict=True):
        for weight, by_look, success in couple_kinds(solved, world, question):
            for look, p in by_look.items():
                looks[look] += share * weight * p
            chances[success] += share * weight
    order = {trait.id: i for i, trait in enumerate(solved.population.traits)}
    listed = sorted(
        ((look, p) for look, p in looks.items() if p > 0),
        key=lambda row: (-round(row[1], 12), len(row[0]), [order[t] for t in row[0]]),
    )
    if question.goal is None:
        return Offspring(tuple(listed), None, {})
    goal = sum(weight * p for p, weight in chances.items())
    at_least = {
        n: sum(w * -np.expm1(n * np.log1p(-p)) if p < 1 else w for p, w in chances.items())
        if n else 0.0
        for n in question.eggs
    }  # fmt: skip
    return Offspring(tuple(listed), float(goal), {n: float(p) for n, p in at_least.items()})


def couple_kinds(
    solved: Solved, world: World, question: OffspringQuestion
) -> list[tuple[float, dict[tuple[str, ...], float], float]]:
    """Kinds of couples in one hypothesis: weight, chances of looks, chance of the goal.

    Couples that give the same distribution in every group of spaces are one kind.
    """
    found = []
    for weight, by_sex, success in sexed_kinds(solved, world, question):
        by_look: dict[tuple[str, ...], float] = defaultdict(float)
        for (_, look), p in by_sex.items():
            by_look[look] += p
        found.append((weight, dict(by_look), success))
    return found


def sexed_kinds(
    solved: Solved, world: World, question: OffspringQuestion
) -> list[tuple[float, dict[tuple[Sex, tuple[str, ...]], float], float]]:
    """The same with the chances of a hatchling's sex and look together; they sum to 1."""
    found = []
    judged: dict[Fact, tuple[tuple[str, ...], bool]] = {}
    for weight, facts in _combined(solved, world, question, None):
        by_look: dict[tuple[Sex, tuple[str, ...]], float] = defaultdict(float)
        success = 0.0
        for fact, p in facts.items():
            if fact not in judged:
                judged[fact] = _judge(world, question.goal, fact)
            look, met = judged[fact]
            by_look[SEXES[dict(fact)["sex"]], look] += p
            success += p if met else 0.0
        found.append((weight, dict(by_look), success))
    return found


def goal_kinds(solved: Solved, question: OffspringQuestion) -> list[tuple[float, float]]:
    """Uncertain parents as pairs (weight, chance that an egg meets the question's goal).

    As `genetics.crosses.couple_chances`, but of a population solved with `goal_query`: what decides
    nothing of the goal is not told apart.  Most likely goal first; the weights sum to 1.
    `genetics.couple_goals` gives averages of the same for every dam with every sire.

    Raises:
        ValueError: the question has no goal.
        BeyondExact: too many kinds of parents to tell apart.
    """
    if question.goal is None:
        raise ValueError("the question has no goal; expected one to count as success")
    only = _deciding(solved.population, question)
    found: dict[float, float] = defaultdict(float)
    for world, share in zip(solved.worlds, solved.chance, strict=True):
        judged: dict[Fact, bool] = {}
        for weight, facts in _combined(solved, world, question, only):
            success = 0.0
            for fact, p in facts.items():
                if fact not in judged:
                    judged[fact] = _judge(world, question.goal, fact)[1]
                success += p if judged[fact] else 0.0
            # Sums of chances may pass 1 by a rounding error.
            found[min(success, 1.0)] += share * weight
    return [(weight, p) for p, weight in sorted(found.items(), reverse=True)]


def _combined(
    solved: Solved, world: World, question: OffspringQuestion, only: frozenset[str] | None
) -> list[tuple[float, Facts]]:
    """Kinds of couples over all groups of spaces: weight, and what a hatchling is."""
    groups = _group_kinds(solved, world, question, only)
    kinds = math.prod(map(len, groups))
    if kinds > MOST_CLASSES:
        raise BeyondExact(float(kinds), float(MOST_CLASSES))
    combined: list[tuple[float, Facts]] = [(1.0, _any_sex(solved.population, question))]
    for group in groups:
        combined = [(w * v, _joined(facts, more)) for w, facts in combined for v, more in group]
    if question.sire == NO_SIRE:
        combined = [(weight, _of_one_sex(facts)) for weight, facts in combined]
    return combined


def _any_sex(population: Population, question: OffspringQuestion) -> Facts:
    """The sexes that a hatchling may have, by their shares, before any locus is looked at."""
    only = EITHER if question.sire != NO_SIRE else sex_alone(population.sex_determination)
    females = float(population.females)
    shares = enumerate((females, 1.0 - females))
    return {(("sex", code),): share for code, share in shares if only in (code, EITHER)}


def _of_one_sex(facts: Facts) -> Facts:
    """Of a dam alone the loci that tell the sex tell the same: the whole is one."""
    whole = sum(facts.values())
    return {fact: p / whole for fact, p in facts.items()} if whole > 0 else facts


def _joined(first: Facts, second: Facts) -> Facts:
    """Combine facts of independent spaces; facts on the sex must agree (and then count once).

    What several spaces are asked of together is met where all of them meet their part.
    """
    result: Facts = defaultdict(float)
    for one, p in first.items():
        for other, q in second.items():
            own, more = dict(one), dict(other)
            if "sex" in more:
                if more.pop("sex") != own["sex"]:
                    continue
                q = q * 2.0
            met = {name: value & more.pop(name, 1) for name, value in own.items()}
            result[(("sex", met.pop("sex")), *sorted({**met, **more}.items()))] += p * q
    if len(result) > MOST_CLASSES:
        raise BeyondExact(float(len(result)), float(MOST_CLASSES))
    return result


def _group_kinds(
    solved: Solved, world: World, question: OffspringQuestion, only: frozenset[str] | None
) -> list[list[tuple[float, Facts]]]:
    """Per group of coupled spaces: kinds of couples as (weight, hatchling facts)."""
    population, model = solved.population, world.model
    index = population.animal_index
    dam, sire = index[question.dam], index.get(question.sire, -1)
    parents = {dam, sire} - {-1}
    wanted = sorted({model.place(locus) for locus in _loci(population, question, only)})
    by_group: dict[int, list[int]] = {}
    for k in wanted:
        by_group.setdefault(id(world.group_of[k]), []).append(k)
    answers = []
    for spaces in by_group.values():
        result = world.group_of[spaces[0]]
        nodes = tuple(sorted(genotype(k, i) for k in spaces for i in parents))
        table = result.joint[nodes]
        kinds: dict[tuple[tuple[Fact, float], ...], float] = defaultdict(float)
        for cell in np.argwhere(table > 0):
            states = {node: int(s) for node, s in zip(nodes, cell, strict=True)}
            hatchling: Facts = {(("sex", 0),): 0.5, (("sex", 1),): 0.5}
            for k in spaces:
                dam_state, sire_state = states[genotype(k, dam)], states.get(genotype(k, sire), -1)
                facts = _facts(world, question, k, dam_state, sire_state, only)
                hatchling = _joined(hatchling, facts)
            kinds[tuple(sorted(hatchling.items()))] += float(table[tuple(cell)])
            if len(kinds) > MOST_CLASSES:
                raise BeyondExact(float(len(kinds)), float(MOST_CLASSES))
        answers.append([(weight, dict(facts)) for facts, weight in kinds.items()])
    return answers


def _facts(
    world: World,
    question: OffspringQuestion,
    k: int,
    dam: int,
    sire: int,
    only: frozenset[str] | None,
) -> Facts:
    """Distribution of what space k decides of a hatchling of parents in these states.

    The sire's state is -1 where the dam is alone.

    A fact is ((name, value), ...): alternatives met here, goal met here, sex.
    """
    space = world.model.spaces[k]
    if sire < 0:
        chances = np.zeros(space.size)
        for young, p in hatched_alone(space, dam, question.retained).items():
            chances[young] = float(p)
    elif space.sex_linked and not space.carries_sex:
        chances = space.table[dam, sire] / 2.0
    else:
        chances = space.table[dam, sire]
    masks: list[tuple[str, Bools1]] = []
    for trait, expression in world.model.looks.expressions.items():
        if only is not None and trait not in only:
            continue
        for number, alternative in enumerate(expression.alternatives):
            if k in alternative:
                masks.append((str((trait, number)), alternative[k]))
    if question.goal is not None:
        for locus, keys in question.goal.genotypes.items():
            if world.model.place(locus) == k:
                masks.append((GOAL, space.accepts(locus, keys)))
    found: Facts = defaultdict(float)
    for state in np.flatnonzero(chances > 0):
        keyed: dict[str, int] = {}
        for name, mask in masks:
            keyed[name] = keyed.get(name, 1) & int(mask[state])
        if space.sex_linked:
            keyed["sex"] = int(space.sex[state])
        found[tuple(sorted(keyed.items()))] += float(chances[state])
    return found


def _judge(world: World, goal: Goal | None, fact: Fact) -> tuple[tuple[str, ...], bool]:
    """Visible traits of a hatchling with these facts, and whether it meets the goal."""
    known = dict(fact)
    looks = world.model.looks
    expressed = {
        trait: any(
            bool(known.get(str((trait, number)), 1))
            for number in range(len(expression.alternatives))
        )
        for trait, expression in looks.expressions.items()
    }
    visible = tuple(
        trait.id
        for trait in looks.traits
        if expressed[trait.id] and not any(expressed[h] for h in looks.hidden_by[trait.id])
    )
    if goal is None:
        return visible, False
    met = all((trait in visible) == wanted for trait, wanted in goal.shows.items())
    met = met and bool(known.get(GOAL, 1))
    met = met and (goal.sex is None or SEXES[known["sex"]] == goal.sex)
    return visible, met


def joint(solved: Solved, animal: str, genotypes: Mapping[str, Sequence[str]]) -> float:
    """Probability that an animal has one of the given keys at each of several loci.

    The population must have been solved with the query ((animal, locus), ...).
    """
    total = 0.0
    i = solved.population.animal_index[animal]
    for world, share in zip(solved.worlds, solved.chance, strict=True):
        masks: dict[int, Bools1] = {}
        for locus, keys in genotypes.items():
            k = world.model.place(locus)
            mask = world.model.spaces[k].accepts(locus, keys)
            masks[k] = masks[k] & mask if k in masks else mask
        by_group: dict[int, list[int]] = {}
        for k in sorted(masks):
            by_group.setdefault(id(world.group_of[k]), []).append(k)
        chance = share
        for spaces in by_group.values():
            table = world.group_of[spaces[0]].joint[tuple(genotype(k, i) for k in spaces)]
            for k in reversed(spaces):
                table = np.asarray(table[..., masks[k]].sum(axis=-1))
            chance *= float(table)
        total += chance
    return total


def pair_keys(solved: Solved, first: str, second: str, locus: str) -> dict[tuple[str, str], float]:
    """Joint probabilities of two animals' genotype keys at one locus, those above 0.

    The population must have been solved with the query ((first, locus), (second, locus)).
    """
    index = solved.population.animal_index
    found: dict[tuple[str, str], float] = defaultdict(float)
    for world, share in zip(solved.worlds, solved.chance, strict=True):
        k = world.model.place(locus)
        space = world.model.spaces[k]
        place = space.locus_position(locus)
        one, other = genotype(k, index[first]), genotype(k, index[second])
        nodes = tuple(sorted((one, other)))
        table = world.group_of[k].joint[nodes]
        for cell in np.argwhere(table > 0):
            state = dict(zip(nodes, cell.tolist(), strict=True))
            a, b = (space.keys[place][space.key_of[place][state[node]]] for node in (one, other))
            found[a, b] += share * float(table[tuple(cell)])
    return dict(found)
