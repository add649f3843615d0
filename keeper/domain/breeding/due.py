"""What is expected this week or overdue, over the whole book: in as many queries however large."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Exists, OuterRef

from keeper.domain.breeding.days import LONGEST, Took, took
from keeper.domain.breeding.steps import Step, name_of
from keeper.domain.breeding.way import Expected, expectations
from keeper.models import GONE, Animal, BreedingEvent, Clutch, ClutchStep, StepKind

AHEAD = timedelta(days=7)
# What is overdue by more was forgotten or did not come: her page still says it.
PAST = timedelta(days=30)
# Young of which a step is asked for hatched so lately.
_YOUNG = timedelta(days=60)


@dataclass(frozen=True)
class Due:
    """A step expected of a female, or of a clutch's young."""

    step: Step
    name: str
    expected: Expected
    dam: Animal | None = None
    clutch: Clutch | None = None
    late: bool = False


def due(today: date) -> list[Due]:
    """Return what is expected until in a week, or was and is not noted, the earliest first."""
    open_ = _open_females(today)
    clutches = _young_clutches(today)
    if not open_ and not clutches:
        return []
    how = took()
    found = [*_of_females(open_, how), *_of_young(clutches, how)]
    return sorted(
        (
            Due(one.step, one.name, one.expected, one.dam, one.clutch, one.expected.high < today)
            for one in found
            if one.expected.low <= today + AHEAD and one.expected.high >= today - PAST
        ),
        key=lambda one: (one.expected.low, one.expected.high, str(one.dam or one.clutch)),
    )


def _open_females(today: date) -> dict[Animal, dict[Step, list[date]]]:
    """Females with something noted since they last laid, and its days."""
    since = today - timedelta(days=LONGEST)
    later = Clutch.objects.live().filter(dam=OuterRef("dam"))
    rows = (
        BreedingEvent.objects.live()
        .filter(on__range=(since, today), dam__withdrawn_at=None)
        .exclude(dam__status__in=GONE)
        .exclude(Exists(later.filter(laid_on__gte=OuterRef("on"))))
        .exclude(Exists(later.filter(laid_on=None, hatched_on__gte=OuterRef("on"))))
        .select_related("dam__species")
    )
    found: dict[Animal, dict[Step, list[date]]] = defaultdict(lambda: defaultdict(list))
    for one in rows.order_by("on", "pk"):
        found[one.dam][Step(one.kind)].append(one.on)
    return found


def _of_females(open_: dict[Animal, dict[Step, list[date]]], how: Took) -> Iterable[Due]:
    for dam, known in open_.items():
        ahead = expectations(dam.species, dam.pk, known, how)
        for step in (Step.SHED, Step.LAID, Step.HATCHED):
            if step in ahead and (step != Step.HATCHED or dam.species.bears_live):
                yield Due(step, name_of(step, dam.species), ahead[step], dam=dam)
                break


def _young_clutches(today: date) -> list[Clutch]:
    """Clutches that hatched lately, and of which not every step of the young is noted."""
    meals = ClutchStep.objects.live().filter(clutch=OuterRef("pk"), kind=StepKind.FIRST_MEAL)
    rows = (
        Clutch.objects.live()
        .filter(hatched_on__range=(today - _YOUNG, today), hatch_rows__withdrawn_at=None)
        .exclude(hatch_rows=None)
        .exclude(Exists(meals))
        .select_related("species", "dam")
        .distinct()
    )
    return list(rows.order_by("hatched_on", "pk"))


def _of_young(clutches: list[Clutch], how: Took) -> Iterable[Due]:
    steps: dict[int, dict[Step, list[date]]] = defaultdict(lambda: defaultdict(list))
    rows = ClutchStep.objects.live().filter(clutch__in=[one.pk for one in clutches])
    for pk, kind, on in rows.values_list("clutch_id", "kind", "on"):
        steps[pk][Step(kind)].append(on)
    for clutch in clutches:
        known = dict(steps[clutch.pk])
        if clutch.hatched_on is not None:
            known[Step.HATCHED] = [clutch.hatched_on]
        ahead = expectations(clutch.species, clutch.dam_id, known, how)
        for step in (Step.FIRST_SHED, Step.FIRST_MEAL):
            if step in ahead:
                yield Due(step, name_of(step, clutch.species), ahead[step], clutch=clutch)
                break
