"""How a project is likely to go on, and which change would help it most."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from math import ceil, sqrt

from django.core.cache import cache as kept_outlooks

from keeper.domain import inference
from keeper.domain.book.daybook import moment
from keeper.domain.clutches.queries import with_season
from keeper.domain.inference import Basis, BreedingCourse, Guest, Outlook, Posed
from keeper.domain.projects import queries
from keeper.domain.projects.offered import offer, offers
from keeper.domain.saying.figures import percent
from keeper.domain.season.writes import season_of
from keeper.models import Animal, Clutch, GoalPart, Member, Project, Sex

MOST_TESTED = 3
LEAST_SAID = 1e-9
"""Of what no run reached: some chance, under 1 %."""
AND = "+"
"""Joins the names of changes that are made together."""
KEPT_FOR = 3600
"""Seconds for which an outlook is kept; an entry in the daybook makes it anew at once."""


@dataclass(frozen=True)
class Change:
    """Something that could be done for a project.

    Attributes:
        key: its name in an address.
        words: what would be done.
    """

    key: str
    words: str


@dataclass(frozen=True)
class Gain:
    """What a change gains by a season: the chance more, its standard error, and a new median."""

    by: int
    more: float
    error: float
    median: int | None


@dataclass(frozen=True)
class Sooner:
    """How many seasons sooner the goal comes, and the standard error.

    On average; a goal that is not reached in the seasons looked ahead counts as reached in the one
    after the last, so it is rather more.
    """

    seasons: float
    error: float


def course_of(project: Project, members: Sequence[Member]) -> BreedingCourse:
    """Return how a project is bred on where nothing else is said.

    As many pairs as it has grown females; figures of the species. That a female lays in 85 seasons
    of 100, and an animal lives on in 97, is common practice, no source.
    """
    species = project.species
    females = sum(one.animal.sex == Sex.FEMALE for one in members)
    return BreedingCourse(
        seasons=10,
        pairs=max(1, females),
        matings=3,
        places=project.places,
        eggs=species.eggs_usual,
        hatch=float(species.hatch_rate),
        lays=0.85,
        lives=0.97,
        mature_female=_seasons(species.female_mature_months),
        mature_male=_seasons(species.male_mature_months),
    )


def ages(members: Iterable[Member], today: date, course: BreedingCourse) -> dict[Animal, int]:
    """Return the age of each in the season looked ahead to first, in seasons.

    One of unknown age is grown. A female that laid in that season already breeds no sooner than in
    the next, so she is told as one that is grown by then.
    """
    season = season_of(today)
    grown = max(course.mature_female, course.mature_male)
    found = {
        one.animal: grown
        if one.animal.hatched_year is None
        else max(0, season - one.animal.hatched_year)
        for one in members
    }
    laid = with_season(Clutch.objects.live().filter(dam__in=found)).filter(season=season)
    done = set(laid.values_list("dam_id", flat=True))
    next_season = max(0, course.mature_female - 1)
    return {one: min(age, next_season) if one.pk in done else age for one, age in found.items()}


def _seasons(months: int) -> int:
    return ceil(months / 12)


Gathered = Callable[[Guest | None], Basis]
"""What bears on a project and its animals, and one that is bought."""


def gathering(project: Project, animals: Iterable[Animal]) -> Gathered:
    """Return what gathers around some animals where something is to be worked out, each time once.

    Outlooks may be asked of any of them.
    """
    around = list(animals)
    return cache(lambda guest: inference.basis(project, around, guest))


def outlook_of(
    project: Project,
    members: Sequence[Member],
    course: BreedingCourse,
    today: date,
    change: str,
    gathered: Gathered | None = None,
) -> Outlook:
    """Return the outlook as things are, or with a change; kept until anything is written.

    Who asks for several gives what they share, `gathered` around all of their animals.

    Raises:
        Unanswerable: it cannot be worked out.
        KeyError: there is no such change.
    """
    who = hash(tuple(sorted(one.animal_id for one in members)))
    key = f"outlook-{project.pk}-{moment()}-{season_of(today)}-{hash(course)}-{who}-{change}"
    kept: Outlook | None = kept_outlooks.get(key)
    if kept is None:
        gathered = gathered or gathering(project, (one.animal for one in members))
        kept = question(project, members, course, today, change, gathered).outlook()
        kept_outlooks.set(key, kept, KEPT_FOR)
    return kept


@dataclass(frozen=True)
class Question:
    """An outlook that is asked for: from whom, how they are bred on, and what is tested first."""

    basis: Basis
    ages: dict[Animal, int]
    course: BreedingCourse
    tested: tuple[Animal, GoalPart] | None = None

    def outlook(self) -> Outlook:
        """Work it out here."""
        return self.basis.outlook(self.ages, self.course, tested=self.tested)

    def posed(self) -> Posed:
        """Put it to the engine, wherever that is."""
        return self.basis.posed(self.ages, self.course, tested=self.tested)


def question(
    project: Project,
    members: Sequence[Member],
    course: BreedingCourse,
    today: date,
    change: str,
    gathered: Gathered,
) -> Question:
    """Return what is asked with a change; with several at once, joined by `AND`.

    Raises:
        KeyError: there is no such change.
        Unanswerable: the register itself leaves nothing possible.
    """
    left, bred, guest, tested = list(members), course, None, None
    for one in filter(None, change.split(AND)):
        kind, _, rest = one.partition("-")
        match kind:
            case "pair":
                bred = replace(bred, pairs=bred.pairs + 1)
            case "places" if bred.places is not None:
                bred = replace(bred, places=bred.places + 2)
            case "female" | "male" | "prospect" if guest is None:
                guest = offer(project, one)
                if guest is None:
                    raise KeyError(change)
            case "without":
                left = [member for member in left if str(member.animal_id) != rest]
            case "test" if tested is None:
                tested = _tested(project, members, rest)
            case _:
                raise KeyError(change)
    return Question(gathered(guest), ages(left, today, course), bred, tested)


def _tested(project: Project, members: Sequence[Member], rest: str) -> tuple[Animal, GoalPart]:
    for animal, part in _open(project, members):
        if rest == _named(animal, part):
            return animal, part
    raise KeyError(rest)


def _named(animal: Animal, part: GoalPart) -> str:
    return f"{animal.pk}-{part.trait_id}"


def changes(project: Project, members: Sequence[Member], course: BreedingCourse) -> list[Change]:
    """Return what could be done: more pairs or places, an animal bought or let go, a test first."""
    found = [Change("pair", f"One more pair a season, {course.pairs + 1} in all")]
    if course.places is not None:
        found.append(
            Change("places", f"Two more places, {course.places + 2} in all: hold back two more")
        )
    found += [Change(one.key, one.words[:1].upper() + one.words[1:]) for one in offers(project)]
    if len(members) > 2:
        found += [
            Change(f"without-{one.animal_id}", f"Without {one.animal.code}: release it")
            for one in members
            if one.holdback
        ]
    return found + tests(project, members)[:MOST_TESTED]


def tests(project: Project, members: Sequence[Member]) -> list[Change]:
    """Return every test of a member that could be made first, the most open question first."""
    return [
        Change(
            f"test-{_named(animal, part)}",
            f"A test of {animal.code} for {part.line or part.trait.base or part.trait} first, "
            "whatever it finds",
        )
        for animal, part in _open(project, members)
    ]


def test_of(
    project: Project, members: Sequence[Member], animal: Animal, trait: int
) -> Change | None:
    """Return the test of one member for one trait, where it is open and the goal takes it."""
    key = f"test-{animal.pk}-{trait}"
    return next((one for one in tests(project, members) if one.key == key), None)


def _open(project: Project, members: Sequence[Member]) -> list[tuple[Animal, GoalPart]]:
    """Members of whom it is open whether they carry a part of the goal, the most open first."""
    parts = [part for part in queries.goal_of(project) if not part.among]
    animals = {one.animal_id: one.animal for one in members}
    genes = queries.genes_of(parts)
    standings = queries.goal_standings(genes, animals)
    found = []
    for part, (gene, *others) in zip(parts, genes, strict=True):
        if others:
            continue  # a laboratory tests one of them, and there is no saying which first
        for pk, animal in animals.items():
            standing = standings.get((pk, gene.trait, gene.line))
            if standing is not None and 0 < standing.none < 1:
                found.append((abs(standing.none - 0.5), animal.code, animal, part))
    found.sort(key=lambda row: row[:2])
    return [(animal, part) for _, _, animal, part in found]


def chance_said(found: Outlook, season: int) -> str:
    """Return the chance by a season, counted from 1; what was simulated is never called certain."""
    chance, error = found.chances[season - 1], found.errors[season - 1]
    if error and chance <= 0:
        return percent(LEAST_SAID)
    return percent(chance, certain=not error and chance >= 1)


def gain(base: Outlook, other: Outlook) -> Gain:
    """Return what a change gains by the season in which the goal is as likely as not.

    Where both were simulated they are compared run by run: the runs share their luck, so that
    what differs is told more sharply than either.
    """
    by = base.median or len(base.chances)
    more = other.chances[by - 1] - base.chances[by - 1]
    if base.by_run and len(base.by_run) == len(other.by_run):
        met = [
            (0 < b <= by) - (0 < a <= by) for a, b in zip(base.by_run, other.by_run, strict=True)
        ]
        return Gain(by, *_mean(met), other.median)
    error = sqrt(base.errors[by - 1] ** 2 + other.errors[by - 1] ** 2)
    return Gain(by, more, error, other.median)


def sooner(base: Outlook, other: Outlook) -> Sooner:
    """Return how much sooner a change brings the goal, over all seasons that are looked ahead.

    Compared run by run like `gain`. It tells more than the chance by one season: what is worth
    little by then, since it has to grow, may be worth much after it.
    """
    never = len(base.chances) + 1
    if base.by_run and len(base.by_run) == len(other.by_run):
        pairs = zip(base.by_run, other.by_run, strict=True)
        return Sooner(*_mean([(a or never) - (b or never) for a, b in pairs]))
    spread = sum(one**2 for one in (*base.errors, *other.errors))
    return Sooner(sum(other.chances) - sum(base.chances), sqrt(spread))


def _mean(found: Sequence[int]) -> tuple[float, float]:
    """The mean of what runs gave, and its standard error."""
    runs = len(found)
    mean = sum(found) / runs
    spread = sum((one - mean) ** 2 for one in found) / max(1, runs - 1)
    return mean, sqrt(spread / runs)
