"""Reading husbandry: the last of everything, lists, growth and feeding by the week."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from math import ceil
from typing import TypeVar

from django.db.models import F, QuerySet, Window
from django.db.models.functions import RowNumber

from keeper.models import (
    Animal,
    Cleaning,
    HealthNote,
    HusbandryRecord,
    Meal,
    Outcome,
    Quarantine,
    Shed,
    Status,
    Treatment,
    Weight,
)

# Whoever is fed and weighed here.
LIVING = (Status.KEPT, Status.OFFERED, Status.HELD)
# The words of addresses, and what they are of.
KINDS: dict[str, type[HusbandryRecord]] = {
    "meal": Meal,
    "weight": Weight,
    "shed": Shed,
    "cleaning": Cleaning,
    "health": HealthNote,
    "treatment": Treatment,
    "quarantine": Quarantine,
}
Care = TypeVar("Care", bound=HusbandryRecord)


@dataclass(frozen=True)
class Week:
    """What became of an animal's meals in one week, which begins on a Monday."""

    monday: date
    taken: int
    refused: int
    other: int

    @property
    def offered(self) -> int:
        """All of them."""
        return self.taken + self.refused + self.other


def living() -> QuerySet[Animal]:
    """Return the animals that are fed here."""
    return Animal.objects.live().filter(status__in=LIVING)


def last_of(
    model: type[Care], animals: Iterable[int], number: int = 1, *, since: date | None = None
) -> dict[int, list[Care]]:
    """Return by animal its last so many records of a kind, the newest first; one query."""
    rows = model.objects.live().filter(animal__in=list(animals))
    if since is not None:
        rows = rows.filter(on__gte=since)
    turn = Window(RowNumber(), partition_by=F("animal"), order_by=[F("on").desc(), F("pk").desc()])
    found: dict[int, list[Care]] = {}
    ranked = rows.annotate(turn=turn).filter(turn__lte=number)
    for one in ranked.order_by("animal", "-on", "-pk"):
        found.setdefault(one.animal_id, []).append(one)
    return found


def records_of(animal: Animal, kind: str) -> QuerySet[HusbandryRecord]:
    """Return an animal's records of a kind that count, the newest first."""
    rows: QuerySet[HusbandryRecord] = KINDS[kind].objects.live().filter(animal=animal)
    return rows.order_by("-on", "-pk")


def growth_of(animal: Animal, most: int = 400) -> list[Weight]:
    """Return an animal's last weights, the oldest first."""
    rows = Weight.objects.live().filter(animal=animal).order_by("-on", "-pk")
    return list(rows[:most])[::-1]


def weeks_of(animal: Animal, today: date, number: int = 26) -> list[Week]:
    """Return what became of an animal's meals in the last so many weeks, the oldest first."""
    monday = today - timedelta(days=today.weekday())
    first = monday - timedelta(weeks=number - 1)
    counts: dict[date, list[int]] = {
        first + timedelta(weeks=week): [0, 0, 0] for week in range(number)
    }
    rows = Meal.objects.live().filter(animal=animal, on__gte=first, on__lte=today)
    for on, outcome in rows.values_list("on", "outcome"):
        which = {Outcome.TAKEN: 0, Outcome.REFUSED: 1}.get(Outcome(outcome), 2)
        counts[on - timedelta(days=on.weekday())][which] += 1
    return [Week(monday, *numbers) for monday, numbers in counts.items()]


def heaviest_since(weights: Iterable[Weight], since: date) -> Weight | None:
    """Return the heaviest of some weights from a day on; of equal ones the last."""
    recent = [one for one in weights if one.on >= since]
    return max(recent, key=lambda one: (one.grams, one.on), default=None)


def percent_lost(before: Decimal, now: Decimal) -> int:
    """Return the percent of a weight that is gone, rounded up: harm and losses round up.

    >>> percent_lost(Decimal(1000), Decimal(899))
    11
    """
    return ceil((1 - Fraction(now) / Fraction(before)) * 100) if now < before else 0
