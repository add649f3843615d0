"""The history of records, read from the rows that each of their saves left behind."""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from itertools import zip_longest
from typing import Any

from django.db.models import Field, Model
from django.utils.formats import date_format

from keeper.discretion import NOT_TOLD, is_hidden, without_names
from keeper.models import Account, Record, Touch

# Told by the kind of the revision or by its title, following from another field, or about a file.
_UNTOLD = {
    *("id", "identity", "withdrawn_at", "withdrawn_reason", "animal"),
    *("image", "width", "height"),
}
_NOTHING = "–"


@dataclass(frozen=True)
class FieldChange:
    """One field of a record before and after a save, as a page prints it."""

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class Revision:
    """One save of a record.

    Attributes:
        title: which record, in words.
        kind: entered, changed, withdrawn or restored.
        at, by: when and by whom: of what was written down later, the day that its entry is about.
        reason: why, if it was said.
        fields: what changed; for a new record what was filled in.
    """

    title: str
    kind: str
    at: datetime
    by: Account | None
    reason: str
    fields: tuple[FieldChange, ...]


def changes_of(record: Record) -> list[Revision]:
    """Return all saves of one record, newest first."""
    return history_of([record])


def history_of(records: Iterable[Record]) -> list[Revision]:
    """Return all saves of several records, newest first; the queries do not grow with them."""
    by_model: dict[type[Record], list[Record]] = {}
    for record in records:
        by_model.setdefault(type(record), []).append(record)
    found = [revision for model, rows in by_model.items() for revision in _of_model(model, rows)]
    return sorted(found, key=lambda revision: revision.at, reverse=True)


def _of_model(model: Any, records: list[Record]) -> list[Revision]:
    titles = {record.pk: str(record) for record in records}
    many: list[str] = list(model._history_m2m_fields)
    rows = list(
        model.history.filter(id__in=titles)
        .select_related("history_user")
        .order_by("id", "history_id")
    )
    told = _Told(model, many, rows)
    revisions: list[Revision] = []
    before: Any = None
    for row, at in _by_entry(model, rows):
        earlier = before if before is not None and before.id == row.id else None
        revisions.append(_revision(titles[row.id], earlier, row, at, told))
        before = row
    return revisions


def _by_entry(model: type[Model], rows: Sequence[Any]) -> Iterator[tuple[Any, datetime]]:
    """Yield the last row that each entry left of each record, and when the entry was.

    An entry may save a record in several steps: its fields, then a list that it holds. The entry's
    touch names the first of these rows; the next entry's, the first that is not of it.
    """
    firsts: dict[int, list[int]] = {}
    when: dict[int, list[datetime]] = {}
    touches = Touch.objects.filter(
        record_type__app_label=model._meta.app_label,
        record_type__model=model._meta.model_name,
        record_id__in={row.id for row in rows},
    )
    columns = ("record_id", "history_id", "entry__at")
    for record, first, at in touches.order_by("history_id").values_list(*columns):
        firsts.setdefault(record, []).append(first)
        when.setdefault(record, []).append(at)
    for row, following in zip_longest(rows, rows[1:]):
        last_of_record = following is None or following.id != row.id
        if last_of_record or _entry_of(firsts, row) != _entry_of(firsts, following):
            number = _entry_of(firsts, row)
            yield row, when[row.id][number - 1] if number > 0 else row.history_date


def _entry_of(firsts: Mapping[int, Sequence[int]], row: Any) -> int:
    """The number of the entry that left a row; each row that none left is one by itself."""
    number = bisect_right(firsts.get(row.id, ()), row.history_id)
    return number or -int(row.history_id)


def _revision(title: str, earlier: Any, row: Any, at: datetime, told: "_Told") -> Revision:
    return Revision(
        title=title,
        kind=_kind(earlier, row),
        at=at,
        by=row.history_user,
        reason=without_names(row.history_change_reason or row.withdrawn_reason or ""),
        fields=tuple(told.changes(earlier, row)),
    )


def _kind(earlier: Any, row: Any) -> str:
    if earlier is None:
        return "entered"
    if row.withdrawn_at and not earlier.withdrawn_at:
        return "withdrawn"
    if earlier.withdrawn_at and not row.withdrawn_at:
        return "restored"
    return "changed"


