"""Who may breed in a season, and what is planned for it."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from keeper.domain.clutches.queries import with_season
from keeper.domain.projects.plans import KEPT, plan_states
from keeper.domain.saying.counts import how_many
from keeper.models import (
    Animal,
    Clutch,
    PlannedPairing,
    PlanStep,
    Project,
    Sex,
    Shown,
    Species,
    Standing,
    Status,
    Survival,
)


@dataclass(frozen=True)
class Left:
    """An animal that is not to breed in the season, and why."""

    animal: Animal
    why: str


@dataclass(frozen=True)
class Breeders:
    """Who may breed in a season, and who is left out."""

    females: list[Animal]
    males: list[Animal]
    left: list[Left]


def breeders(species: Species, season: int, *, rest_after: int | None) -> Breeders:
    """Return the animals of known sex that are here and old enough by the end of the season.

    A female that laid in each of the last `rest_after` seasons rests.
    """
    here = (
        Animal.objects.live()
        .filter(species=species, sex__in=[Sex.FEMALE, Sex.MALE])
        .exclude(status__in=[Status.SOLD, Status.DIED, Status.HELD])
        .select_related("species")
        .order_by("code")
    )
    tired = _tired(species, season, rest_after)
    found = Breeders([], [], [])
    for animal in here:
        grown = animal.breeds_from
        if grown is not None and grown > date(season, 12, 31):
            found.left.append(Left(animal, f"too young until {grown:%Y}"))
        elif animal.pk in tired:
            found.left.append(
                Left(animal, f"rests: laid in {how_many(rest_after or 0, 'season')} running")
            )
        elif animal.sex == Sex.FEMALE:
            found.females.append(animal)
        else:
            found.males.append(animal)
    return found


def _tired(species: Species, season: int, rest_after: int | None) -> set[int]:
    if not rest_after:
        return set()
    clutches = with_season(Clutch.objects.live().filter(species=species, dam__isnull=False))
    laid = clutches.filter(season__range=(season - rest_after, season - 1))
    seasons: dict[int, set[int]] = defaultdict(set)
    for dam, year in laid.values_list("dam_id", "season"):
        seasons[dam].add(year)
    return {dam for dam, years in seasons.items() if len(years) >= rest_after}


def planned(season: int | None = None) -> QuerySet[PlannedPairing]:
    """Return the planned pairings, of one season or of all, the latest season first."""
    rows: QuerySet[PlannedPairing] = PlannedPairing.objects.live().select_related(
        "dam__species", "sire"
    )
    if season is not None:
        rows = rows.filter(season=season)
    return rows.order_by("-season", "dam__code")


def clutches_of(pairings: Iterable[PlannedPairing]) -> dict[int, Clutch]:
    """Return for planned pairings the clutch that came of each, where one did: one query."""
    pairings = list(pairings)
    rows = with_season(
        Clutch.objects.live().filter(dam__in={one.dam_id for one in pairings})
    ).prefetch_related("candidates")
    by_dam: dict[tuple[int | None, int], list[Clutch]] = defaultdict(list)
    for clutch in rows:
        by_dam[clutch.dam_id, clutch.season].append(clutch)
    found = {}
    for one in pairings:
        for clutch in by_dam.get((one.dam_id, one.season), ()):
            sires = {each.sire_id for each in clutch.candidates.all() if not each.is_withdrawn}
            if one.sire_id in sires:
                found[one.pk] = clutch
    return found


def steps_at_hand(
    projects: Iterable[Project], season: int
) -> dict[tuple[int, int], list[PlanStep]]:
    """Return the steps of chosen plans that can be bred in a season, by dam and sire."""
    found: dict[tuple[int, int], list[PlanStep]] = defaultdict(list)
    for plan in plan_states(list(projects), date(season, 12, 31)).values():
        for one in plan.steps:
            if one.state != KEPT:
                for dam in one.dams:
                    for sire in one.sires:
                        found[dam.pk, sire.pk].append(one.step)
    return found


def carriers(species: Species) -> dict[int, dict[int, float]]:
    """Return line → animal → the chance that it carries the line, where it may: one query."""
    rows = Standing.objects.filter(
        animal__species=species, animal__withdrawn_at=None, line__isnull=False, none__lt=1
    ).exclude(animal__status__in=[Status.SOLD, Status.DIED])
    found: dict[int, dict[int, float]] = defaultdict(dict)
    for line, animal, none in rows.values_list("line_id", "animal_id", "none"):
        found[line][animal] = 1.0 - none
    return found


def open_traits(species: Species) -> list[int]:
    """Return the recessive traits of which it is open whether some animal here carries them."""
    rows = Standing.objects.filter(
        animal__species=species, animal__withdrawn_at=None, line=None, none__gt=0, none__lt=1,
        trait__shown=Shown.RECESSIVE, trait__withdrawn_at=None,
    ).exclude(animal__status__in=[Status.SOLD, Status.DIED])  # fmt: skip
    return sorted(set(rows.values_list("trait_id", flat=True)))


def lethal_lines(species: Species) -> list[tuple[int, int]]:
    """Return the pairs of lines of which eggs with both are lost more often than others."""
    rows = Survival.objects.live().filter(locus__species=species, other__isnull=False)
    return [
        (one, other)
        for one, other, survival in rows.values_list("one_id", "other_id", "survival")
        if other is not None and survival < 1
    ]
