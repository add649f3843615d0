"""Many new records kept at once: the same checks, rows and history as one by one, in few queries.

The records go in order of what they name: what others of them name is saved first. Each is checked
by itself, in memory; whether a code or a place is taken is for the database to say, whose
constraints are the ones that a single record is asked about. Only if it refuses are the records
kept one by one, so that the error names the record and the field.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import FileField, ForeignKey
from django.utils import timezone

from keeper.models import Account, Record

# Databases limit what one query may name.
_AT_ONCE = 2000


class NotInOrder(ValidationError):
    """One of many records is not in order.

    Attributes:
        record: that record.
    """

    def __init__(self, error: ValidationError, record: Record) -> None:
        super().__init__(error)
        self.record = record


def check(record: Record) -> None:
    """Refuse what is not in order; rows that are in memory need not be looked for again.

    Whether a code or a place is taken is for the database to say, once it is asked to save.

    Raises:
        ValidationError: all that is wrong.
    """
    try:
        record.clean_fields(exclude=_in_memory(record) | _files_as_they_are(record))
        record.clean()
    except ValidationError:
        record.full_clean()  # says all that is wrong, not only the first thing
        raise


@contextmanager
def worded(record: Record) -> Iterator[None]:
    """Save a record that was checked; say in words what the database refuses of it.

    Asking it beforehand costs more queries than all that follows.

    Raises:
        ValidationError: a constraint does not hold; nothing of the record is saved.
    """
    try:
        with transaction.atomic():
            yield
    except IntegrityError:
        record.full_clean()
        raise


def _files_as_they_are(record: Record) -> set[str]:
    """Files that were not changed: to check one opens it, and it may be gone."""
    return {
        field.name
        for field in record._meta.concrete_fields
        if isinstance(field, FileField)
        and record.as_read.get(field.attname) == getattr(record, field.attname)
        and record.pk is not None
    }


def waves(records: Sequence[Record]) -> Iterator[list[Record]]:
    """Yield new records, those of one kind together, none before what it names."""
    depth: dict[int, int] = {}
    found: dict[tuple[int, type[Record]], list[Record]] = defaultdict(list)
    for record in records:
        below = [depth[id(one)] for one in _named(record) if id(one) in depth]
        depth[id(record)] = max(below, default=-1) + 1
        found[depth[id(record)], type(record)].append(record)
    # The order of kinds within a depth is that in which they were given.
    for _, wave in sorted(found.items(), key=lambda item: item[0][0]):
        yield wave


def save_together(
    wave: Sequence[Record], *, by: Account | None, reason: str | None, alone: Callable[[Any], None]
) -> bool:
    """Check and save new records of one kind with their history; return whether that could be.

    If the database refuses, `alone` keeps each of them by itself, and should find out why.

    Raises:
        NotInOrder: a record is not in order.
    """
    model = type(wave[0])
    _fetch_named(wave)
    for record in wave:
        try:
            record.clean_fields(exclude=_in_memory(record) | _files_as_they_are(record))
            record.clean()
        except ValidationError as error:
            raise NotInOrder(_all_that_is_wrong(record) or error, record) from error
        record.fill_in()
        record._history_user = by  # type: ignore[attr-defined]  # for simple-history
        record._change_reason = reason  # type: ignore[attr-defined]
    try:
        with transaction.atomic():
            model._base_manager.bulk_create(wave)
            model.history.bulk_history_create(
                wave, default_user=by, default_change_reason=reason, default_date=timezone.now()
            )
    except IntegrityError:
        _one_by_one(wave, alone)
        return False
    return True


def withdraw_together(
    rows: Sequence[Record], *, at: datetime, why: str, by: Account | None, reason: str | None
) -> None:
    """Withdraw records of one kind that are in memory as the book has them, with their history."""
    model = type(rows[0])
    for start in range(0, len(rows), _AT_ONCE):
        some = rows[start : start + _AT_ONCE]
        for record in some:
            record.withdrawn_at, record.withdrawn_reason = at, why
        these = model._base_manager.filter(pk__in=[record.pk for record in some])
        these.update(withdrawn_at=at, withdrawn_reason=why)
        model.history.bulk_history_create(
            some, update=True, default_user=by, default_change_reason=reason,
            default_date=timezone.now(),
        )  # fmt: skip


def _one_by_one(wave: Sequence[Record], alone: Callable[[Any], None]) -> None:
    for record in wave:
        record.pk = None
        record._state.adding = True
    for record in wave:
        try:
            alone(record)
        except ValidationError as error:
            raise NotInOrder(error, record) from error


def _all_that_is_wrong(record: Record) -> ValidationError | None:
    try:
        record.full_clean()
    except ValidationError as error:
        return error
    return None


def _keys(record: Record) -> Iterator["ForeignKey[Any, Any]"]:
    for field in record._meta.concrete_fields:
        if isinstance(field, ForeignKey):
            yield field


def _in_memory(record: Record) -> set[str]:
    """Fields that lead to a row in memory."""
    return {field.name for field in _keys(record) if field.is_cached(record)}


def _named(record: Record) -> Iterator[Any]:
    """The rows in memory that a record names."""
    for field in _keys(record):
        if field.is_cached(record):
            yield field.get_cached_value(record)


def _fetch_named(wave: Sequence[Record]) -> None:
    """Let each record lead to the rows that it names: one query for each field."""
    for field in _keys(wave[0]):
        missing = defaultdict(list)
        for record in wave:
            if field.is_cached(record):
                # What was saved a moment ago has its number by now.
                setattr(record, field.name, field.get_cached_value(record))
            elif (pk := getattr(record, field.attname)) is not None:
                missing[pk].append(record)
        if missing:
            target: Any = field.related_model
            for pk, row in target._base_manager.in_bulk(list(missing)).items():
                for record in missing[pk]:
                    setattr(record, field.name, row)
