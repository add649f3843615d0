"""Reading clutches: what hatched, what is open, which codes are free."""

import re
from collections.abc import Iterable, Sequence
from typing import Any

from django.contrib.contenttypes.models import ContentType
from django.db.models import Count, F, OuterRef, Prefetch, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce, ExtractYear, Lower

from keeper.domain.book.letters import has_letters
from keeper.models import (
    Animal,
    CandidateSire,
    Clutch,
    DaybookEntry,
    Dispute,
    HatchRow,
    RowSighting,
    StandingChange,
)

STATES = {
    "laid": "in the incubator",
    "open": "hatching",
    "hatched": "hatched",
    "withdrawn": "withdrawn",
}

# How many codes of a clutch's series are looked at before more of them are: a large clutch.
_CODES_AT_FIRST = 40


def with_hatched(clutches: QuerySet[Any]) -> QuerySet[Any]:
    """Add `hatched`: the hatchlings counted, those with a record of their own included."""
    counted = (
        HatchRow.objects.live()
        .filter(clutch=OuterRef("pk"))
        .order_by()
        .values("clutch")
        .annotate(all=Sum("count"))
        .values("all")
    )
    found: QuerySet[Any] = clutches.annotate(hatched=Coalesce(Subquery(counted), 0))
    return found


def with_season(clutches: QuerySet[Any]) -> QuerySet[Any]:
    """Add `season`: the year it was laid in, or hatched in where that is not known."""
    year = Coalesce(ExtractYear("laid_on"), ExtractYear("hatched_on"))
    found: QuerySet[Any] = clutches.annotate(season=year)
    return found


def with_parents(clutches: QuerySet[Any]) -> QuerySet[Any]:
    """Fetch the dam and the candidate sires along."""
    return clutches.select_related("species", "dam").prefetch_related(
        Prefetch("candidates", CandidateSire.objects.live().select_related("sire"))
    )


def in_state(clutches: QuerySet[Any], state: str) -> QuerySet[Any]:
    """Keep the clutches of one of STATES; needs `with_hatched`. Else: all that count."""
    if state == "withdrawn":
        return clutches.exclude(withdrawn_at=None)
    clutches = clutches.filter(withdrawn_at=None)
    hatching = ~Q(hatched_on=None)
    # Eggs not counted: nothing is known to be left in them.
    open_eggs = Q(eggs__gt=F("slugs") + F("lost") + F("hatched"))
    match state:
        case "laid":
            return clutches.filter(hatched_on=None)
        case "open":
            return clutches.filter(hatching & open_eggs)
        case "hatched":
            return clutches.filter(hatching).exclude(open_eggs & ~Q(eggs=None))
        case _:
            return clutches


def matching(clutches: QuerySet[Any], text: str) -> QuerySet[Any]:
    """Keep the clutches whose code, dam or a candidate sire has this in its code."""
    for word in text.split():
        found = CandidateSire.objects.live().filter(has_letters("sire__code", word))
        clutches = clutches.filter(
            has_letters("code", word)
            | has_letters("dam__code", word)
            | Q(pk__in=found.values("clutch_id"))
        )
    return clutches


def seasons() -> list[int]:
    """Return every season with a clutch, the latest first."""
    # The days are read from their index; to take their years there, each row would be asked.
    days = Clutch.objects.order_by().values_list("laid_on", flat=True).distinct()
    hatched = Clutch.objects.filter(laid_on=None).order_by().values_list("hatched_on", flat=True)
    return sorted({day.year for day in (*days, *hatched.distinct()) if day}, reverse=True)


def rows_of(clutch: Clutch) -> list[HatchRow]:
    """Return what hatched, with each row's sightings, and `own`: how many have a record."""
    rows = (
        HatchRow.objects.live()
        .filter(clutch=clutch)
        .annotate(own=Count("recorded", filter=Q(recorded__withdrawn_at=None)))
        .prefetch_related(
            Prefetch("sightings", RowSighting.objects.live().select_related("trait")),
            Prefetch("recorded", Animal.objects.live().order_by("code")),
        )
        .order_by("pk")
    )
    return list(rows)


