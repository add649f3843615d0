"""Which save of a record a form was made from, so that nothing is overwritten unseen.

A record's version is the last row of its history. The version of its parts is the last touch of
anything that belongs to it: a clutch's candidates, counts and hatchlings, a project's goal.
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from django.contrib.contenttypes.models import ContentType
from django.db.models import Max, Q, QuerySet

from keeper import models as m

# What belongs to a record and is written by the same forms: models, and the way to its id.
_PARTS: dict[type[m.Record], tuple[tuple[type[m.Record], str], ...]] = {
    m.Clutch: (
        (m.CandidateSire, "clutch"),
        (m.HatchRow, "clutch"),
        (m.RowSighting, "row__clutch"),
        (m.Animal, "clutch"),
    ),
    m.HatchRow: ((m.Animal, "hatch_row"), (m.RowSighting, "row")),
    m.Look: ((m.Observation, "look"),),
    m.Plan: ((m.PlanStep, "plan"),),
    m.NamedLook: ((m.LookPart, "look"),),
    m.Project: ((m.GoalPart, "project"), (m.GoalLook, "project")),
    m.Prospect: ((m.ProspectWord, "prospect"),),
    m.Showing: ((m.Condition, "showing"),),
    m.Trait: ((m.Line, "trait"),),
}
_WRITTEN = re.compile(r"([a-z]+)(\+?)\.(\d{1,18})\.(\d{1,18})(?:\.(\d{1,18}))?")


class Version(NamedTuple):
    """What a version is of: a record, or the parts of one."""

    model: str
    pk: int
    parts: bool = False


class Held(NamedTuple):
    """A version that a form carries.

    Attributes:
        base: the save that the form was made from.
        shown: the last save whose changes the form has shown since; they may be written over.
    """

    base: int
    shown: int


def of_record(record: m.Record) -> Version:
    """Return what names a record among the versions of a form."""
    return Version(str(record._meta.model_name), record.pk)


def of_parts(record: m.Record) -> Version:
    """Return what names the parts of a record among the versions of a form."""
    return Version(str(record._meta.model_name), record.pk, parts=True)


def written_versions(
    records: Iterable[m.Record], sent: Mapping[Version, Held], *, overtaken: bool
) -> str:
    """Return the versions of records, and of their parts, as a form carries them.

    A form that is shown again was made from what it was `sent` with. If it was `overtaken`, it
    shows what others have changed by now.
    """
    words = []
    records = list(records)
    saves = _last_saves(records)
    for record in records:
        own, parts = of_record(record), of_parts(record)
        held = sent.get(own)
        if held is None or overtaken:
            last = saves.get((type(record), record.pk), 0)
            held = Held(held.base if held is not None else last, last)
        words.append(f"{own.model}.{own.pk}.{held.base}.{held.shown}")
        if type(record) in _PARTS:
            held = sent.get(parts)
            last = held.base if held is not None and not overtaken else last_touch_of_parts(record)
            words.append(f"{parts.model}+.{parts.pk}.{last}")
    return " ".join(words)


def read_versions(words: str) -> Iterator[tuple[Version, Held]]:
    """Yield the versions that a form carried; what is none is passed over."""
    for word in words.split():
        found = _WRITTEN.fullmatch(word)
        if found is not None:
            base = int(found[4])
            yield (
                Version(found[1], int(found[3]), bool(found[2])),
                Held(base, int(found[5] or base)),
            )


def _last_saves(records: Iterable[m.Record]) -> dict[tuple[type[m.Record], int], int]:
    """Return the last row of the history of each record that has one: a query a kind."""
    wanted: dict[type[m.Record], list[int]] = defaultdict(list)
    for record in records:
        wanted[type(record)].append(record.pk)
    return {
        (model, pk): last
        for model, pks in wanted.items()
        for pk, last in model.history.filter(id__in=pks)
        .order_by()
        .values_list("id")
        .annotate(last=Max("history_id"))
    }


def last_save(record: m.Record) -> int:
    """Return the last row of a record's history; 0 if it has none."""
    rows = type(record).history.filter(id=record.pk)
    return rows.aggregate(last=Max("history_id"))["last"] or 0


def last_touch_of_parts(record: m.Record) -> int:
    """Return the last touch of anything that belongs to a record; 0 if there is none."""
    return touches_of_parts(record).aggregate(last=Max("pk"))["last"] or 0


def touches_of_parts(record: m.Record) -> QuerySet[m.Touch]:
    """Return every touch of what belongs to a record."""
    theirs = Q(pk__in=[])
    for model, way in _PARTS[type(record)]:
        kind = ContentType.objects.get_for_model(model)
        rows = model._base_manager.filter(**{way: record.pk}).order_by().values("pk")
        theirs |= Q(record_type=kind, record_id__in=rows)
    return m.Touch.objects.filter(theirs).order_by()
