"""How near animals and pairs come to a project's goal."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import product
from math import prod
from typing import NamedTuple

import genetics
from keeper.domain.inference.questions.asking import (
    Asked,
    Couple,
    Party,
    Subproblem,
    Unanswerable,
    around,
)
from keeper.domain.inference.questions.kinds import BornSex, apart, at_least_one, mean, together
from keeper.domain.inference.questions.seen_together import never_seen
from keeper.domain.inference.reading.inheritance import Inheritance, codes_of
from keeper.domain.inference.reading.shown_looks import enough_copies
from keeper.domain.inference.results import GoalChance
from keeper.domain.inference.standings.copies import unsure
from keeper.models import Animal, Chromosome, GoalPart, Need, Project, Sex, Shown

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
    return _by_locus(inheritance, inheritance.lines_showing(inheritance.traits[part.trait_id]))


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
    asked = around(project.species, {one for pair in pairs for one in pair})
    return goals_of(asked, project, pairs, eggs, by_sex=True)


def goals_of(
    asked: Asked,
    project: Project,
    pairs: Sequence[tuple[Party, Party]],
    eggs: Sequence[int],
    *,
    by_sex: bool,
) -> list[GoalChance]:
    """The same of what was gathered around all of them; `by_sex`: sons and daughters apart too.

    Raises:
        Unanswerable: it is too large to be worked out.
    """
    parts = goal_parts(project)
    inheritance = asked.of.inheritance
    decided = {pk for one in asked.subproblems for pk in one.loci}
    if any(not _loci_needed(inheritance, part) <= decided for part in parts):
        return [GoalChance(0.0, dict.fromkeys(eggs, 0.0), None)] * len(pairs)
    found = []
    for one in asked.subproblems:
        here = [part for part in parts if _loci_needed(inheritance, part) <= one.loci]
        sex = WANTED_SEX.get(project.sex) if one.decides_sex else None
        if here or sex:
            couples = [(one.code(dam), one.code(sire)) for dam, sire in pairs]
            found.append(_subproblem_goals(one, here, couples, sex, by_sex=by_sex))
    sexed = any(one.decides_sex for one in asked.subproblems)
    halved = project.sex in WANTED_SEX and not sexed and project.species.has_sex_chromosomes
    split = by_sex and project.sex not in WANTED_SEX
    return [
        _goal_chance([of[place] for of in found], eggs, halved=halved, split=split)
        for place in range(len(pairs))
    ]


def _goal_chance(
    given: Sequence["_Given"], eggs: Sequence[int], *, halved: bool, split: bool
) -> GoalChance:
    """One pair's chance over all subproblems; `halved` where its sex is even by chance."""
    import numpy as np

    weight = together([np.array([weight for weight, _ in one.kinds]) for one in given])
    chance = together([np.array([p for _, p in one.kinds]) for one in given])
    if halved:
        chance = chance / 2
    rows = list(zip(weight.tolist(), chance.tolist(), strict=True))
    sons, daughters = prod(one.sons for one in given), prod(one.daughters for one in given)
    return GoalChance(
        mean(weight, chance),
        at_least_one(weight, chance, eggs),
        genetics.eggs_needed(rows, 0.95),
        *(apart(sons, daughters) if split else (None, None)),
    )


class _Given(NamedTuple):
    """Kinds that a couple may be: weight, chance of a hatchling that meets some parts of the goal.

    `sons`, `daughters`: the share of either that meets them.
    """

    kinds: list[tuple[float, float]]
    sons: float
    daughters: float


_NOTHING = _Given([(1.0, 0.0)], 0.0, 0.0)


def _subproblem_goals(
    one: Subproblem,
    parts: list[GoalPart],
    couples: Sequence[Couple],
    sex: BornSex | None,
    *,
    by_sex: bool,
) -> list[_Given]:
    """What each couple may be there; solved once for all to whom it is possible at all."""
    goal, extra = _goal(one.of.inheritance, parts, sex)
    hopeful = _hopeful(one, parts, couples)
    asked = [
        genetics.OffspringQuestion(dam=dam, sire=sire, goal=goal)
        for (dam, sire), hope in zip(couples, hopeful, strict=True)
        if hope
    ]
    given = iter(_given(one.with_records(traits=extra), asked, by_sex=by_sex))
    return [next(given) if hope else _NOTHING for hope in hopeful]


