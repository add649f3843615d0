"""Rows of a book of today, told in the tables that an earlier version had.

`rows_now` reads every table of a book; `laid_in` writes those rows by the historical models of one
migration, as far as that version knew them, apart from all that lies there already: each layer has
numbers, codes and names of its own. So one database that is walked upward through all migrations
can hold what each of them left.

A column that this version has no more must be told by `rows_now`, as `undoes_id` is. What stands
inside JSON keeps the numbers of the book of today.
"""

from collections.abc import Iterable, Iterator
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import transaction
from django.db.models import CharField, F, Field, FileField, ForeignKey, Model, UUIDField
from django.utils import timezone

APP = "keeper"
# The number of the first migration whose tables kept data.
FIRST = 2
# Keys of one layer lie between two multiples of this.
APART = 100_000
# A table's name → its rows, column → value.
Rows = dict[str, list[dict[str, Any]]]

# Of one row at the most, so that no two layers can lie in it.
ONE_ROW = frozenset({"keeper_book", "keeper_stockpage"})
# Numbers that lead to rows without saying so to the database.
_SOFT = frozenset(
    {
        *(("keeper_daybookentry", "subject_id"), ("keeper_touch", "record_id")),
        ("keeper_touch", "history_id"),
    }
)


def models_now() -> Iterator[type[Model]]:
    """Every table of the project as it is today."""
    for model in apps.get_app_config(APP).get_models(include_auto_created=True):
        if model._meta.db_table not in ONE_ROW:
            yield model


def rows_of(model: type[Model], layer: int | None = None) -> list[dict[str, Any]]:
    """The rows of a table in the order of their keys; of one layer alone if it is given."""
    found = model._base_manager.order_by("pk")
    if layer is not None and _numbered(model):
        found = found.filter(pk__gt=layer * APART, pk__lt=(layer + 1) * APART)
    elif layer is not None:
        found = found.filter(pk__startswith=f"{layer}-")
    return list(found.values(*(one.attname for one in model._meta.concrete_fields)))


def rows_now() -> Rows:
    """Every row of the book, with what older versions said in another way."""
    found = {model._meta.db_table: rows_of(model) for model in models_now()}
    _say_which_undid_which(found["keeper_daybookentry"])
    return found


def _say_which_undid_which(entries: list[dict[str, Any]]) -> None:
    """Once the later entry named the earlier, and only one."""
    first = {one["undone_by_id"]: one["id"] for one in reversed(entries)}
    for one in entries:
        one["undoes_id"] = first.get(one["id"])


def laid_in(then: Any, rows: Rows, layer: int) -> Rows:
    """Write rows by the models of then, and return what was written, as it is read back then."""
    models = [one for one in _models_then(then) if one._meta.db_table in rows]
    with transaction.atomic():
        for model in models:
            model._base_manager.bulk_create(
                [model(**_told(model, row, layer)) for row in rows[model._meta.db_table]]
            )
    return {model._meta.db_table: rows_of(model, layer) for model in models}


def _models_then(then: Any) -> list[type[Model]]:
    return [
        model
        for model in then.get_models(include_auto_created=True)
        if model._meta.app_label == APP and model._meta.db_table not in ONE_ROW
    ]


def _told(model: type[Model], row: dict[str, Any], layer: int) -> dict[str, Any]:
    """A row in the words of then."""
    table, alone = model._meta.db_table, _alone(model)
    return {
        field.attname: _value(table, field, row, layer, alone)
        for field in model._meta.concrete_fields
    }


def _value(
    table: str, field: "Field[Any, Any]", row: dict[str, Any], layer: int, alone: frozenset[str]
) -> Any:
    name = field.attname
    value = row[name]
    if table == "keeper_baserate" and name == "withdrawn_at":
        return timezone.now()  # a book has one rate of a kind that counts
    if table == "keeper_signingkey" and name in ("ended_as", "ended_at"):
        return "changed" if name == "ended_as" else timezone.now()  # of a book one key signs
    if value is None:
        return None
    if (table, name) in _SOFT or _is_key(field):
        return _key(value, layer)
    may_be_empty = field.blank and value == ""
    if field.choices and value not in dict(field.flatchoices) and not may_be_empty:
        value = field.default if field.has_default() else field.flatchoices[0][0]
    if table == "keeper_account" and name == "role" and value == "owner" and layer != FIRST:
        return "helper"  # a book has one owner
    if isinstance(field, UUIDField):
        return UUID(int=value.int ^ layer << 64)
    if field.unique or field.name in alone:
        return _of_layer(field, value, layer)
    return value


def _is_key(field: "Field[Any, Any]") -> bool:
    if isinstance(field, ForeignKey):
        return field.related_model._meta.app_label == APP
    # A row of a history keeps the key of its record as a plain number.
    return field.primary_key or field.attname == "id"


def _key(value: Any, layer: int) -> Any:
    return value + layer * APART if isinstance(value, int) else f"{layer}-{value}"


def _alone(model: type[Model]) -> frozenset[str]:
    """The columns of which no two rows may have the same value, beside those that lead to rows."""
    return frozenset(
        name
        for one in model._meta.constraints
        for name in getattr(one, "fields", ()) or _named_in(getattr(one, "expressions", ()))
    ) - {one.name for one in model._meta.concrete_fields if isinstance(one, ForeignKey)}


def _named_in(expressions: Iterable[Any]) -> Iterator[str]:
    for one in expressions:
        if isinstance(one, F):
            yield str(one.name)  # type: ignore[attr-defined]
        else:
            yield from _named_in(one.get_source_expressions())


def _of_layer(field: "Field[Any, Any]", value: Any, layer: int) -> Any:
    """A value that no other layer has."""
    if isinstance(field, CharField) and not field.choices and not isinstance(field, FileField):
        return f"{layer:02}{value}"[: field.max_length]
    return value + layer * APART if field.get_internal_type() == "PositiveIntegerField" else value


def _numbered(model: type[Model]) -> bool:
    return isinstance(model._meta.pk, Field) and not isinstance(model._meta.pk, CharField)
