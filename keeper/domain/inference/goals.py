"""How near animals and pairs come to a project's goal."""

from collections.abc import Iterable, Sequence
from itertools import product
from typing import Any

import genetics
from keeper.domain.inference.asking import Asked, around
from keeper.domain.inference.inheritance import Inheritance
from keeper.domain.inference.results import GoalChance
from keeper.models import Animal, GoalPart, Need, Project, Shown

# For each locus the ids of the lines of which some copy is wanted there.
Wanted = dict[int, frozenset[int]]


def goal_chances(project: Project, animals: Iterable[Animal]) -> dict[int, float]:
    """Chance by animal id that it carries at least one copy for every part of the goal."""
    members = list(animals)
    parts = list(project.goal_parts.live().select_related("trait", "line"))
    if not members or not parts:
        return dict.fromkeys((one.pk for one in members), 0.0 if parts else 1.0)
    asked = around(project.species, members)
    wanted = [_wanted(asked.of.inheritance, part) for part in parts]
    solved_loci = {locus.id for locus in asked.book.population.loci}
    names = asked.of.inheritance.loci
    loci = sorted({pk for one in wanted for pk in one if names[pk].name in solved_loci})
    if any(not any(pk in loci for pk in one) for one in wanted):
        return dict.fromkeys((one.pk for one in members), 0.0)
    codes = {one.pk: asked.code(one) for one in members}
    queries = [tuple((code, names[pk].name) for pk in loci) for code in codes.values()]
    solved = asked.solve(queries)
    classes = [_classes(asked.of.inheritance, solved, pk, wanted) for pk in loci]
    return {
        pk: _meets_all(solved, code, [names[one].name for one in loci], classes, len(wanted))
        for pk, code in codes.items()
    }


def _wanted(inheritance: Inheritance, part: GoalPart) -> Wanted:
    if part.line is not None:
        return {part.line.locus_id: frozenset({part.line_id or 0})}
    trait = inheritance.traits[part.trait_id]
    lines = {line.pk for line in inheritance.lines_of(trait)}
    for parts in inheritance.conditions.get(trait.pk, []):
        for _, among in parts:
            lines |= among
    found: dict[int, set[int]] = {}
    for pk in lines:
        found.setdefault(inheritance.lines[pk].locus_id, set()).add(pk)
    return {locus: frozenset(pks) for locus, pks in found.items()}


def _classes(
    inheritance: Inheritance, solved: Any, locus: int, wanted: list[Wanted]
) -> dict[frozenset[int], list[str]]:
    """Genotype keys at a locus by the parts of the goal that they serve."""
    found: dict[frozenset[int], list[str]] = {}
    for key in solved.posterior_table(inheritance.loci[locus].name)[1]:
        copies = set(key.replace("|", "/").split("/"))
        serves = frozenset(
            number
            for number, one in enumerate(wanted)
            if copies & {inheritance.lines[pk].code for pk in one.get(locus, ())}
        )
        found.setdefault(serves, []).append(key)
    return found


def _meets_all(
    solved: Any, code: str, names: list[str], classes: list[dict[frozenset[int], list[str]]],
    parts: int,
) -> float:  # fmt: skip
    from genetics.couple import joint

    total = 0.0
    for choice in product(*(one.items() for one in classes)):
        if len(frozenset().union(*(serves for serves, _ in choice))) == parts:
            keys = {name: listed for name, (_, listed) in zip(names, choice, strict=True)}
            total += float(joint(solved, code, keys))
    return min(total, 1.0)


def pair_goals(
    project: Project, pairs: Sequence[tuple[Animal, Animal]], eggs: Sequence[int]
) -> list[GoalChance]:
    """How likely a hatchling of each pair meets the goal; the book is read once for all."""
    parts = list(project.goal_parts.live().select_related("trait", "line"))
    asked = around(project.species, {one for pair in pairs for one in pair})
    return [_pair_goal(asked, project, parts, *pair, eggs) for pair in pairs]


def _pair_goal(
    asked: Asked,
    project: Project,
    parts: list[GoalPart],
    dam: Animal,
    sire: Animal,
    eggs: Sequence[int],
) -> GoalChance:
    from genetics.clutch_size import at_least_one, eggs_needed
    from genetics.couple import couple_query
    from genetics.crosses import couple_chances

    question, extra = _question(asked, project, parts, asked.code(dam), asked.code(sire))
    if question is None:
        return GoalChance(0.0, dict.fromkeys(eggs, 0.0), None)
    asked = asked.with_records(traits=extra)
    solved = asked.solve([couple_query(asked.book.population, question)])
    chances = couple_chances(solved, question)
    total = sum(weight for weight, _ in chances)
    chances = [(weight / total, p) for weight, p in chances]
    return GoalChance(
        each=float(sum(weight * p for weight, p in chances)),
        at_least_one={n: float(at_least_one(chances, n)) for n in eggs},
        for_95=eggs_needed(chances, 0.95),
    )


def _question(
    asked: Asked, project: Project, parts: list[GoalPart], dam: str, sire: str
) -> tuple[Any, list[Any]]:
    """The goal as the engine asks it; None if nothing in this part of the book can meet it."""
    inheritance = asked.of.inheritance
    here = {locus.id for locus in asked.book.population.loci}
    shows: dict[str, bool] = {}
    extra = []
    for number, part in enumerate(parts):
        trait = inheritance.traits[part.trait_id]
        if part.need == Need.SHOWS:
            loci = {inheritance.loci[pk].name for pk in inheritance.loci_of(trait)}
            if not loci <= here:
                return None, []
            shows[trait.name] = True
            if part.line is None:
                continue
        name = f"\npart {number}"
        needed = 2 if part.need == Need.TWO else 1
        if part.need == Need.SHOWS and trait.shown in (Shown.RECESSIVE, Shown.EVERY):
            needed = 2
        alternatives = _alternatives(inheritance, _wanted(inheritance, part), needed, here)
        if not alternatives:
            return None, []
        extra.append(genetics.Trait(id=name, shown_by=tuple(alternatives)))
        shows[name] = True
    sex = None if project.sex == "unknown" else project.sex
    goal = genetics.Goal(shows=shows, sex=sex)
    return genetics.OffspringQuestion(dam=dam, sire=sire, goal=goal), extra


def _alternatives(
    inheritance: Inheritance, wanted: Wanted, needed: int, here: set[str]
) -> list[dict[str, tuple[str, ...]]]:
    """Enough copies at one of the loci; a single copy of a sex chromosome is all there is."""
    found = []
    for locus, among in wanted.items():
        name = inheritance.loci[locus].name
        if name not in here:
            continue
        keys = tuple(
            key
            for key, copies in inheritance.keys(locus)
            if sum(line in among for line in copies) >= min(needed, len(copies))
        )
        found.append({name: keys})
    return found
