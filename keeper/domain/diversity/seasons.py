"""Inbreeding of what hatched, year by year; of what lies in the incubator; of what is planned."""

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from keeper.domain import inference
from keeper.models import Animal, CandidateSire, Clutch, HatchRow, PlannedPairing, Species

# Fewer years than these make no trend.
LEAST_YEARS = 3
# Eggs that were laid before so many days and did not hatch are not waited for.
_WAITED_FOR = 365
_DAYS = 365.25


# Something hatched of a clutch, whether or not its day is noted.
_YOUNG = Animal.objects.live().filter(clutch=OuterRef("pk"))
_ROWS = HatchRow.objects.live().filter(clutch=OuterRef("pk"))


@dataclass(frozen=True)
class Year:
    """The clutches that hatched in a year: the mean of their inbreeding, and the highest."""

    year: int
    clutches: int
    mean: float
    highest: float


@dataclass(frozen=True)
class Trend:
    """How inbreeding moved.

    Attributes:
        size: the effective size that makes it rise so; None where it does not rise.
        generation: mean age of parents in years when their young hatch.
        clutches, years: what it is fitted to.
    """

    size: float | None
    generation: float
    clutches: int
    years: int


@dataclass(frozen=True)
class Bred:
    """A clutch that has not hatched, or a planned pairing, with the inbreeding of its young."""

    dam: Animal | None
    sires: str
    inbreeding: float
    clutch: Clutch | None = None
    season: int | None = None
    sire: Animal | None = None


def hatched(species: Species, bred_for: Collection[int] | None) -> dict[int, date]:
    """Return when each clutch of a species hatched, of all of them or those of a project.

    Where its own day is not noted, that of its first young, or the middle of their year.
    """
    clutches: QuerySet[Clutch] = Clutch.objects.live().filter(species=species).order_by("pk")
    found: dict[int, date] = {}
    for pk, on in clutches.values_list("pk", "hatched_on"):
        if on:
            found[pk] = on
    young = Animal.objects.live().filter(clutch__in=clutches.filter(hatched_on=None))
    for clutch, on, year in young.values_list("clutch_id", "hatched_on", "hatched_year"):
        if clutch and year:
            found[clutch] = min(on or date(year, 7, 1), found.get(clutch, date.max))
    return {pk: on for pk, on in found.items() if bred_for is None or pk in bred_for}


def by_year(days: Mapping[int, date], inbreeding: Mapping[int, float]) -> list[Year]:
    """Put together what hatched in each year."""
    of: dict[int, list[float]] = defaultdict(list)
    for pk, on in days.items():
        of[on.year].append(inbreeding[pk])
    return [
        Year(year, len(values), sum(values) / len(values), max(values))
        for year, values in sorted(of.items())
    ]


def trend(
    species: Species, days: Mapping[int, date], inbreeding: Mapping[int, float]
) -> Trend | None:
    """Return how inbreeding moved; None where there are too few years, or no ages of parents.

    What hatched of a dam alone is left out where nothing of hers is retained: it is no mating.
    """
    told = {pk: on for pk, on in days.items() if inbreeding[pk] < 1}
    years = len({on.year for on in told.values()})
    ages = _ages(species, told) if years >= LEAST_YEARS else []
    if not ages:
        return None
    generation = sum(ages) / len(ages)
    size = inference.effective_size(
        [_in_years(on) for on in told.values()],
        [inbreeding[pk] for pk in told],
        generation=generation,
    )
    return Trend(size, generation, len(told), years)


def _ages(species: Species, days: Mapping[int, date]) -> list[float]:
    """The ages in years of all parents whose hatching is known, clutch by clutch."""
    named = ("hatched_on", "hatched_year")
    dams = Clutch.objects.live().filter(species=species).exclude(dam=None)
    sires = CandidateSire.objects.live().filter(clutch__species=species).exclude(sire=None)
    parents = [
        *dams.order_by().values_list("pk", *(f"dam__{one}" for one in named)),
        *sires.order_by().values_list("clutch_id", *(f"sire__{one}" for one in named)),
    ]
    found = []
    for clutch, on, year in parents:
        if clutch in days and (on or year):
            # Of a year alone, its middle.
            age = _in_years(days[clutch]) - (_in_years(on) if on else year + 0.5)
            if age > 0:
                found.append(age)
    return found


def _in_years(day: date) -> float:
    return day.year + (day.timetuple().tm_yday - 1) / _DAYS


def on_the_way(
    species: Species,
    inbreeding: Mapping[int, float],
    bred_for: Collection[int] | None,
    today: date,
) -> list[Bred]:
    """Return the clutches that have not hatched and may, the most inbred first."""
    waited = Q(laid_on=None) | Q(laid_on__gte=today - timedelta(days=_WAITED_FOR))
    left = Q(eggs=None) | Q(eggs__gt=F("slugs") + F("lost"))
    rows: QuerySet[Any] = Clutch.objects.live().filter(species=species, hatched_on=None)
    rows = rows.filter(waited, left, ~Exists(_YOUNG), ~Exists(_ROWS))
    rows = rows.select_related("dam").prefetch_related("candidates__sire")
    found = []
    for one in rows.order_by("code"):
        if bred_for is None or one.pk in bred_for:
            sires = " or ".join(str(sire) for sire in one.candidates.all() if not sire.is_withdrawn)
            words = sires or "a male not recorded"
            found.append(Bred(one.dam, words, inbreeding[one.pk], clutch=one))
    return sorted(found, key=lambda one: -one.inbreeding)


def planned(
    species: Species, descent: inference.Descent, among: Collection[int], today: date
) -> list[Bred]:
    """Return the pairings planned for this season and later ones, the most inbred first."""
    rows = PlannedPairing.objects.live().filter(dam__species=species, season__gte=today.year)
    pairs = [
        one
        for one in rows.select_related("dam", "sire")
        if {one.dam_id, one.sire_id} <= descent.living
        and (one.dam_id in among or one.sire_id in among)
    ]
    known = descent.pairs((one.dam_id, one.sire_id) for one in pairs)
    found = [
        Bred(one.dam, str(one.sire), known[one.dam_id, one.sire_id], None, one.season, one.sire)
        for one in pairs
    ]
    return sorted(found, key=lambda one: -one.inbreeding)
