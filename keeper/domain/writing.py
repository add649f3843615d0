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
from django.db import transaction
from django.utils import timezone

from keeper.domain import inference
from keeper.domain.touched import Touched, bears, touched_by
from keeper.models import Account, DaybookEntry, Record, Touch

Kept = TypeVar("Kept", bound=Record)


class Refused(Exception):
    """Something that cannot be done as the book stands; the message says why and what to do."""


class Writing:
    """One entry being written."""

    def __init__(self, entry: DaybookEntry, by: Account | None) -> None:
        self.entry = entry
        self.by = by
        self.touched = Touched()

    def keep(self, record: Kept, **many: Iterable[Any]) -> Kept:
        """Check and save a record that is new or changed; `many` sets many-to-many fields.

        Raises:
            ValidationError: the record is not in order; nothing of the entry is kept then.
        """
        created = record.pk is None
        before = None if created else type(record)._base_manager.get(pk=record.pk)
        if before is not None:
            many = {name: rows for name, rows in many.items() if not _are(record, name, rows)}
            if not many and _values(before) == _values(record):
                return record
        record.full_clean()
        if before is None or many or bears(before, record):
            if before is not None:
                self.touched.add(touched_by(before))
            self._save(record, created=created, many=many)
            self.touched.add(touched_by(record))
        else:
            self._save(record, created=created)
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
        record.full_clean()
        self._save(record, created=False)
        self.touched.add(touched_by(record))

    def _save(
        self, record: Record, *, created: bool, many: dict[str, Iterable[Any]] | None = None
    ) -> None:
        record._history_user = self.by  # type: ignore[attr-defined]  # for simple-history
        record._change_reason = self.entry.reason or None  # type: ignore[attr-defined]
        record.save()
        history = type(record).history.filter(id=record.pk)
        # Before the lists are set: each of them adds a row of its own to the record's history.
        kept = history.values_list("history_id", flat=True).latest("history_id")
        for name, values in (many or {}).items():
            getattr(record, name).set(values)
        Touch.objects.create(
            entry=self.entry,
            record_type=ContentType.objects.get_for_model(record),
            record_id=record.pk,
            history_id=kept,
            created=created,
        )


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
        entry = DaybookEntry.objects.create(
            at=at or timezone.now(), by=by, what=what[:200], reason=reason, undoes=undoes
        )
        if subject is not None:
            about(entry, subject)
        book = Writing(entry, by)
        yield book
        if book.touched:
            inference.refresh(book.touched, entry=entry)


def about(entry: DaybookEntry, subject: Record) -> None:
    """Say on which record's page an entry belongs."""
    entry.subject_type = ContentType.objects.get_for_model(subject)
    entry.subject_id = subject.pk
    entry.save(update_fields=["subject_type", "subject_id"])


def _are(record: Record, name: str, rows: Iterable[Any]) -> bool:
    """Whether a many-to-many field holds these rows already."""
    kept = set(getattr(record, name).values_list("pk", flat=True))
    return kept == {getattr(row, "pk", row) for row in rows}


def _values(record: Record) -> dict[str, Any]:
    return {field.attname: getattr(record, field.attname) for field in record._meta.concrete_fields}
