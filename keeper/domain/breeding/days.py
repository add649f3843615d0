"""How long each interval took in this book: median and 10 to 90 %, with of how many.

All days of a book, or of one species, come in one query; pandas puts each day of a female to the
laying that followed it.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from math import ceil, floor
from typing import Any

from django.db import connection
from django.db.models import CharField, F, IntegerField, QuerySet, Value
from django.db.models.functions import Cast

from keeper.domain.book.daybook import moment
from keeper.domain.book.snapshots import snapshot
from keeper.domain.breeding.steps import INTERVALS, LAST_COUNTS, Interval, Span, Step, stated
from keeper.models import BreedingEvent, Clutch, ClutchStep, Species

# Of a species so many completed intervals, and of a dam so many, before they count.
OF_SPECIES, OF_DAM = 5, 3
# What was seen longer before a laying belongs to no clutch.
LONGEST = 400
_TOLD = (
    (BreedingEvent, "dam__species_id", "dam_id", None, F("kind"), "on"),
    (Clutch, "species_id", "dam_id", "pk", Value(Step.LAID.value), "laid_on"),
    (Clutch, "species_id", "dam_id", "pk", Value(Step.HATCHED.value), "hatched_on"),
    (ClutchStep, "clutch__species_id", "clutch__dam_id", "clutch_id", F("kind"), "on"),
)


# Of a species or a dam, how long an interval took.
_Key = tuple[int, Interval]


@dataclass(frozen=True)
class Took:
    """What intervals took in this book: by species, and by species and dam."""

    of_species: Mapping[_Key, Span] = field(default_factory=dict)
    of_dam: Mapping[_Key, Span] = field(default_factory=dict)

    def span(self, species: Species, dam: int | None, interval: Interval) -> Span | None:
        """Return what counts: the dam's own, else the keeper's own, else the species' figure."""
        own = self.of_dam.get((dam or 0, interval)) or self.of_species.get((species.pk, interval))
        return own or stated(species, interval)


def took(species: int | None = None) -> Took:
    """Return what every interval took, of one species (its id) or of all.

    It is kept until anything is written; then it is one query.
    """
    # Whoever is writing has not written all of it.
    if connection.in_atomic_block:
        return _read(species)
    with snapshot():
        now = moment()
        # A book without an entry is one that nobody wrote as books are written.
        return _kept(species, now) if now else _read(species)


@lru_cache(maxsize=4)
def _kept(species: int | None, now: str) -> Took:
    """Return the same of the book at a moment, which is now."""
    return _read(species)


def _read(species: int | None) -> Took:
    rows = list(_rows(species))
    return _took(rows) if rows else Took()


def _rows(species: int | None) -> QuerySet[Any, tuple[Any, ...]]:
    parts = []
    for model, kind, dam, clutch, step, on in _TOLD:
        rows = model.objects.live().filter(**{f"{on}__isnull": False, f"{dam}__isnull": False})
        if species is not None:
            rows = rows.filter(**{kind: species})
        parts.append(
            rows.order_by()
            .annotate(
                of=F(kind),
                by=F(dam),
                laid=Value(0, IntegerField()) if clutch is None else F(clutch),
                what=Cast(step, CharField()),
                day=F(on),
            )
            .values_list("of", "by", "laid", "what", "day")
        )
    first, *others = parts
    return first.union(*others, all=True)  # type: ignore[no-any-return]  # the managers are untyped


def _took(rows: list[tuple[Any, ...]]) -> Took:
    import pandas as pd  # heavy, and few pages ask

    told = pd.DataFrame(rows, columns=["species", "dam", "clutch", "step", "on"])
    told["on"] = pd.to_datetime(told["on"])
    days = _by_clutch(pd, told)
    of_species: dict[_Key, list[float]] = defaultdict(list)
    of_dam: dict[_Key, list[float]] = defaultdict(list)
    for interval in INTERVALS:
        if not {interval.start, interval.end} <= set(days.columns):
            continue
        gone = (days[interval.end] - days[interval.start]).dt.days.dropna()
        for (of, dam, _), value in gone[gone >= 0].items():
            of_species[of, interval].append(value)
            of_dam[dam, interval].append(value)
    return Took(
        _Spans(of_species, OF_SPECIES, "your own {} clutches"),
        _Spans(of_dam, OF_DAM, "her own {} clutches"),
    )


class _Spans(Mapping[_Key, Span]):
    """Spans of as many days as count, each worked out when asked for: a page needs few of all."""

    def __init__(self, days: Mapping[_Key, Sequence[float]], least: int, known: str) -> None:
        self._days = {key: values for key, values in days.items() if len(values) >= least}
        self._known = known

    def __getitem__(self, key: _Key) -> Span:
        values = self._days[key]
        return _span(values, self._known.format(len(values)))

    def __iter__(self) -> Iterator[_Key]:
        return iter(self._days)

    def __len__(self) -> int:
        return len(self._days)


def _by_clutch(pd: Any, told: Any) -> Any:
    """Return a row a clutch (species, dam, clutch) with the day of each step."""
    told = told.drop_duplicates()
    own = told[told["clutch"] != 0]
    before = told[told["clutch"] == 0].drop(columns="clutch").sort_values("on")
    # A litter has no laying: what was seen before belongs to its birth.
    ends = own[own["step"].isin([Step.LAID, Step.HATCHED])].groupby(["dam", "clutch"])["on"].min()
    ends = ends.reset_index().rename(columns={"on": "end"}).sort_values("end")
    if len(before) and len(ends):
        before = pd.merge_asof(
            before, ends, left_on="on", right_on="end", by="dam", direction="forward",
            tolerance=pd.Timedelta(days=LONGEST),
        ).dropna(subset=["clutch"])  # fmt: skip
        own = pd.concat([own, before.drop(columns="end")])
    last = own["step"].isin(LAST_COUNTS)
    keys = ["species", "dam", "clutch", "step"]
    one = pd.concat([own[last].groupby(keys)["on"].max(), own[~last].groupby(keys)["on"].min()])
    return one.unstack("step")


def _span(values: Sequence[float], known: str) -> Span:
    import numpy as np

    low, middle, high = map(float, np.quantile(values, (0.1, 0.5, 0.9)))
    return Span(floor(low), ceil(high), known, len(values), middle)


def day_after(start: date, days: int) -> date:
    """Return the day so many days later, by the calendar alone; the last there is, at most."""
    return date.fromordinal(min(start.toordinal() + days, date.max.toordinal()))
