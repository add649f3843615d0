"""What was withdrawn and can be brought back, of every kind, and bringing it back.

Each kind goes back as its own page would do it, through the checks of its area; what has no such
page goes back with all that was withdrawn in the same entry.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.apps import apps
from django.db.models import CharField, QuerySet, Value

from keeper.discretion import OF_PEOPLE, sees_people, without_names
from keeper.domain.animals import writes as animals
from keeper.domain.book.refusing import Refused
from keeper.domain.book.writing import writing
from keeper.domain.breeding import writes as breeding
from keeper.domain.clutches.writes import restore_clutch
from keeper.domain.laboratories import writes as laboratories
from keeper.domain.lines import writes as lines
from keeper.domain.prospects.writes import take_up
from keeper.domain.register import withdrawing as register
from keeper.domain.stock import writes as stock
from keeper.models import (
    Account,
    Animal,
    Arising,
    BreedingEvent,
    Clutch,
    ClutchStep,
    Contact,
    DaybookEntry,
    Incubation,
    Interval,
    Laboratory,
    LabTest,
    Line,
    Look,
    NamedLook,
    Observation,
    PairWord,
    Paper,
    Photo,
    Prospect,
    Record,
    Sale,
    Sheet,
    Showing,
    Species,
    Statement,
    Survival,
    Touch,
    Trait,
)

# Of sources, buyers and sellers beside those whose texts are: whole records.
_ABOUT_PEOPLE = {*OF_PEOPLE, "prospectword", "sheet"}


# The name of a kind, the id of a record, and when it was withdrawn.
Row = tuple[str, int, datetime]


@dataclass(frozen=True)
class Gone:
    """A record that was withdrawn.

    Attributes:
        record: the record.
        kind: the name of its kind in addresses; `named` in words.
        at, why: when, and the reason that was given.
        by_entry: the entry that withdrew it, if one did.
        returns: whether it can be brought back; a sheet cannot.
    """

    record: Record
    kind: str
    named: str
    at: datetime
    why: str
    by_entry: DaybookEntry | None
    returns: bool


def kinds() -> dict[str, type[Record]]:
    """Return every kind of record that the reader may know of, by its name in addresses."""
    found = {
        str(one._meta.model_name): one
        for one in apps.get_app_config("keeper").get_models()
        if issubclass(one, Record)
    }
    hidden: Collection[str] = () if sees_people() else _ABOUT_PEOPLE
    return {name: found[name] for name in sorted(found) if name not in hidden}


def withdrawn(only: str = "") -> QuerySet[Any, Row]:
    """Return what is withdrawn, the latest first, as rows of (kind, id, when).

    One query, however many kinds there are; `rows_of` makes records of a page of it.
    """
    every = kinds()
    asked = [every[only]] if only in every else list(every.values())
    parts = [
        one._default_manager.filter(withdrawn_at__isnull=False)
        .order_by()
        .annotate(named_kind=Value(str(one._meta.model_name), output_field=CharField()))
        .values_list("named_kind", "pk", "withdrawn_at")
        for one in asked
    ]
    whole: QuerySet[Any, Row] = parts[0].union(*parts[1:], all=True) if len(parts) > 1 else parts[0]
    return whole.order_by("-withdrawn_at")


def rows_of(listed: Collection[Row]) -> list[Gone]:
    """Return the records of a page of `withdrawn`: one query a kind, and one for their entries."""
    every = kinds()
    records: dict[tuple[str, int], Record] = {}
    for kind in {kind for kind, _, _ in listed}:
        model = every[kind]
        near = [field.name for field in model._meta.concrete_fields if field.is_relation]
        wanted = [pk for one, pk, _ in listed if one == kind]
        for row in model._base_manager.filter(pk__in=wanted).select_related(*near):
            records[kind, row.pk] = row
    last = _last_entries(listed)
    return [
        Gone(
            records[kind, pk],
            kind,
            str(every[kind]._meta.verbose_name),
            at,
            without_names(records[kind, pk].withdrawn_reason),
            last.get((kind, pk)),
            kind != "sheet",
        )
        for kind, pk, at in listed
        if (kind, pk) in records
    ]


def _last_entries(
    listed: Collection[Row],
) -> dict[tuple[str, int], DaybookEntry]:
    """The last entry that touched each of them: it withdrew it, since nothing else changes one."""
    touches = Touch.objects.filter(
        record_type__app_label="keeper",
        record_type__model__in={kind for kind, _, _ in listed},
        record_id__in={pk for _, pk, _ in listed},
    ).select_related("record_type", "entry__by")
    # In the order of writing, so that the last of each stays.
    return {(one.record_type.model, one.record_id): one.entry for one in touches.order_by("pk")}


def bring_back(*, record: Record, by: Account) -> DaybookEntry:
    """Let a withdrawn record count again, with what went with it.

    Raises:
        Refused: it counts already, it belongs to what is withdrawn itself, or it is a sheet.
        ValidationError: its code, name or place is taken by now.
    """
    match record:
        case Animal() | Look() | Observation() | Statement() | LabTest() | Paper() | Photo():
            return animals.restore(record=record, by=by)
        case Clutch():
            return restore_clutch(clutch=record, by=by)
        case BreedingEvent() | ClutchStep() | Incubation():
            return breeding.restore_noted(noted=record, by=by)
        case Laboratory():
            return laboratories.restore_laboratory(laboratory=record, by=by)
        case PairWord():
            return lines.restore_word(word=record, by=by)
        case Prospect():
            return take_up(prospect=record, by=by)
        case Sale():
            return stock.restore(sale=record, by=by)
        case Sheet():
            raise Refused("A sheet that was withdrawn stays so. Make a new one of its animal.")
        case (
            Species() | Trait() | Line() | NamedLook() | Showing() | Survival() | Interval()
            | Contact()
        ):  # fmt: skip
            return register.restore(record=record, by=by)
    return _with_what_went_with_it(record, by)


def _with_what_went_with_it(record: Record, by: Account) -> DaybookEntry:
    subject = record.animal if isinstance(record, Arising) else None
    with writing(by=by, what=f"Restored: {record}", subject=subject) as book:
        book.restore(record)
        for part in register.withdrawn_together(record):
            if part != record and book.now(part).is_withdrawn:
                book.restore(part)
    return book.entry


def found(kind: str, pk: int) -> Record | None:
    """Return a withdrawn record by its kind and id, or None."""
    model = kinds().get(kind)
    rows = model._default_manager.filter(withdrawn_at__isnull=False) if model else None
    return rows.filter(pk=pk).first() if rows is not None else None
