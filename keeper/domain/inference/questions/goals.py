"""How near animals and pairs come to a project's goal."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import product
from typing import NamedTuple

import genetics
from keeper.domain.inference.questions.asking import Asked, Subproblem, around
from keeper.domain.inference.questions.kinds import BornSex, apart, at_least_one, mean, together
from keeper.domain.inference.questions.seen_together import never_seen
from keeper.domain.inference.reading.inheritance import Inheritance, codes_of
from keeper.domain.inference.reading.shown_looks import enough_copies
from keeper.domain.inference.results import GoalChance
from keeper.domain.inference.standings.copies import unsure
from keeper.models import Animal, GoalPart, Need, Project, Sex, Shown

# The sex that a goal may ask for.
WANTED_SEX: dict[str, BornSex] = {Sex.FEMALE: "female", Sex.MALE: "male"}

# For each locus the ids of the lines of which some copy is wanted there.
Wanted = dict[int, frozenset[int]]


def goal_chances(project: Project, animals: Iterable[Animal]) -> dict[int, float]:
    """Chance by animal id that it carries at least one copy for every part of the goal."""
    members = list(animals)
    parts = goal_parts(project)
    found = dict.fromkeys((one.pk for one in members), 1.0)
    if not members or not parts:
        return found
    asked = around(project.species, members)
    wanted = [wanted_lines(asked.of.inheritance, part) for part in parts]
    for one in asked.subproblems:
        here = [part for part in wanted if part.keys() <= one.loci]
        for pk, chance in _carry_all(one, members, here).items():
            found[pk] *= chance
    decided = {pk for one in asked.subproblems for pk in one.loci}
    if any(not part.keys() <= decided for part in wanted):
        return dict.fromkeys(found, 0.0)
    return found


def goal_never_seen(project: Project) -> str:
    """Why no animal can show all that a goal asks to be seen; empty if some can."""
    seen: dict[int, set[int]] = {}
    for part in goal_parts(project):
        if part.need == Need.SHOWS:
            lines = {line.pk for line in part.among} or ({part.line_id} - {None})
            seen.setdefault(part.trait_id, set()).update(pk for pk in lines if pk is not None)
    return never_seen(project.species, list(seen.items())) if len(seen) > 1 else ""


def goal_parts(project: Project) -> list[GoalPart]:
    """The parts of a goal, those of its named looks among them."""
    looks = project.goal_looks.live().select_related("look")
    parts = list(project.goal_parts.live().select_related("trait", "line"))
    return parts + [part for one in looks for part in one.as_parts()]


def _carry_all(one: Subproblem, members: list[Animal], wanted: list[Wanted]) -> dict[int, float]:
    """The same for the parts of the goal that lie in one subproblem."""
    loci = sorted({pk for part in wanted for pk in part})
    if not loci:
        return {}
    inheritance = one.of.inheritance
    names = [inheritance.loci[pk].name for pk in loci]
    codes = {animal.pk: one.code(animal) for animal in members}
    solved = one.solve([tuple((code, name) for name in names) for code in codes.values()])
    classes = [_classes(inheritance, solved, pk, wanted) for pk in loci]
    return {pk: _meets_all(solved, code, names, classes, len(wanted)) for pk, code in codes.items()}


def wanted_lines(inheritance: Inheritance, part: GoalPart) -> Wanted:
    """The lines of which some copy serves a part of a goal, by locus."""
    if part.among:
        return _by_locus(inheritance, {line.pk for line in part.among})
    if part.line is not None:
        return {part.line.locus_id: frozenset({part.line_id or 0})}
    trait = inheritance.traits[part.trait_id]
    lines = {line.pk for line in inheritance.lines_of(trait)}
    for parts in inheritance.conditions.get(trait.pk, []):
        for _, among in parts:
            lines |= among
    return _by_locus(inheritance, lines)


def _by_locus(inheritance: Inheritance, lines: set[int]) -> Wanted:
    found: dict[int, set[int]] = {}
    for pk in lines:
        found.setdefault(inheritance.lines[pk].locus_id, set()).add(pk)
    return {locus: frozenset(pks) for locus, pks in found.items()}


def _classes(
    inheritance: Inheritance, solved: "genetics.Solved", locus: int, wanted: list[Wanted]
) -> dict[frozenset[int], list[str]]:
    """Genotype keys at a locus by the parts of the goal that they serve."""
    found: dict[frozenset[int], list[str]] = {}
    for key in solved.posterior_table(inheritance.loci[locus].name)[1]:
        copies = set(codes_of(key))
        serves = frozenset(
            number
            for number, one in enumerate(wanted)
            if copies & {inheritance.lines[pk].code for pk in one.get(locus, ())}
        )
        found.setdefault(serves, []).append(key)
    return found


def _meets_all(
    solved: "genetics.Solved",
    code: str,
    names: list[str],
    classes: list[dict[frozenset[int], list[str]]],
    parts: int,
) -> float:
    met = missed = 0.0
    for choice in product(*(one.items() for one in classes)):
        keys = {name: listed for name, (_, listed) in zip(names, choice, strict=True)}
        chance = float(genetics.joint(solved, code, keys))
        if len(frozenset().union(*(serves for serves, _ in choice))) == parts:
            met += chance
        else:
            missed += chance
    return unsure(met) if missed else 1.0


def pair_goals(
    project: Project, pairs: Sequence[tuple[Animal, Animal]], eggs: Sequence[int]
) -> list[GoalChance]:
    """How likely a hatchling of each pair meets the goal; the book is read once for all."""
    if not pairs:
        return []
    parts = goal_parts(project)
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
    import numpy as np

    nothing = GoalChance(0.0, dict.fromkeys(eggs, 0.0), None)
    inheritance = asked.of.inheritance
    decided = {pk for one in asked.subproblems for pk in one.loci}
    if any(not _loci_needed(inheritance, part) <= decided for part in parts):
        return nothing
    sexed = any(one.decides_sex for one in asked.subproblems)
    weights, chances = [], []
    sons = daughters = 1.0
    for one in asked.subproblems:
        here = [part for part in parts if _loci_needed(inheritance, part) <= one.loci]
        sex = WANTED_SEX.get(project.sex) if one.decides_sex else None
        if here or sex:
            found = _subproblem_goal(one, here, one.code(dam), one.code(sire), sex)
            weights.append(np.array([weight for weight, _ in found.kinds]))
            chances.append(np.array([p for _, p in found.kinds]))
            sons, daughters = sons * found.sons, daughters * found.daughters
    weight, chance = together(weights), together(chances)
    if project.sex in WANTED_SEX and not sexed and project.species.has_sex_chromosomes:
        chance = chance / 2
    rows = list(zip(weight.tolist(), chance.tolist(), strict=True))
    shares = (None, None) if project.sex in WANTED_SEX else apart(sons, daughters)
    return GoalChance(
        mean(weight, chance),
        at_least_one(weight, chance, eggs),
        genetics.eggs_needed(rows, 0.95),
        *shares,
    )


class _Given(NamedTuple):
    """Kinds that a couple may be: weight, chance of a hatchling that meets some parts of the goal.

    `sons`, `daughters`: the share of either that meets them.
    """

    kinds: list[tuple[float, float]]
    sons: float
    daughters: float


def _subproblem_goal(
    one: Subproblem, parts: list[GoalPart], dam: str, sire: str, sex: BornSex | None
) -> _Given:
    question, extra = _question(one.of.inheritance, parts, dam, sire, sex)
    one = one.with_records(traits=extra)
    solved = one.solve([genetics.couple_query(one.book.population, question)])
    chances = genetics.couple_chances(solved, question)
    total = sum(weight for weight, _ in chances)
    kinds = [(weight / total, p) for weight, p in chances]
    if one.decides_sex:
        return _Given(kinds, _share(solved, question, "male"), _share(solved, question, "female"))
    share = sum(weight * p for weight, p in kinds)
    return _Given(kinds, share, share)


def _share(solved: "genetics.Solved", question: genetics.OffspringQuestion, sex: BornSex) -> float:
    """The share of the young of one sex that meets a goal; without any such young 0."""
    assert question.goal is not None

    def chance(goal: genetics.Goal) -> float:
        kinds = genetics.couple_chances(solved, replace(question, goal=goal))
        return sum(weight * p for weight, p in kinds)

    met, born = chance(replace(question.goal, sex=sex)), chance(genetics.Goal(sex=sex))
    return unsure(met / born) if met < born else float(born > 0)


def _loci_needed(inheritance: Inheritance, part: GoalPart) -> frozenset[int]:
    """Every locus that decides whether a part is met; a trait without lines never is."""
    trait = inheritance.traits[part.trait_id]
    found = inheritance.loci_of(trait) | wanted_lines(inheritance, part).keys()
    return found or frozenset({-1})


def _question(
    inheritance: Inheritance,
    parts: list[GoalPart],
    dam: str,
    sire: str,
    sex: BornSex | None,
) -> tuple[genetics.OffspringQuestion, list[genetics.Trait]]:
    """The goal as the engine asks it, with what it has to see as traits of their own."""
    shows: dict[str, bool] = {}
    extra = []
    for number, part in enumerate(parts):
        trait = inheritance.traits[part.trait_id]
        if part.need == Need.SHOWS:
            shows[trait.name] = True
            if part.line is None and not part.among:
                continue
        name = f"\npart {number}"
        needed = 2 if part.need == Need.TWO else 1
        if part.need == Need.SHOWS and trait.shown in (Shown.RECESSIVE, Shown.EVERY):
            needed = 2
        alternatives = enough_copies(inheritance, wanted_lines(inheritance, part), needed)
        extra.append(genetics.Trait(id=name, shown_by=tuple(alternatives)))
        shows[name] = True
    goal = genetics.Goal(shows=shows, sex=sex)
    return genetics.OffspringQuestion(dam=dam, sire=sire, goal=goal), extra