class _Told:
    """How the fields of one model are printed, with the names of what they point at."""

    def __init__(self, model: type[Model], many: list[str], rows: Sequence[Any]) -> None:
        self.many, self.kind = many, str(model._meta.model_name)
        self.kept = {name: self._kept(model, name, rows) for name in many}
        self.fields: list[Any] = [
            field for field in model._meta.concrete_fields if field.name not in _UNTOLD
        ]
        self.labels = {name: str(model._meta.get_field(name).verbose_name) for name in many}  # type: ignore[union-attr]
        self.names = self._names(model, rows)

    @staticmethod
    def _kept(model: type[Model], name: str, rows: Sequence[Any]) -> dict[int, list[int]]:
        """What a list held at each save, by the save's id: one query for all of them."""
        field: Any = model._meta.get_field(name)
        kept: dict[int, list[int]] = {row.history_id: [] for row in rows}
        if rows:
            listed = getattr(rows[0], name).model.objects.filter(history__in=kept)
            target = f"{field.m2m_reverse_field_name()}_id"
            for save, one in listed.values_list("history_id", target):
                kept[save].append(one)
        return kept

    def _names(self, model: type[Model], rows: Sequence[Any]) -> dict[Any, dict[int, str]]:
        """Names of every record that some row points at: one query a kind of record."""
        wanted: dict[Any, set[int]] = {}
        for field in self.fields:
            if field.is_relation:
                ids = {getattr(row, field.attname) for row in rows} - {None}
                wanted.setdefault(field.related_model, set()).update(ids)
        for name in self.many:
            kept = {one for row in rows for one in self._ids(row, name)}
            wanted.setdefault(model._meta.get_field(name).related_model, set()).update(kept)
        return {
            kind: {pk: str(one) for pk, one in self._bulk(kind, ids).items()}
            for kind, ids in wanted.items()
        }

    @staticmethod
    def _bulk(kind: Any, ids: set[int]) -> dict[int, Model]:
        near = [f.name for f in kind._meta.concrete_fields if f.is_relation]
        found: dict[int, Model] = kind._base_manager.select_related(*near).in_bulk(ids)
        return found

    def _ids(self, row: Any, name: str) -> list[int]:
        return self.kept[name][row.history_id]

    def changes(self, earlier: Any, row: Any) -> Iterable[FieldChange]:
        """Yield each field that differs; of a new record each one that is filled in."""
        for field in self.fields:
            if field.name == "hatched_year" and getattr(row, "hatched_on", None) is not None:
                continue  # it follows from the day
            old = self._print(field, earlier) if earlier is not None else _NOTHING
            new = self._print(field, row)
            if old != new:
                if is_hidden(self.kind, field.name):
                    old, new = (one if one == _NOTHING else NOT_TOLD for one in (old, new))
                yield FieldChange(str(field.verbose_name), old, new)
        for name in self.many:
            old = self._print_many(name, earlier) if earlier is not None else _NOTHING
            new = self._print_many(name, row)
            if old != new:
                yield FieldChange(self.labels[name], old, new)

    def _print(self, field: Any, row: Any) -> str:
        value = getattr(row, field.attname)
        if field.is_relation and value is not None:
            return self.names[field.related_model].get(value, f"no. {value}")
        return printed(field, value)

    def _print_many(self, name: str, row: Any) -> str:
        kind: Any = row.instance_type._meta.get_field(name).related_model
        names = sorted(self.names[kind].get(pk, f"no. {pk}") for pk in self._ids(row, name))
        return ", ".join(names) or _NOTHING


def printed(field: "Field[Any, Any]", value: Any) -> str:
    """Return a value as a reader wants it: words for choices, days, chances, yes and no."""
    if value is None or value == "":
        return _NOTHING
    if field.choices:
        return str(dict(field.flatchoices).get(value, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return date_format(value, "j M Y, H:i")
    if isinstance(value, date):
        return date_format(value, "j M Y")
    if isinstance(value, Fraction):
        whole = value * 100
        return f"{whole} %" if whole.denominator == 1 else str(value)
    return str(value)
