"""Which hatchlings to hold back: how much each raises the chance of a project's goal."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import combinations

from keeper.domain.inference import BreedingCourse, Outlook
from keeper.domain.projects import outlook as outlooks
from keeper.domain.projects import queries
from keeper.domain.season.writes import season_of
from keeper.models import Animal, Clutch, Member, Project, Sex, Status

RUNS = 4_000
"""Runs of one comparison: fewer than of a forecast, since many are compared, run by run."""
MOST = 6
"""Most hatchlings that are advised to be kept of one clutch, for one project."""
LEAST = 0.005
"""A gain of less is none worth a place."""
SURE = 1.96
"""Standard errors that a gain must be above nothing."""

Alike = tuple[object, ...]


@dataclass(frozen=True)
class Raised:
    """Hatchlings that are alike to a project, and how much one of them raises its chance.

    Attributes:
        animals: those alike, by code.
        more: how much the chance rises with one of them, by that season; `error`: its standard
            error.
        kept: how many of them are worth a place, the others already kept.
    """

    animals: tuple[Animal, ...]
    more: float
    error: float
    kept: int

    @property
    def shows(self) -> bool:
        """Whether the gain is more than chance in the runs."""
        return self.more > max(LEAST, SURE * self.error)


@dataclass(frozen=True)
class Advice:
    """What a clutch gives a project.

    Attributes:
        by: the year by which chances are compared; `before`: the chance as things are, and
            `after`: with all that are advised; `said`: the two in words.
        rows: the hatchlings, those that raise it most first.
        keep: those to hold back.
    """

    project: Project
    by: int
    before: float
    after: float
    rows: tuple[Raised, ...]
    keep: tuple[Animal, ...]
    said: tuple[str, str] = ("", "")

    @property
    def males_females(self) -> str:
        """How many of each sex to keep, as the trade writes it: males, females, and not known."""
        males = sum(one.sex == Sex.MALE for one in self.keep)
        females = sum(one.sex == Sex.FEMALE for one in self.keep)
        rest = len(self.keep) - males - females
        return f"{males}.{females}" + (f".{rest}" if rest else "")


def young_of(clutch: Clutch) -> list[Animal]:
    """Return the hatchlings of a clutch that have a record and are here."""
    here = Animal.objects.live().filter(clutch=clutch)
    return list(here.exclude(status__in=[Status.SOLD, Status.DIED]).order_by("code"))


def advice(
    project: Project,
    clutch: Clutch,
    today: date,
    *,
    course: BreedingCourse | None = None,
    runs: int = RUNS,
) -> Advice | None:
    """Return whom to hold back of a clutch for a project; nothing where it is open to none.

    One after another the hatchling that raises the chance most is taken, or two of different sex
    that do together, until none raises it by more than chance. The chances are compared in the
    season in which the goal is as likely as not, but in none in which these cannot breed yet: what
    they are worth comes after it. It is looked ahead from the season after that of the clutch: a
    female that laid nothing in it must not be counted on for a clutch of the same season, which
    would make up for any of these.

    Raises:
        Unanswerable: it cannot be worked out.
    """
    members = list(queries.members_here(project))
    inside = {one.animal_id for one in members}
    young = [one for one in young_of(clutch) if one.pk not in inside]
    if not young or clutch.species_id != project.species_id:
        return None
    course = replace(course or outlooks.course_of(project, members), runs=runs)
    today = max(today, _season_over(clutch) or today)
    groups = _alike(project, young)
    everybody = [*(one.animal for one in members), *young]
    gathered = outlooks.gathering(project, everybody)
    base = outlooks.outlook_of(project, members, course, today, "")
    by = _compared_in(base, course)
    taken: list[Animal] = []
    best = base
    first: dict[Alike, outlooks.Gain] = {}
    while len(taken) < MOST:
        gains = _tried(project, members, groups, taken, best, by, course, today, gathered)
        first = first or {key: one for (key, *more), (one, _) in gains.items() if not more}
        top = max(gains, key=lambda keys: gains[keys][0].more, default=None)
        if top is None or gains[top][0].more <= max(LEAST, SURE * gains[top][0].error):
            break
        taken += _next(groups, taken, top)
        best = gains[top][1]
    rows = [
        Raised(tuple(group), first[key].more, first[key].error, _count(group, taken))
        for key, group in groups.items()
        if key in first
    ]
    rows.sort(key=lambda row: (-row.kept, -row.more, row.animals[0].code))
    return Advice(
        project=project,
        by=season_of(today) + by - 1,
        before=base.chances[by - 1],
        after=best.chances[by - 1],
        rows=tuple(rows),
        keep=tuple(taken),
        said=(outlooks.chance_said(base, by), outlooks.chance_said(best, by)),
    )


def _compared_in(base: Outlook, course: BreedingCourse) -> int:
    """The season in which chances are compared: young of age 1 in the first breed by then."""
    grown = max(course.mature_female, course.mature_male)
    return min(course.seasons, max(base.median or course.seasons, grown))


def _season_over(clutch: Clutch) -> date | None:
    """The first day on which the season after that of a clutch is planned."""
    laid = clutch.laid_on or clutch.hatched_on
    return date(laid.year, 10, 1) if laid is not None else None


Tried = dict[tuple[Alike, ...], tuple[outlooks.Gain, Outlook]]


def _tried(
    project: Project,
    members: Sequence[Member],
    groups: Mapping[Alike, list[Animal]],
    taken: list[Animal],
    best: Outlook,
    by: int,
    course: BreedingCourse,
    today: date,
    gathered: outlooks.Gathered,
) -> Tried:
    """What one more of each group gains; where none gains, what one of each of two groups does.

    A female may be worth nothing without the male that goes with her.
    """
    left = [key for key, group in groups.items() if _count(group, taken) < len(group)]

    def gains(choices: Iterable[tuple[Alike, ...]]) -> Tried:
        found: Tried = {}
        for keys in choices:
            more = [*taken, *_next(groups, taken, keys)]
            other = _with(project, members, more, course, today, gathered)
            found[keys] = outlooks.gain(best, other, by), other
        return found

    alone = gains((key,) for key in left)
    if any(one.more > max(LEAST, SURE * one.error) for one, _ in alone.values()):
        return alone
    return alone | gains((one, other) for one, other in combinations(left, 2) if one[0] != other[0])


def _next(
    groups: Mapping[Alike, list[Animal]], taken: Sequence[Animal], keys: Iterable[Alike]
) -> list[Animal]:
    return [groups[key][_count(groups[key], taken)] for key in keys]


def _with(
    project: Project,
    members: Sequence[Member],
    more: Sequence[Animal],
    course: BreedingCourse,
    today: date,
    gathered: outlooks.Gathered,
) -> Outlook:
    joined = [*members, *(Member(project=project, animal=one) for one in more)]
    return outlooks.outlook_of(project, joined, course, today, "", gathered)


def _count(group: Sequence[Animal], taken: Sequence[Animal]) -> int:
    return sum(one in taken for one in group)


def _alike(project: Project, young: Sequence[Animal]) -> dict[Alike, list[Animal]]:
    """Hatchlings by sex and by what they may carry of the goal."""
    parts = queries.goal_of(project)
    standings = queries.goal_standings(parts, [one.pk for one in young])
    shown = queries.shown_by(parts, [one.pk for one in young])
    found: dict[Alike, list[Animal]] = defaultdict(list)
    for animal in young:
        key: list[object] = [animal.sex]
        for part in parts:
            own = standings.get((animal.pk, part.trait_id, part.line_id))
            key.append(None if own is None else (round(own.two, 9), round(own.one, 9)))
            key.append((animal.pk, part.trait_id) in shown)
        found[tuple(key)].append(animal)
    return dict(found)
