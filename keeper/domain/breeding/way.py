"""The way of one clutch, or of a female's season under way: what was, and what is expected."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import Q

from keeper.domain.breeding.days import LONGEST, Took, day_after, took
from keeper.domain.breeding.steps import INTERVALS, Interval, Span, Step, name_of, steps_of
from keeper.domain.saying.counts import how_many
from keeper.models import (
    Animal,
    BreedingEvent,
    Clutch,
    ClutchStep,
    Incubation,
    PlannedPairing,
    SeenKind,
    Species,
    StepKind,
)

_DAY = "%-d %B"


@dataclass(frozen=True)
class Done:
    """What was seen or done: the day (none: only planned), in words, and the record it is of."""

    on: date | None
    words: str
    record: BreedingEvent | ClutchStep | Incubation | PlannedPairing | None = None

    @property
    def is_of(self) -> str:
        """Of which kind the record is, for whoever links to it; empty: of none."""
        return "" if self.record is None else str(self.record._meta.model_name)


@dataclass(frozen=True)
class Expected:
    """Between which days a step is expected, and on what ground."""

    low: date
    high: date
    ground: str

    @property
    def days(self) -> str:
        """The days in words: 3 to 9 December."""
        return between(self.low, self.high)


@dataclass(frozen=True)
class Stage:
    """One step of a way."""

    step: Step
    name: str
    done: tuple[Done, ...] = ()
    expected: Expected | None = None

    @property
    def days(self) -> list[date]:
        """The days on which it was seen."""
        return [one.on for one in self.done if one.on is not None]


@dataclass(frozen=True)
class Way:
    """A way: its stages in order, those alone that were or are expected.

    Attributes:
        dam: whose it is.
        clutch: the clutch, once it was laid (or the litter, once it was born).
    """

    dam: Animal | None
    species: Species
    clutch: Clutch | None
    stages: tuple[Stage, ...] = field(default_factory=tuple)

    @property
    def next(self) -> Stage | None:
        """What is expected next."""
        return next((one for one in self.stages if one.expected is not None), None)

    def stage(self, step: Step) -> Stage | None:
        """Return a stage of it."""
        return next((one for one in self.stages if one.step == step), None)


def between(low: date, high: date) -> str:
    """Return two days as they are said.

    >>> between(date(2026, 12, 3), date(2026, 12, 9)), between(date(2026, 2, 28), date(2026, 3, 1))
    ('3 to 9 December', '28 February to 1 March')
    """
    if low == high:
        return f"{low:{_DAY}}"
    if (low.year, low.month) == (high.year, high.month):
        return f"{low.day} to {high:{_DAY}}"
    year = " %Y" if low.year != high.year else ""
    return f"{low:{_DAY}{year}} to {high:{_DAY}{year}}"


def expectations(
    species: Species, dam: int | None, known: Mapping[Step, Sequence[date]], how: Took
) -> dict[Step, Expected]:
    """Return when each step after the last that was done is expected, as far as intervals lead.

    `known` holds the days of what was done. Of a step that is itself only expected the next
    follows at the least after its first day and at the most after its last.
    """
    steps = steps_of(species)
    last = max((steps.index(one) for one in known if one in steps), default=-1)
    found: dict[Step, Expected] = {}
    for position, step in enumerate(steps):
        if position <= last or step in known:
            continue
        for interval in INTERVALS:
            span = how.span(species, dam, interval) if interval.end == step else None
            start = _start(interval, known, found) if span is not None else None
            if span is not None and start is not None:
                low, high = day_after(start[0], span.least), day_after(start[1], span.most)
                found[step] = Expected(low, high, ground(span, interval, species))
                break
    return found


def _start(
    interval: Interval, known: Mapping[Step, Sequence[date]], found: Mapping[Step, Expected]
) -> tuple[date, date] | None:
    if interval.start in known:
        days = known[interval.start]
        one = min(days) if interval.start in _FIRST_COUNTS else max(days)
        return one, one
    if interval.start in found:
        return found[interval.start].low, found[interval.start].high
    return None


_FIRST_COUNTS = {Step.HATCHED, Step.FIRST_SHED, Step.FIRST_MEAL, Step.LAID}


def ground(span: Span, interval: Interval, species: Species) -> str:
    """Return an interval in words, with how it is known and of how many."""
    days = (
        how_many(span.least, "day") if span.least == span.most
        else f"{span.least} to {span.most} days"
    )  # fmt: skip
    own = f", 10 to 90 %, median {span.median:g}" if span.median is not None else ""
    return f"{days} after “{name_of(interval.start, species)}”; {span.known}{own}"


def way_of_clutch(clutch: Clutch, how: Took | None = None) -> Way:
    """Return the way of a clutch that was laid, or of a litter that was born."""
    how = took(clutch.species_id) if how is None else how
    end = clutch.laid_on or clutch.hatched_on
    done = _of_eggs(clutch)
    if clutch.dam_id is not None and end is not None:
        done += _of_dam(clutch.dam_id, *_season_before(clutch, end))
    return _way(clutch.species, clutch.dam, clutch, done, how)


def way_of_season(dam: Animal, today: date, how: Took | None = None) -> Way:
    """Return the way that a female is on since she last laid."""
    how = took(dam.species_id) if how is None else how
    earliest = today - timedelta(days=LONGEST)
    last = _last_end(Q(dam=dam.pk), today)
    since = max(earliest, last + timedelta(days=1)) if last else earliest
    done = _of_dam(dam.pk, since, today)
    plans = PlannedPairing.objects.live().filter(dam=dam.pk, season__gte=since.year)
    for plan in plans.filter(season__lte=today.year + 1).select_related("sire"):
        if last is None or plan.season > last.year:
            done.append((Step.PLANNED, Done(None, f"with {plan.sire} in {plan.season}", plan)))
    return _way(dam.species, dam, None, done, how)


def _last_end(of: Q, until: date) -> date | None:
    """The last day before another on which clutches of these were laid, or litters born."""
    clutches = Clutch.objects.live().filter(of)
    laid = (
        clutches.filter(laid_on__lte=until).order_by("-laid_on").values_list("laid_on", flat=True)
    )
    born = (
        clutches.filter(laid_on=None, hatched_on__lte=until)
        .order_by("-hatched_on")
        .values_list("hatched_on", flat=True)
    )
    return max((one for one in (laid.first(), born.first()) if one), default=None)


def _season_before(clutch: Clutch, end: date) -> tuple[date, date]:
    """The days that belong to a clutch before it was laid: since the one before."""
    others = Q(dam=clutch.dam_id) & ~Q(pk=clutch.pk)
    last = _last_end(others, end - timedelta(days=1))
    earliest = end - timedelta(days=LONGEST)
    return max(earliest, last + timedelta(days=1)) if last else earliest, end


def _of_dam(dam: int, since: date, until: date) -> list[tuple[Step, Done]]:
    rows = BreedingEvent.objects.live().filter(dam=dam, on__range=(since, until))
    return [
        (Step(one.kind), Done(one.on, _said_of(one), one))
        for one in rows.select_related("sire").order_by("on", "pk")
    ]


def _said_of(one: BreedingEvent) -> str:
    words = [f"with {one.sire}"] if one.sire else []
    if one.kind == SeenKind.FOLLICLES and one.size_mm:
        words.append(f"{one.size_mm:g} mm")
    return ", ".join([*words, one.note] if one.note else words)


def _of_eggs(clutch: Clutch) -> list[tuple[Step, Done]]:
    found: list[tuple[Step, Done]] = []
    if clutch.laid_on:
        eggs = "" if clutch.eggs is None else how_many(clutch.eggs, "egg")
        slugs = f"{how_many(clutch.slugs, 'slug')} of them" if clutch.slugs else ""
        found.append((Step.LAID, Done(clutch.laid_on, ", ".join(filter(None, [eggs, slugs])))))
    for box in Incubation.objects.live().filter(clutch=clutch):
        said = [box.box, box.place, f"{box.temperature:g} °C" if box.temperature else ""]
        said += [box.medium, f"{box.weight_g:g} g" if box.weight_g else ""]
        found.append((Step.SET_UP, Done(box.since, ", ".join(filter(None, said)), box)))
    if clutch.hatched_on:
        found.append((Step.HATCHED, Done(clutch.hatched_on, "")))
    return found + _together(clutch)


def _together(clutch: Clutch) -> list[tuple[Step, Done]]:
    """What was seen of eggs and young; of several young on one day in one line."""
    alone: list[tuple[Step, Done]] = []
    young: dict[tuple[str, date], list[ClutchStep]] = defaultdict(list)
    rows = ClutchStep.objects.live().filter(clutch=clutch).select_related("animal", "clutch")
    for one in rows.order_by("on", "animal__code", "pk"):
        if one.animal is not None:
            young[one.kind, one.on].append(one)
        else:
            alone.append((Step(one.kind), Done(one.on, _counted(one), one)))
    for (kind, on), those in young.items():
        codes = ", ".join(str(one.animal) for one in those)
        alone.append((Step(kind), Done(on, codes, those[0])))
    return alone


def _counted(one: ClutchStep) -> str:
    if one.count is None:
        return one.note
    what = {
        StepKind.CANDLED: f"{one.count} fertile",
        StepKind.LOST: how_many(one.count, "egg"),
        StepKind.PIP: how_many(one.count, "egg"),
    }.get(StepKind(one.kind), f"{one.count} without a record")
    return f"{what}, {one.note}" if one.note else what


def _way(
    species: Species,
    dam: Animal | None,
    clutch: Clutch | None,
    done: Iterable[tuple[Step, Done]],
    how: Took,
) -> Way:
    told: dict[Step, list[Done]] = defaultdict(list)
    for step, one in done:
        told[step].append(one)
    known = {
        step: [one.on for one in those if one.on is not None]
        for step, those in told.items()
        if any(one.on for one in those)
    }
    ahead = expectations(species, dam.pk if dam else None, known, how)
    stages = [
        Stage(step, name_of(step, species), tuple(told.get(step, ())), ahead.get(step))
        for step in Step
        if step in told or step in ahead
    ]
    return Way(dam, species, clutch, tuple(stages))


__all__ = [
    "Done",
    "Expected",
    "Stage",
    "Way",
    "between",
    "expectations",
    "ground",
    "way_of_clutch",
    "way_of_season",
]
