"""What of weights and meals is pointed out: calmly, with its figures, never as a diagnosis.

A loss of weight is measured from the heaviest of the last weeks; of a dam that laid since, another
share counts, since a clutch is much of her weight. Refusals in a row are compared with what the
keeper's own animals of that species and sex did in that season; while those are few, with a plain
number. Both shares and the number are the keeper's, on the species: common practice, no source.

What is read is bounded: weights of the last weeks, refusals of the last half year (an index of
their own), and the meals of those few animals that refused three times. It is kept until the next
entry of the daybook; what is usual, which no single meal moves much, for the day.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

from django.core.cache import cache
from django.db.models import Count, F, Max, Min, Q

from keeper.domain.book.daybook import moment
from keeper.domain.husbandry.queries import LIVING, heaviest_since, living, percent_lost
from keeper.models import Animal, Clutch, Meal, Outcome, Quarantine, Sex, Species, Weight

ADVICE = (
    "The book is no veterinarian and names no cause. If it goes on, or you are in doubt, ask a "
    "qualified reptile veterinarian."
)
LOOKED_BACK = timedelta(days=183)
# So many runs must have ended before the keeper's own animals tell what is usual; 19 of 20 runs
# are at most as long as that. Common practice, no source.
ENOUGH_RUNS, SHARE = 20, 0.95
_LEAST_RUN = 3
# So many of each Today lists; its template cuts there.
LISTED = 12
# Meals read at most, the latest first, to tell what is usual.
_MOST_MEALS = 20_000
_KEPT = 24 * 3600


@dataclass(frozen=True)
class Lost:
    """An animal that lost weight: what it weighed, and weighs now."""

    animal: Animal
    before: Weight
    now: Weight
    threshold: int
    laid: bool

    @property
    def percent(self) -> int:
        """How much of the weight is gone, rounded up."""
        return percent_lost(self.before.grams, self.now.grams)


@dataclass(frozen=True)
class Usual:
    """How many refusals in a row are usual, by so many runs of the keeper's own; 0: not told."""

    most: int
    runs: int

    @property
    def own(self) -> bool:
        """Whether the keeper's own meals tell it."""
        return self.runs >= ENOUGH_RUNS


@dataclass(frozen=True)
class Refusing:
    """An animal that refused meal after meal, since its first refusal of these."""

    animal: Animal
    number: int
    since: date
    usual: Usual
    season: str


@dataclass(frozen=True)
class PointedOut:
    """All of it."""

    lost: tuple[Lost, ...]
    refusing: tuple[Refusing, ...]
    quarantines: tuple[Quarantine, ...]

    @property
    def more(self) -> int:
        """How many Today leaves out of its lists."""
        lists = (self.lost, self.refusing, self.quarantines)
        return sum(max(0, len(one) - LISTED) for one in lists)

    def __bool__(self) -> bool:
        return bool(self.lost or self.refusing or self.quarantines)


def pointed_out(today: date) -> PointedOut:
    """Return what is pointed out of all animals that live here; kept until the next entry."""
    now = moment()
    if not now:
        return _pointed_out(today, None)
    name = f"pointed-out:{now}:{today}"
    found: PointedOut | None = cache.get(name)
    if found is None:
        found = _pointed_out(today, None)
        cache.set(name, found, _KEPT)
    return found


def pointed_out_of(animal: Animal, today: date) -> PointedOut:
    """Return what is pointed out of one animal."""
    return _pointed_out(today, animal)


def _pointed_out(today: date, animal: Animal | None) -> PointedOut:
    open_ = Quarantine.objects.live().filter(ended_on=None, until__lte=today)
    if animal is not None:
        open_ = open_.filter(animal=animal)
    open_ = open_.filter(animal__withdrawn_at=None, animal__status__in=LIVING)
    return PointedOut(
        tuple(_lost(today, animal)),
        tuple(_refusing(today, animal)),
        tuple(open_.select_related("animal").order_by("until", "animal__code")),
    )


# --- weights -------------------------------------------------------------------------------------


def _lost(today: date, animal: Animal | None) -> list[Lost]:
    """Who weighs too much less than it did; those that lost nothing are left out by the query."""
    candidates = _who_varied(today, animal)
    if not candidates:
        return []
    animals = living().select_related("species").in_bulk(candidates)
    furthest = max((one.species.loss_weeks for one in animals.values()), default=0)
    rows = Weight.objects.live().filter(
        animal__in=animals, on__gte=today - timedelta(weeks=furthest), on__lte=today
    )
    of: dict[int, list[Weight]] = defaultdict(list)
    for one in rows.order_by("on", "pk"):
        of[one.animal_id].append(one)
    laid = _laid(of)
    found = [_loss(animals[pk], weights, laid.get(pk), today) for pk, weights in of.items()]
    lost = [one for one in found if one is not None]
    return sorted(lost, key=lambda one: (-one.percent, one.animal.code))


def _who_varied(today: date, animal: Animal | None) -> list[int]:
    """Who of late weighed less, at some time, than its species' threshold under its heaviest."""
    weeks, least = _bounds()
    rows = Weight.objects.live().filter(on__gte=today - timedelta(weeks=weeks), on__lte=today)
    if animal is not None:
        rows = rows.filter(animal=animal)
    spread = rows.order_by().values("animal").annotate(low=Min("grams"), high=Max("grams"))
    varied = spread.filter(low__lte=F("high") * (100 - least) / 100)
    return list(varied.values_list("animal", flat=True))


