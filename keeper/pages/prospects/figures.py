"""What the book would say of a prospect if it were here, and to whom it could be bred.

The animal is entered, asked about and taken back (`domain.prospects.as_if_here`), so all figures
are exactly those that its purchase would give, on its seller's word.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.core.exceptions import ValidationError

from keeper.domain import inference
from keeper.domain.animals import queries as animal_queries
from keeper.domain.book.writing import Refused
from keeper.domain.inference import GoalChance, SourceRecord, Unanswerable
from keeper.domain.prospects import queries
from keeper.domain.prospects.fits import Lines
from keeper.domain.prospects.writes import as_if_here
from keeper.domain.saying.figures import by_sex, percent
from keeper.domain.saying.goals import sex_left_out
from keeper.domain.saying.wording import Carried
from keeper.models import (
    Account,
    Animal,
    GoalPart,
    Prospect,
    Sex,
    Standing,
    Statement,
    Trait,
)
from keeper.pages.prospects.page import ProjectFit, lines_known

EGGS = (8, 16)
# So many mates are worked out for each project, and so many of them shown.
_TRIED, _SHOWN = 6, 3


@dataclass(frozen=True)
class Strip:
    """One strip: a trait, or one line of it, with the statement that its word rests on."""

    carried: Carried
    standing: Standing
    statement: Statement | None


@dataclass(frozen=True)
class Mate:
    """An animal here, what it carries of a goal, and what one of their hatchlings would be.

    Without figures (`each` empty) the sex of the prospect is not known, or it cannot be told.
    """

    animal: Animal
    carries: str
    each: str = ""
    at_least_one: tuple[tuple[int, str], ...] = ()
    for_95: int | None = None
    by_sex: str = ""


@dataclass(frozen=True)
class ProjectFigures:
    """How near the prospect would come to a goal, and the best mates for it."""

    project: ProjectFit
    chance: str
    mates: tuple[Mate, ...]
    sex_left_out: str = ""


@dataclass(frozen=True)
class Figures:
    """What the book would say; with a `problem` nothing can be said.

    `record` is what became of the statements that its source made before.
    """

    strips: tuple[Strip, ...] = ()
    projects: tuple[ProjectFigures, ...] = ()
    eggs: tuple[int, ...] = EGGS
    record: SourceRecord | None = None
    problem: str = ""


@dataclass(frozen=True)
class _Sought:
    """A project with the animals here that could be mates for it, the likeliest first."""

    fit: ProjectFit
    mates: tuple[tuple[Animal, str], ...]


def figures(prospect: Prospect, fits: Sequence[ProjectFit], by: Account) -> Figures:
    """Return what the book would say of a prospect, and of it with its best mates."""
    sought = _mates(prospect, fits)
    record = inference.source_record(prospect.source) if prospect.source else None
    if record is not None and not record.tried:
        record = None
    try:
        found = as_if_here(prospect=prospect, by=by, ask=lambda animal: _asked(animal, sought))
    except Refused as refused:
        return Figures(problem=str(refused))
    except ValidationError as error:
        return Figures(problem=" ".join(error.messages))
    return replace(found, record=record)


def _asked(animal: Animal, sought: Sequence[_Sought]) -> Figures:
    carried = animal_queries.carried_by([animal.pk]).get(animal.pk, [])
    said = {one.trait_id: one for one in animal_queries.statements_of(animal)}
    strips = tuple(
        Strip(one, standing, said.get(one.trait.pk))
        for one in carried
        for standing in (one.over_all, *one.parts)
    )
    return Figures(strips, tuple(_project(animal, one) for one in sought))


def _project(animal: Animal, sought: _Sought) -> ProjectFigures:
    project = sought.fit.project
    try:
        chance = percent(inference.goal_chances(project, [animal])[animal.pk])
        mates = _bred(animal, sought)
    except Unanswerable:
        # It stays without figures: what the mates carry is on record all the same.
        chance, mates = "", [Mate(*one) for one in sought.mates]
    return ProjectFigures(sought.fit, chance, tuple(mates[:_SHOWN]), sex_left_out(project))


def _bred(animal: Animal, sought: _Sought) -> list[Mate]:
    if animal.sex == Sex.UNKNOWN:
        return [Mate(*one) for one in sought.mates]
    couples = [
        (animal, mate) if animal.sex == Sex.FEMALE else (mate, animal) for mate, _ in sought.mates
    ]
    answers = inference.pair_goals(sought.fit.project, couples, eggs=EGGS)
    ranked = sorted(zip(sought.mates, answers, strict=True), key=lambda one: -one[1].each)
    return [_mate(*mate, answer) for mate, answer in ranked]


def _mate(animal: Animal, carries: str, answer: GoalChance) -> Mate:
    return Mate(
        animal,
        carries,
        percent(answer.each),
        tuple((count, percent(answer.at_least_one[count])) for count in EGGS),
        answer.for_95,
        by_sex(answer.sons, answer.daughters),
    )


# --- who could be a mate -----------------------------------------------------------------------

# Chances of no copy, by trait and line, then by animal.
_Misses = Mapping[tuple[int, int | None], Mapping[int, float]]


def _mates(prospect: Prospect, fits: Sequence[ProjectFit]) -> list[_Sought]:
    """Find for each project the animals here that carry most of its goal, by their standings."""
    parts = [part.fit.part for one in fits for part in one.parts]
    lines = lines_known(prospect, parts)
    found = queries.mates(prospect)
    traits = {line.trait_id for part in parts for line in lines.wanted(part)}
    misses = queries.misses_in_goals(found, traits) if parts else {}
    who = {pk for of_line in misses.values() for pk in of_line}
    animals = list(found.filter(pk__in=who)) if who else []
    return [_Sought(one, _ranked(animals, one, lines, misses)) for one in fits]


def _ranked(
    animals: Iterable[Animal], project: ProjectFit, lines: Lines, misses: _Misses
) -> tuple[tuple[Animal, str], ...]:
    """Those that carry anything of a goal; what the prospect lacks of it counts twice."""
    weights = [1 if part.serves else 2 for part in project.parts]
    found = []
    for animal in animals:
        carried = [_best(animal.pk, part.fit.part, lines, misses) for part in project.parts]
        score = sum(w * chance for w, (chance, _) in zip(weights, carried, strict=True))
        if score:
            found.append((score, animal, ", ".join(text for chance, text in carried if chance)))
    found.sort(key=lambda one: (-one[0], one[1].code))
    return tuple((animal, text) for _, animal, text in found[:_TRIED])


def _best(animal: int, part: GoalPart, lines: Lines, misses: _Misses) -> tuple[float, str]:
    """How likely an animal carries something for a part, and that in words."""
    wanted = lines.wanted(part)
    keys: list[tuple[Trait, int | None, str]] = [
        (line.trait, line.pk, str(line)) for line in wanted
    ]
    if part.line_id is None and len({line.trait_id for line in wanted}) == 1:
        keys = [(wanted[0].trait, None, str(wanted[0].trait))]
    least, name = 1.0, ""
    for trait, line, words in keys:
        miss = misses.get((trait.pk, line), {}).get(animal, 1.0)
        if miss < least:
            least, name = miss, words
    return 1 - least, f"{name} {percent(1 - least, certain=least == 0)}" if name else ""