def _given(
    one: Subproblem, questions: Sequence[genetics.OffspringQuestion], *, by_sex: bool
) -> Iterable[_Given]:
    def queries(question: genetics.OffspringQuestion) -> list[tuple[tuple[str, str], ...]]:
        asked = [question, *(_of_sex(question) if by_sex and one.decides_sex else ())]
        return [genetics.goal_query(one.book.population, it) for it in asked]

    try:
        solved = one.solve(
            [it for question in questions for it in queries(question)], exact_only=True
        )
    except Unanswerable:
        # All at once are too large: one after the other, with the error of each.
        for question in questions:
            yield _of_couple(one, one.solve(queries(question)), question, by_sex=by_sex)
    else:
        for question in questions:
            yield _of_couple(one, solved, question, by_sex=by_sex)


def _of_couple(
    one: Subproblem,
    solved: "genetics.Solved",
    question: genetics.OffspringQuestion,
    *,
    by_sex: bool,
) -> _Given:
    chances = genetics.goal_kinds(solved, question)
    total = sum(weight for weight, _ in chances)
    kinds = [(weight / total, p) for weight, p in chances]
    if one.decides_sex and by_sex:
        return _Given(kinds, _share(solved, question, "male"), _share(solved, question, "female"))
    share = sum(weight * p for weight, p in kinds)
    return _Given(kinds, share, share)


def _hopeful(one: Subproblem, parts: list[GoalPart], couples: Sequence[Couple]) -> list[bool]:
    """Whether each couple may have what the parts ask for: cheap, and never a wrong no.

    A copy that is wanted comes from a parent; where two are needed of an ordinary chromosome, each
    parent gives one.
    """
    inheritance, solved = one.of.inheritance, one.solved
    people = sorted({code for couple in couples for code in couple})
    found = [True] * len(couples)
    for part in parts:
        trait = inheritance.traits[part.trait_id]
        if trait.shown == Shown.RULES:
            continue
        wanted = wanted_lines(inheritance, part)
        may = {code for code in people if _may_carry(inheritance, solved, code, wanted)}
        both = two_needed(part) and all(
            inheritance.loci[pk].chromosome == Chromosome.AUTOSOME for pk in wanted
        )
        for place, couple in enumerate(couples):
            having = sum(code in may for code in couple)
            found[place] = found[place] and having >= (2 if both else 1)
    return found


def _may_carry(
    inheritance: Inheritance, solved: "genetics.Solved", code: str, wanted: Wanted
) -> bool:
    for locus, lines in wanted.items():
        codes = {inheritance.lines[pk].code for pk in lines}
        chances = solved.posterior(code, inheritance.loci[locus].name)
        if any(p > 0 and codes & set(codes_of(key)) for key, p in chances.items()):
            return True
    return False


def _of_sex(question: genetics.OffspringQuestion) -> list[genetics.OffspringQuestion]:
    """How many of the young are of a sex, as questions of their own."""
    return [replace(question, goal=genetics.Goal(sex=sex)) for sex in ("female", "male")]


def _share(solved: "genetics.Solved", question: genetics.OffspringQuestion, sex: BornSex) -> float:
    """The share of the young of one sex that meets a goal; without any such young 0."""
    assert question.goal is not None

    def chance(goal: genetics.Goal) -> float:
        kinds = genetics.goal_kinds(solved, replace(question, goal=goal))
        return sum(weight * p for weight, p in kinds)

    met, born = chance(replace(question.goal, sex=sex)), chance(genetics.Goal(sex=sex))
    return unsure(met / born) if met < born else float(born > 0)


def _loci_needed(inheritance: Inheritance, part: GoalPart) -> frozenset[int]:
    """Every locus that decides whether a part is met; a trait without lines never is."""
    trait = inheritance.traits[part.trait_id]
    found = inheritance.loci_of(trait) | wanted_lines(inheritance, part).keys()
    return found or frozenset({-1})


def two_needed(part: GoalPart) -> bool:
    """Whether a part of a goal takes two copies."""
    shown = part.trait.shown
    twice = part.need == Need.SHOWS and shown in (Shown.RECESSIVE, Shown.EVERY)
    return part.need == Need.TWO or twice


def _goal(
    inheritance: Inheritance, parts: list[GoalPart], sex: BornSex | None
) -> tuple[genetics.Goal, list[genetics.Trait]]:
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
        alternatives = enough_copies(
            inheritance, wanted_lines(inheritance, part), 2 if two_needed(part) else 1
        )
        extra.append(genetics.Trait(id=name, shown_by=tuple(alternatives)))
        shows[name] = True
    return genetics.Goal(shows=shows, sex=sex), extra
