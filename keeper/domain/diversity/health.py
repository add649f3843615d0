"""The genetic health of a species' living animals, or of those in a project."""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from heapq import nlargest, nsmallest
from typing import TypeVar

from django.core.cache import cache
from django.db.models import Count

from keeper.domain.book.daybook import moment
from keeper.domain.book.snapshots import snapshot
from keeper.domain.diversity import seasons
from keeper.domain.diversity.lines import LineRest, lines_of
from keeper.domain.inference import Descent, Group
from keeper.domain.projects.queries import bred_for, open_projects, pairs_of
from keeper.models import GONE, Animal, Member, Project, Species

Found = TypeVar("Found")

# So many of the rarest and of the commonest animals are named, and of the founders.
NAMED = 10


@dataclass(frozen=True)
class Ranked:
    """An animal with its mean kinship with the living ones, or its share as a founder."""

    animal: Animal
    value: float


@dataclass(frozen=True)
class LineHealth:
    """A line with the mean kinship of those who may carry it, each by its chance."""

    rest: LineRest
    mean: float


@dataclass(frozen=True)
class ProjectHealth:
    """A project's members that are here, and the inbreeding of what they could breed.

    Attributes:
        members: how many there are; `group` None where there is none.
        pairs: how many pairs of a female and a male; of their young's inbreeding the `lowest`, the
            `mean` and the `highest`.
    """

    project: Project
    members: int
    group: Group | None
    pairs: int
    lowest: float = 0.0
    mean: float = 0.0
    highest: float = 0.0


@dataclass(frozen=True)
class Health:
    """All of it for a scope: a species, or a project's members.

    Attributes:
        living: how many animals are in the scope; `group` None where there is none.
        founders: the founders that gave most, first.
        to_all: mean kinship of the scope's animals with all living ones of the species.
        rarest, commonest: animals of the scope by their mean kinship with all of the species.
        lines: the rarest first.
        projects: the open ones of the species, or the scope's own.
        left_out: families too large to tell who sired what.
    """

    species: Species
    project: Project | None
    living: int
    group: Group | None
    founders: tuple[Ranked, ...]
    to_all: float
    rarest: tuple[Ranked, ...]
    commonest: tuple[Ranked, ...]
    lines: tuple[LineHealth, ...]
    years: tuple[seasons.Year, ...]
    trend: seasons.Trend | None
    on_the_way: tuple[seasons.Bred, ...]
    planned: tuple[seasons.Bred, ...]
    projects: tuple[ProjectHealth, ...]
    left_out: int


def species_here() -> list[Species]:
    """Return the species of which an animal is living here, the most numerous first."""
    live = Animal.objects.live().exclude(status__in=GONE).order_by()
    counted = dict(live.values_list("species_id").annotate(Count("pk")))
    found = Species.objects.filter(pk__in=counted)
    return sorted(found, key=lambda one: (-counted[one.pk], one.name))


def health(species: Species, project: Project | None, today: date) -> Health:
    """Return the health of a species or of a project; kept as long as nothing is written."""
    scope = f"{species.pk}:{project.pk if project else ''}:{today.isoformat()}"
    return _kept(f"health:{scope}", lambda: _health(species, project, today))


@dataclass(frozen=True)
class Means:
    """Of each living animal of a species, by id: mean kinship with all of them, and its own F."""

    kinship: dict[int, float]
    inbreeding: dict[int, float]


def means_here(species: Species) -> Means:
    """Return the mean kinship of every living animal; kept as long as nothing is written."""
    return _kept(f"means:{species.pk}", lambda: _means(species))


def _means(species: Species) -> Means:
    descent = Descent(species)
    means, own = descent.mean_kinships_with_all(), descent.of_animals()
    return Means({pk: means[pk] for pk in descent.living}, {pk: own[pk] for pk in descent.living})


def _kept(name: str, work: Callable[[], Found]) -> Found:
    """Return what is worked out from the book as it stands, from before if it was."""
    with snapshot():
        now = moment()
        key = f"diversity:{now}:{name}"
        found: Found | None = cache.get(key)
        if found is None:
            found = work()
            # A book without an entry is one that nobody wrote as books are written.
            if now:
                cache.set(key, found)
    return found


def _health(species: Species, project: Project | None, today: date) -> Health:
    descent = Descent(species)
    members = _members([project] if project else open_projects(species))
    among: Collection[int] = descent.living
    bred: set[int] | None = None
    if project is not None:
        among = {one.pk for one in members[project]} & descent.living
        bred = set(bred_for(project).values_list("pk", flat=True))
    lines = lines_of(species, descent, among)
    (scope,) = descent.groups([dict.fromkeys(among, 1.0)])
    by_line = descent.means_within([carriers for _, carriers in lines])
    means = descent.mean_kinships_with_all()
    days = seasons.hatched(species, bred)
    inbreeding = descent.of_clutches()
    return Health(
        species=species,
        project=project,
        living=len(among),
        group=scope,
        founders=_founders(scope),
        to_all=sum(means[pk] for pk in among) / len(among) if among else 0.0,
        rarest=_named(nsmallest(NAMED, among, key=lambda pk: (means[pk], pk)), means),
        commonest=_named(nlargest(NAMED, among, key=lambda pk: (means[pk], pk)), means),
        lines=tuple(LineHealth(rest, mean) for (rest, _), mean in zip(lines, by_line, strict=True)),
        years=tuple(seasons.by_year(days, inbreeding)),
        trend=seasons.trend(species, days, inbreeding),
        on_the_way=tuple(seasons.on_the_way(species, inbreeding, bred, today)),
        planned=tuple(seasons.planned(species, descent, among, today)),
        projects=tuple(_projects(members, descent)),
        left_out=descent.left_out,
    )


def _members(projects: Iterable[Project]) -> dict[Project, list[Animal]]:
    """The animals of each project, in one query."""
    found: dict[Project, list[Animal]] = {one: [] for one in projects}
    by_pk = {one.pk: one for one in found}
    inside = Member.objects.live().filter(project__in=by_pk, released_on=None)
    for member in inside.select_related("animal"):
        found[by_pk[member.project_id]].append(member.animal)
    return found


def _founders(group: Group | None) -> tuple[Ranked, ...]:
    if group is None:
        return ()
    ranked = sorted(group.shares, key=lambda pk: (-group.shares[pk], pk))
    return _named(ranked[:NAMED], group.shares)


def _named(ranked: Collection[int], values: Mapping[int, float]) -> tuple[Ranked, ...]:
    found = Animal.objects.in_bulk(list(ranked))
    return tuple(Ranked(found[pk], values[pk]) for pk in ranked)


def _projects(members: Mapping[Project, list[Animal]], descent: Descent) -> list[ProjectHealth]:
    here = {
        project: [one for one in animals if one.pk in descent.living]
        for project, animals in members.items()
    }
    couples = {
        project: [(dam.pk, sire.pk) for dam, sire in pairs_of(animals)]
        for project, animals in here.items()
    }
    known = descent.pairs(pair for pairs in couples.values() for pair in pairs)
    groups = descent.groups([{one.pk: 1.0 for one in animals} for animals in here.values()])
    return [
        _project(project, len(animals), group, [known[pair] for pair in couples[project]])
        for (project, animals), group in zip(here.items(), groups, strict=True)
    ]


def _project(
    project: Project, members: int, group: Group | None, bred: list[float]
) -> ProjectHealth:
    if not bred:
        return ProjectHealth(project, members, group, 0)
    mean = sum(bred) / len(bred)
    return ProjectHealth(project, members, group, len(bred), min(bred), mean, max(bred))
