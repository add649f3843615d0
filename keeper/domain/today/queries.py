"""What needs somebody today."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, F, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from keeper.domain.clutches.queries import with_hatched
from keeper.models import (
    Animal,
    Clutch,
    DaybookEntry,
    Dispute,
    Line,
    Member,
    Species,
    Standing,
    StandingChange,
)

# How long before its day a clutch is spoken of.
AHEAD = timedelta(days=21)


@dataclass(frozen=True)
class Due:
    """A clutch and the day on which it is expected to hatch."""

    clutch: Clutch
    on: date


@dataclass(frozen=True)
class Unlogged:
    """A clutch that hatched, with the eggs of which nobody said what became of them.

    `missing` is None where the number of eggs is not known and nothing was logged.
    """

    clutch: Clutch
    missing: int | None


def open_disputes() -> QuerySet[Dispute]:
    """Return the disputes that are open, each with the first animal it bears on and how many.

    Adds `first_animal` (an id), `first_code` and `animals`.
    """
    first = (
        Standing.objects.filter(dispute=OuterRef("pk"), animal__withdrawn_at=None)
        .order_by("animal__code")
        .values("animal", "animal__code")
    )
    return (
        Dispute.objects.filter(closed=None)
        .annotate(
            animals=Count("standings__animal", distinct=True),
            first_animal=Subquery(first.values("animal")[:1]),
            first_code=Subquery(first.values("animal__code")[:1]),
        )
        .order_by("pk")
    )


def clutches_due(today: date) -> list[Due]:
    """Return the clutches expected to hatch soon or overdue, the earliest first."""
    waiting = (
        Clutch.objects.live()
        .filter(hatched_on=None, laid_on__isnull=False, laid_on__lte=today)
        # Nothing is left to hatch of a clutch that is all slugs and losses.
        .exclude(eggs__isnull=False, eggs__lte=F("slugs") + F("lost"))
        .select_related("species", "dam")
    )
    due = [Due(clutch, clutch.due_on) for clutch in waiting if clutch.due_on]
    return sorted((one for one in due if one.on <= today + AHEAD), key=lambda one: one.on)


def clutches_unlogged() -> list[Unlogged]:
    """Return the clutches that hatched and whose eggs are not all accounted for."""
    hatched = (
        with_hatched(Clutch.objects.live().exclude(hatched_on=None))
        .annotate(told=F("hatched") + F("slugs") + F("lost"))
        .filter(Q(eggs__gt=F("told")) | Q(eggs=None, told=0))
        .select_related("species", "dam")
        .order_by("hatched_on", "pk")
    )
    return [
        Unlogged(clutch, None if clutch.eggs is None else clutch.eggs - clutch.told)
        for clutch in hatched
    ]


def reviews_due(today: date) -> QuerySet[Member]:
    """Return the holdbacks that are to be looked at again, the longest due first."""
    due: QuerySet[Member] = (
        Member.objects.live()
        .filter(
            holdback=True,
            released_on=None,
            review_on__lte=today,
            project__closed_on=None,
            project__withdrawn_at=None,
            animal__withdrawn_at=None,
        )
        .select_related("animal", "project")
        .order_by("review_on", "animal__code")
    )
    return due


def last_entries(number: int) -> Iterable[DaybookEntry]:
    """Return the last entries of the daybook, each with how many standings it `moved`."""
    moved = (
        StandingChange.objects.filter(entry=OuterRef("pk"))
        .order_by()
        .values("entry")
        .annotate(number=Count("pk"))
        .values("number")
    )
    # Counted for these alone: a join would count for the whole daybook first.
    entries = DaybookEntry.objects.select_related("by").annotate(moved=Coalesce(Subquery(moved), 0))
    return entries.order_by("-pk")[:number]


def is_empty() -> tuple[bool, bool, bool]:
    """Return whether the book has no species, no traits with lines, and no animals yet."""
    return (
        not Species.objects.live().exists(),
        not Line.objects.live().filter(trait__withdrawn_at=None).exists(),
        not Animal.objects.exists(),
    )
