"""How the book is written: one entry in the daybook, its records, and the numbers they move.

    with writing(by=account, what="Saw Saltgrass on F-014", subject=animal) as book:
        book.keep(Observation(...))

Everything inside is one transaction. When it ends, the standings that the records can move have
been computed anew: whoever reads the book next never sees an old number.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any, TypeVar

from django.contrib.contenttypes.models import ContentType
from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.db.models import ForeignKey, Max, Min
from django.utils import timezone

from keeper.domain import inference
from keeper.domain.book.touched import Touched, bears, touched_by, touched_by_new
from keeper.models import Account, DaybookEntry, Record, Touch

Kept = TypeVar("Kept", bound=Record)

# What writers wait for in PostgreSQL: any number that nothing else in the database uses.
_WRITERS = 0x4B6570746C696E65


class Refused(Exception):
    """Something that cannot be done as the book stands; the message says why and what to do."""


class Writing:
    """One entry being written."""

    def __init__(self, entry: DaybookEntry, by: Account | None) -> None:
        self.entry = entry
        self.by = by
        self.touched = Touched()
        self._new: list[Record] = []
        # Every record saved, by id, and whether this entry made it.
        self._saved: dict[type[Record], dict[int, bool]] = {}
        # Where each kind of record's history ended before this entry.
        self._before: dict[type[Record], int] = {}

    def keep(self, record: Kept, **many: Iterable[Any]) -> Kept:
        """Check and save a record that is new or changed; `many` sets many-to-many fields.

        Raises:
            ValidationError: the record is not in order; nothing of the entry is kept then.
        """
        if record.pk is None:
            _check(record)
            self._save(record, created=True, many=many)
            self._new.append(record)
            return record
        before = type(record)._base_manager.get(pk=record.pk)
        many = {name: rows for name, rows in many.items() if not _are(record, name, rows)}
        if not many and _values(before) == _values(record):
            return record
        _check(record)
        if many or bears(before, record):
            self.touched.add(touched_by(before))
            self._save(record, created=False, many=many)
            self.touched.add(touched_by(record))
        else:
            self._save(record, created=False)
        return record

    def withdraw(self, record: Record, *, reason: str) -> None:
        """Take a record out of the book's account; it stays readable and can be restored."""
        self.touched.add(touched_by(record))
        record.withdrawn_at = timezone.now()
        record.withdrawn_reason = reason
        self._save(record, created=False)
        self.touched.add(touched_by(record))

    def restore(self, record: Record) -> None:
        """Let a withdrawn record count again.

        Raises:
            ValidationError: its code or its place is taken by now.
        """
        record.withdrawn_at = None
        record.withdrawn_reason = ""
        _check(record)
        self._save(record, created=False)
        self.touched.add(touched_by(record))

    def close(self) -> None:
        """Note what was written, and bring the standings up to date."""
        for model, saved in self._saved.items():
            kept = model.history.filter(id__in=saved, history_id__gt=self._before[model])
            kind = ContentType.objects.get_for_model(model)
            # The first row that the entry added to a record's history: before it, it was as it
            # shall be again if the entry is undone.
            firsts = kept.order_by().values_list("id").annotate(Min("history_id"))
            Touch.objects.bulk_create(
                Touch(
                    entry=self.entry, record_type=kind, record_id=pk, history_id=first,
                    created=saved[pk],
                )
                for pk, first in firsts
            )  # fmt: skip
        touched = touched_by_new(self._new)
        if self.touched:
            touched.only_new = False
            touched.add(self.touched)
        if touched:
            inference.refresh(touched, entry=self.entry)

    def _save(
        self, record: Record, *, created: bool, many: dict[str, Iterable[Any]] | None = None
    ) -> None:
        model = type(record)
        if model not in self._before:
            last = model.history.aggregate(last=Max("history_id"))["last"]
            self._before[model] = last or 0
        record._history_user = self.by  # type: ignore[attr-defined]  # for simple-history
        # The whole reason stands in the entry; a row of history has room for a part of it.
        short = self.entry.reason[:100] or None
        record._change_reason = short  # type: ignore[attr-defined]
        record.save()
        for name, values in (many or {}).items():
            getattr(record, name).set(values)
        self._saved.setdefault(model, {}).setdefault(record.pk, created)


@contextmanager
def writing(
    *,
    by: Account | None,
    what: str,
    reason: str = "",
    subject: Record | None = None,
    undoes: DaybookEntry | None = None,
    at: datetime | None = None,
) -> Iterator[Writing]:
    """Open an entry, and bring the standings up to date when it closes.

    `subject` is the record whose page the entry belongs to; a new record becomes the subject by
    `about`. `at` is for what is written down later than it happened; now if not given. Nothing
    is kept if the block raises.
    """
    with transaction.atomic():
        _wait_for_other_writers()
        entry = DaybookEntry.objects.create(
            at=at or timezone.now(), by=by, what=what[:200], reason=reason, undoes=undoes
        )
        if subject is not None:
            about(entry, subject)
        book = Writing(entry, by)
        yield book
        book.close()


def _wait_for_other_writers() -> None:
    """Let one entry be written at a time: standings rest on all that was written before.

    SQLite's transactions begin like this by themselves; PostgreSQL is asked for a lock that ends
    with the transaction. Whoever only reads never waits.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_WRITERS])


def about(entry: DaybookEntry, subject: Record) -> None:
    """Say on which record's page an entry belongs."""
    entry.subject_type = ContentType.objects.get_for_model(subject)
    entry.subject_id = subject.pk
    entry.save(update_fields=["subject_type", "subject_id"])


def _check(record: Record) -> None:
    """Refuse what is not in order; rows that are in memory need not be looked for again."""
    known = {
        field.name
        for field in record._meta.concrete_fields
        if isinstance(field, ForeignKey) and field.is_cached(record)
    }
    try:
        record.clean_fields(exclude=known)
        record.clean()
        record.validate_unique()
        record.validate_constraints()
    except ValidationError:
        record.full_clean()  # says all that is wrong, not only the first thing
        raise


def _are(record: Record, name: str, rows: Iterable[Any]) -> bool:
    """Whether a many-to-many field holds these rows already."""
    kept = set(getattr(record, name).values_list("pk", flat=True))
    return kept == {getattr(row, "pk", row) for row in rows}


def _values(record: Record) -> dict[str, Any]:
    return {field.attname: getattr(record, field.attname) for field in record._meta.concrete_fields}
