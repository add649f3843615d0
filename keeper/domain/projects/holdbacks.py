"""Which hatchlings to hold back: how much sooner each brings a project's goal."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import combinations

from keeper.domain.inference import BreedingCourse, Outlook
from keeper.domain.projects import outlook as outlooks
from keeper.domain.projects import queries
from keeper.domain.season.writes import season_of
from keeper.models import GONE, Animal, Clutch, Member, Project, Sex

RUNS = 4_000
"""Runs of one comparison: fewer than of a forecast, since many are compared, run by run."""
MOST = 6
"""Most hatchlings that are advised to be kept of one clutch, for one project."""
LEAST = 0.01
"""So many seasons sooner, and less, is worth no place."""
SURE = 1.0
"""Standard errors that a gain must be above nothing.

Not more: who is given away by mistake is gone, who is kept by mistake can be let go. 140 projects
played in both ways (`tests.benchmarks.played`) were 0.37 ± 0.27 seasons sooner through with 1 than
with 1.96.
"""

Alike = tuple[object, ...]


@dataclass(frozen=True)
class Raised:
    """Hatchlings that are alike to a project, and how much sooner its goal comes with one of them.

    Attributes:
        animals: those alike, by code.
        kept: how many of them are worth a place, the others already kept.
    """

    animals: tuple[Animal, ...]
    sooner: outlooks.Sooner
    kept: int

    @property
    def shows(self) -> bool:
        """Whether the gain is more than chance in the runs."""
        return _shows(self.sooner)


@dataclass(frozen=True)
class Advice:
    """What a clutch gives a project.

    Attributes:
        by: a year, `before`: the chance by then as things are, and `after`: with all that are
            advised; `said`: the two in words.
        rows: the hatchlings, those that bring it nearest first.
        keep: those to hold back; `sooner`: how much sooner the goal comes with all of them.
    """

    project: Project
    by: int
    before: float
    after: float
    rows: tuple[Raised, ...]
    keep: tuple[Animal, ...]
    sooner: outlooks.Sooner
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
    return list(here.exclude(status__in=GONE).order_by("code"))


def advice(
    project: Project,
    clutch: Clutch,
    today: date,
    *,
    course: BreedingCourse | None = None,
    runs: int = RUNS,
) -> Advice | None:
    """Return whom to hold back of a clutch for a project; nothing where it is open to none.

    One after another the hatchling that brings the goal nearest is taken, or two of different sex
    that do together, until none does by more than chance. All seasons that are looked ahead count,
    since hatchlings have to grow: by one season alone they may be worth nothing yet. It is looked
    ahead from the season after that of the clutch: a female that laid nothing in it must not be
    counted on for a clutch of the same season, which would make up for any of these.

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
    groups = alike(project, young)
    everybody = [*(one.animal for one in members), *young]
    gathered = outlooks.gathering(project, everybody)
    base = outlooks.outlook_of(project, members, course, today, "")
    taken: list[Animal] = []
    best = base
    first: dict[Alike, outlooks.Sooner] = {}
    while len(taken) < MOST:
        gains = _tried(project, members, groups, taken, best, course, today, gathered)
        first = first or {key: one for (key, *more), (one, _) in gains.items() if not more}
        top = max(gains, key=lambda keys: gains[keys][0].seasons, default=None)
        if top is None or not _shows(gains[top][0]):
            break
        taken += _next(groups, taken, top)
        best = gains[top][1]
    rows = [
        Raised(tuple(group), first[key], _count(group, taken))
        for key, group in groups.items()
        if key in first
    ]
    rows.sort(key=lambda row: (-row.kept, -row.sooner.seasons, row.animals[0].code))
    by = _told_by(base, course)
    return Advice(
        project=project,
        by=season_of(today) + by - 1,
        before=base.chances[by - 1],
        after=best.chances[by - 1],
        rows=tuple(rows),
        keep=tuple(taken),
        sooner=outlooks.sooner(base, best),
        said=(outlooks.chance_said(base, by), outlooks.chance_said(best, by)),
    )


def _shows(found: outlooks.Sooner) -> bool:
    return found.seasons > max(LEAST, SURE * found.error)


def _told_by(base: Outlook, course: BreedingCourse) -> int:
    """The season of which chances are told: young of age 1 in the first breed by then."""
    grown = max(course.mature_female, course.mature_male)
    return min(course.seasons, max(base.median or course.seasons, grown))


def _season_over(clutch: Clutch) -> date | None:
    """The first day on which the season after that of a clutch is planned."""
    laid = clutch.laid_on or clutch.hatched_on
    return date(laid.year, 10, 1) if laid is not None else None


Tried = dict[tuple[Alike, ...], tuple[outlooks.Sooner, Outlook]]


def _tried(
    project: Project,
    members: Sequence[Member],
    groups: Mapping[Alike, list[Animal]],
    taken: list[Animal],
    best: Outlook,
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
            found[keys] = outlooks.sooner(best, other), other
        return found

    alone = gains((key,) for key in left)
    if any(_shows(one) for one, _ in alone.values()):
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


def alike(project: Project, young: Sequence[Animal]) -> dict[Alike, list[Animal]]:
    """Hatchlings by sex and by what they may carry of the goal."""
    parts = queries.goal_of(project)
    genes = queries.genes_of(parts)
    standings = queries.goal_standings(genes, [one.pk for one in young])
    shown = queries.shown_by(parts, [one.pk for one in young])
    found: dict[Alike, list[Animal]] = defaultdict(list)
    for animal in young:
        key: list[object] = [animal.sex]
        for part, several in zip(parts, genes, strict=True):
            for gene in several:
                own = standings.get((animal.pk, gene.trait, gene.line))
                key.append(None if own is None else (round(own.two, 9), round(own.one, 9)))
            key.append((animal.pk, part.trait_id) in shown)
        found[tuple(key)].append(animal)
    return dict(found)