def _bounds() -> tuple[int, int]:
    """The longest look back of any species in weeks, and the least loss that any points out."""
    found = Species.objects.aggregate(
        weeks=Max("loss_weeks"), one=Min("loss_percent"), other=Min("loss_laid_percent")
    )
    return found["weeks"] or 12, min(found["one"] or 10, found["other"] or 10)


def _laid(animals: Iterable[int]) -> dict[int, date]:
    """When each dam last laid."""
    rows = Clutch.objects.live().filter(dam__in=list(animals), laid_on__isnull=False)
    return dict(rows.order_by().values_list("dam").annotate(Max("laid_on")))


def _loss(
    animal: Animal, weights: Sequence[Weight], laid_on: date | None, today: date
) -> Lost | None:
    now = weights[-1]
    before = heaviest_since(weights, today - timedelta(weeks=animal.species.loss_weeks))
    if before is None or before.grams <= now.grams:
        return None
    laid = laid_on is not None and before.on <= laid_on <= now.on
    threshold = animal.species.loss_laid_percent if laid else animal.species.loss_percent
    if percent_lost(before.grams, now.grams) <= threshold:
        return None
    return Lost(animal, before, now, threshold, laid)


# --- meals ---------------------------------------------------------------------------------------


def _refusing(today: date, animal: Animal | None) -> list[Refusing]:
    since = today - LOOKED_BACK
    refused = Meal.objects.live().filter(
        outcome=Outcome.REFUSED.value, withdrawn_at=None, on__gte=since, on__lte=today
    )
    if animal is not None:
        refused = refused.filter(animal=animal)
    counted = refused.order_by().values("animal").annotate(number=Count("pk"))
    candidates = counted.filter(number__gte=_LEAST_RUN).values_list("animal", flat=True)
    animals = living().select_related("species").in_bulk(list(candidates))
    runs = _open_runs(animals, since, today)
    found = []
    for pk, (number, first) in runs.items():
        one = animals[pk]
        # Nothing shorter is ever pointed out: most groups need not be read.
        if number < _LEAST_RUN:
            continue
        usual = usual_refusals(one, today)
        if number > usual.most:
            found.append(Refusing(one, number, first, usual, season_of(today)[1]))
    return sorted(found, key=lambda one: (-one.number, one.animal.code))


def _open_runs(animals: Iterable[int], since: date, today: date) -> dict[int, tuple[int, date]]:
    """By animal how many meals it refused in a row up to now, and since when.

    A meal of which nobody said what became of it neither ends a run nor makes it longer.
    """
    rows = Meal.objects.live().filter(animal__in=list(animals), on__gte=since, on__lte=today)
    runs: dict[int, tuple[int, date]] = {}
    for pk, on, outcome in rows.order_by("on", "pk").values_list("animal", "on", "outcome"):
        if outcome == Outcome.REFUSED:
            number, first = runs.get(pk, (0, on))
            runs[pk] = (number + 1, first)
        elif outcome != Outcome.OFFERED:
            runs.pop(pk, None)
    return runs


def season_of(day: date) -> tuple[tuple[int, ...], str]:
    """Return the months of a day's season, and what it is called by them.

    >>> season_of(date(2026, 1, 9))
    ((12, 1, 2), 'December to February')
    """
    first = (day.month // 3 * 3) or 12
    months = (first, first % 12 + 1, (first + 1) % 12 + 1)
    return months, f"{date(2000, months[0], 1):%B} to {date(2000, months[-1], 1):%B}"


def usual_refusals(animal: Animal, today: date) -> Usual:
    """Return how many refusals in a row are usual of a species and sex in this season.

    Of the keeper's own runs that ended, of all years: 19 of 20 were at most so long. Fewer than
    ENOUGH_RUNS tell nothing: then it is the plain number of the species.
    """
    months, _ = season_of(today)
    sex = animal.sex if animal.sex != Sex.UNKNOWN else ""
    name = f"usual-refusals:{today}:{animal.species_id}:{sex}:{months[0]}"
    lengths: tuple[int, ...] | None = cache.get(name)
    if lengths is None:
        lengths = tuple(_ended_runs(animal.species_id, sex, months, today))
        cache.set(name, lengths, _KEPT)
    if len(lengths) < ENOUGH_RUNS:
        return Usual(animal.species.refusals_usual, len(lengths))
    most = sorted(lengths)[ceil(SHARE * len(lengths)) - 1]
    return Usual(max(most, _LEAST_RUN - 1), len(lengths))


def _ended_runs(species: int, sex: str, months: tuple[int, ...], today: date) -> list[int]:
    """The lengths of runs of refusals that a meal taken ended, each with the days of one season."""
    rows = Meal.objects.live().filter(
        Q(on__month__in=months), animal__species=species, on__lt=today
    )
    if sex:
        rows = rows.filter(animal__sex=sex)
    latest = rows.order_by("-on", "-pk").values_list("animal", "on", "outcome")[:_MOST_MEALS]
    lengths: list[int] = []
    open_: dict[tuple[int, int], int] = defaultdict(int)
    for pk, on, outcome in reversed(list(latest)):
        # December belongs to the winter that follows.
        key = (pk, on.year + (on.month == 12))
        if outcome == Outcome.REFUSED:
            open_[key] += 1
        elif outcome == Outcome.TAKEN and open_[key]:
            lengths.append(open_.pop(key))
    return lengths
