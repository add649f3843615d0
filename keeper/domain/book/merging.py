"""Two people change one record: what they changed apart is merged, what collides is asked.

A form writes only the fields that its user changed. They are found against the save that the form
was made from (`versions`), or, where no form says so, against the record as it was read.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Field

from keeper.domain.book.history import printed
from keeper.domain.book.refusing import Refused
from keeper.domain.book.submission import Submission
from keeper.domain.book.versions import of_parts, of_record, touches_of_parts
from keeper.models import Record


class Overtaken(Refused):
    """Others wrote meanwhile what this entry was to change; the message says who, and what."""


@dataclass(frozen=True)
class _Base:
    """What a record was when the form was made, who has saved it since, and if that was shown."""

    values: Mapping[str, Any]
    since: tuple[Any, ...] = ()
    shown: bool = False

    def by(self, column: str, value: Any) -> str:
        """Return who gave a column its value since."""
        for row in reversed(self.since):
            if getattr(row, column) == value:
                return str(row.history_user or "The program")
        return "Somebody"


def merge(record: Record, now: Record, form: Submission | None) -> None:
    """Take over into `record` what others changed since its form was made; `now` is the row kept.

    Raises:
        Overtaken: both changed the same field, to different values; nothing is kept.
    """
    read = record.as_read
    if not read:
        return
    base = _base_of(record, form) or _Base(read)
    collisions, kept = [], []
    for field in record._meta.concrete_fields:
        column = field.attname
        if field.primary_key or column not in read or column not in base.values:
            continue
        mine, theirs, before = getattr(record, column), getattr(now, column), base.values[column]
        changed_here = mine not in (read[column], before)
        if not changed_here:
            if mine != theirs:  # setting a picture opens its file, which may be gone
                setattr(record, column, theirs)
        elif theirs not in (before, mine) and not base.shown:
            collisions.append(_said(base, field, before, theirs, mine))
        if theirs != before and not changed_here and field.editable:
            kept.append(_said(base, field, before, theirs))
    if collisions:
        if form is not None:
            form.overtaken = True
        raise Overtaken(
            f"Nothing was saved: {record} was changed since you opened this. "
            f"{' '.join(collisions)} Save once more to put yours in its place."
        )
    if form is not None and base.since:
        form.kept += [f"{one} That was kept." for one in kept]


def refuse_overtaken(record: Record, form: Submission | None) -> None:
    """Refuse if something that belongs to a record was written since its form was made.

    Raises:
        Overtaken: the message names the last entry that wrote it.
    """
    held = form.versions.get(of_parts(record)) if form is not None else None
    if form is None or held is None:
        return
    newer = touches_of_parts(record).filter(pk__gt=held.base)
    last = newer.select_related("entry__by").order_by("-pk").first()
    if last is not None:
        form.overtaken = True
        raise Overtaken(
            f"Nothing was saved: {last.entry.by or 'the program'} wrote since you opened this: "
            f"“{last.entry.told}”. What is in the book now stands beside what you typed: look at "
            "both, then save once more."
        )


def _base_of(record: Record, form: Submission | None) -> _Base | None:
    """Return the save that the form was made from, or None where it names none."""
    held = form.versions.get(of_record(record)) if form is not None else None
    if held is None or not held.base:
        return None
    history = type(record).history.filter(id=record.pk, history_id__gte=held.base)
    rows = list(history.select_related("history_user").order_by("history_id"))
    if not rows or rows[0].history_id != held.base:
        return None
    columns = [field.attname for field in record._meta.concrete_fields]
    values = {name: getattr(rows[0], name) for name in columns}
    return _Base(values, tuple(rows[1:]), shown=rows[-1].history_id <= held.shown)


def _said(base: _Base, field: "Field[Any, Any]", before: Any, theirs: Any, mine: Any = None) -> str:
    who = base.by(field.attname, theirs)
    moved = f"{_printed(field, before)} to {_printed(field, theirs)}"
    yours = f"; you typed {_printed(field, mine)}" if mine is not None else ""
    return f"{who} changed {field.verbose_name} from {moved}{yours}."


def _printed(field: "Field[Any, Any]", value: Any) -> str:
    if field.is_relation and value is not None:
        target: Any = field.related_model
        return str(target._base_manager.filter(pk=value).first() or f"no. {value}")
    return printed(field, value)