def row_of(pk: int) -> QuerySet[Any]:
    """Return the live row of this number in a live clutch, with `own` as `rows_of` gives it."""
    found: QuerySet[Any] = (
        HatchRow.objects.live()
        .filter(pk=pk, clutch__withdrawn_at=None)
        .select_related("clutch__species", "clutch__dam")
        .annotate(own=Count("recorded", filter=Q(recorded__withdrawn_at=None)))
    )
    return found


def recorded_of(row: HatchRow) -> int:
    """Return how many hatchlings of a row have a record of their own."""
    return Animal.objects.live().filter(hatch_row=row).count()


# --- choosing animals by code ------------------------------------------------------------------


# --- codes -------------------------------------------------------------------------------------


def by_code(code: str) -> Clutch | None:
    """Return the clutch with this code, however it is capitalised."""
    found = Clutch.objects.live().alias(low=Lower("code")).filter(low=code.strip().lower())
    clutch: Clutch | None = found.select_related("species").first()
    return clutch


def next_clutch_code(season: int) -> str:
    """Return the next free code of a season: 26-01, 26-02, …"""
    prefix = f"{season % 100:02}-"
    used = Clutch.objects.filter(code__startswith=prefix).values_list("code", flat=True)
    numbers = [int(code[3:]) for code in used if re.fullmatch(r"\d{1,4}", code[3:])]
    return f"{prefix}{max(numbers, default=0) + 1:02}"


def used_codes(codes: Iterable[str]) -> set[str]:
    """Return which of these codes an animal has, in small letters."""
    wanted = {code.lower() for code in codes}
    found = Animal.objects.live().alias(low=Lower("code")).filter(low__in=wanted)
    return {code.lower() for code in found.values_list("code", flat=True)}


def free_codes(clutch: Clutch, number: int, taken: Sequence[str] = ()) -> list[str]:
    """Return the next free codes of a clutch's own series: 26-07-01, 26-07-02, …"""
    busy = {code.lower() for code in taken}
    found: list[str] = []
    # Whole codes are asked about, which an index answers, and twice as many each time.
    first, count = 1, max(number, _CODES_AT_FIRST)
    while len(found) < number:
        series = [f"{clutch.code}-{serial:02}" for serial in range(first, first + count)]
        there = used_codes(series) | busy
        found += [code for code in series if code.lower() not in there]
        first, count = first + count, 2 * count
    return found[:number]


def entries_of(clutch: Clutch) -> QuerySet[DaybookEntry]:
    """Return what the daybook says of a clutch, latest first, with how many animals it moved."""
    kind = ContentType.objects.get_for_model(Clutch)
    return (
        DaybookEntry.objects.filter(subject_type=kind, subject_id=clutch.pk)
        .select_related("by")
        .annotate(moved=Count("changes__animal", distinct=True))
        .order_by("-pk")[:30]
    )


def moved_by_clutch(
    clutch: Clutch, animals: Iterable[int], traits: Iterable[int]
) -> QuerySet[StandingChange]:
    """Return how the entries about a clutch moved these animals in these traits, in order."""
    kind = ContentType.objects.get_for_model(Clutch)
    return (
        StandingChange.objects.filter(
            entry__subject_type=kind,
            entry__subject_id=clutch.pk,
            animal__in=list(animals),
            trait__in=list(traits),
        )
        .select_related("animal", "trait", "line")
        .order_by("entry_id", "pk")
    )


def open_disputes(species: int) -> QuerySet[Dispute]:
    """Return the open disputes of a species, with the standings that they concern."""
    found = Dispute.objects.filter(species=species, closed=None)
    return found.prefetch_related("standings").order_by("pk")
