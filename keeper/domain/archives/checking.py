"""What was loaded is checked as if it had been entered: references, and each record's own rules."""

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

from django.contrib.contenttypes.models import ContentType
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection
from django.db.models import FileField, ForeignKey, Model, QuerySet

from keeper.domain.archives.manifest import damaged
from keeper.domain.archives.tables import Table, column_name, names_a_table, tables
from keeper.models import DaybookEntry, Record, Touch

# Records fetched at a time.
_AT_A_TIME = 500


def refuse_dangling() -> None:
    """Refuse rows that refer to rows which are not there.

    Raises:
        Refused: it names the first.
    """
    for table in tables():
        for field in table.columns:
            if isinstance(field, ForeignKey) and not names_a_table(field):
                _refuse_lost(table, field)
    _refuse_lost_records()
    try:
        connection.check_constraints()
    except IntegrityError as error:
        raise damaged(f"a row refers to one that is not there ({error})"[:200]) from error


def _refuse_lost(table: Table, field: "ForeignKey[Model, Model]") -> None:
    there = field.related_model._base_manager.order_by().values(field.target_field.attname)
    rows = table.model._base_manager.exclude(**{field.attname: None})
    lost = rows.exclude(**{f"{field.attname}__in": there}).order_by("pk").first()
    if lost is not None:
        raise damaged(
            f"row {lost.pk} of {table.name} refers by {column_name(field)} to row "
            f"{getattr(lost, field.attname)} of {field.related_model._meta.model_name}, "
            "which is not there"
        )


def _refuse_lost_records() -> None:
    """The same of the daybook, which names records of any table."""
    subjects = DaybookEntry.objects.exclude(subject_type=None)
    touched = Touch.objects.order_by()
    for name, rows in (
        ("daybookentry", subjects.order_by().values_list("subject_type", "subject_id")),
        ("touch", touched.values_list("record_type", "record_id")),
    ):
        for model, wanted in _by_model(rows).items():
            lost = wanted if model is None else _lost(model, "pk", wanted)
            if lost:
                raise damaged(f"{name} names a record that is not there ({min(lost)})")
    for model, wanted in _by_model(touched.values_list("record_type", "history_id")).items():
        history = model.history.model if model and issubclass(model, Record) else None
        if history is None or _lost(history, "history_id", wanted):
            raise damaged("touch names a row of a history that is not there")


def _by_model(rows: "QuerySet[Any, Any]") -> dict[type[Model] | None, set[int]]:
    found: dict[type[Model] | None, set[int]] = defaultdict(set)
    for kind, pk in rows.iterator(chunk_size=2000):
        found[ContentType.objects.get_for_id(kind).model_class()].add(pk)
    return found


def _lost(model: type[Model], key: str, wanted: set[int]) -> set[int]:
    rows = model._base_manager.order_by().values_list(key, flat=True)
    return wanted.difference(rows.iterator(chunk_size=10_000))


def faults(most: int = 20) -> list[str]:
    """Return what records that count would be refused for if they were entered now, in words.

    Who is whose ancestor, species and sexes that do not go together, texts that turn round: what
    each kind of record checks by itself. What must be there once the database has checked.
    """
    found: list[str] = []
    for table in tables():
        if issubclass(table.model, Record):
            for said in _faults_of(table.model):
                found.append(said)
                if len(found) == most:
                    return found
    return found


def _faults_of(model: type[Record]) -> Iterator[str]:
    keys = [field.name for field in model._meta.concrete_fields if isinstance(field, ForeignKey)]
    # The files themselves are put in their place last of all.
    files = [field.name for field in model._meta.concrete_fields if isinstance(field, FileField)]
    rows = model.objects.live().select_related(*keys) if keys else model.objects.live()
    for record in rows.order_by("pk").iterator(chunk_size=_AT_A_TIME):
        try:
            record.clean_fields(exclude={*keys, *files})
            record.clean()
        except ValidationError as error:
            yield f"{model._meta.verbose_name} {record.pk} ({record}): {' '.join(error.messages)}"
