"""One value of a row as JSON has it, exactly, and back with every check that needs no other row."""

import base64
import datetime as dt
import math
from collections.abc import Callable
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Any
from uuid import UUID

from django.contrib.contenttypes.models import ContentType
from django.db import connection, models

from keeper.domain.archives.tables import APP, by_name, names_a_table
from keeper.models import ChanceField

Json = Any  # what JSON may hold


class Unfit(Exception):
    """A value that its column cannot hold; the message says what was expected."""


def kind_of(field: "models.Field[Any, Any]") -> str:
    """The type of a column in words.

    Raises:
        TypeError: no archive can hold such a column yet.
    """
    return _kind(field)[0]


def to_json(field: "models.Field[Any, Any]", value: Any) -> Json:
    """Return a value of a row as it stands in an archive."""
    return None if value is None else _kind(field)[1](value)


def from_json(field: "models.Field[Any, Any]", value: Json) -> Any:
    """Return what a row holds for a value of an archive.

    Raises:
        Unfit: the column cannot hold it.
    """
    if value is None:
        if not field.null:
            raise Unfit("something, and it is empty")
        return None
    try:
        read = _kind(field)[2](value)
    except (TypeError, ValueError, ArithmeticError, InvalidOperation) as error:
        raise Unfit(kind_of(field)) from error
    _refuse_beyond(field, read)
    return read


def _refuse_beyond(field: "models.Field[Any, Any]", value: Any) -> None:
    """Refuse what is of the right kind and too long, too large or none of the choices."""
    if isinstance(value, str) and field.max_length and len(value) > field.max_length:
        raise Unfit(f"at most {field.max_length} letters")
    if type(value) is int:
        least, most = connection.ops.integer_field_range(_stored_as(field))
        if not least <= value <= most:
            raise Unfit(f"a number from {least} to {most}")
    # A history may hold what was a choice once.
    if field.choices and not _is_history(field) and not (value == "" and field.blank):
        allowed = {choice for choice, _ in field.flatchoices}
        if value not in allowed:
            raise Unfit("one of the choices")


def _stored_as(field: "models.Field[Any, Any]") -> str:
    while isinstance(field, models.ForeignKey):
        field = field.target_field
    return field.get_internal_type()


def _is_history(field: "models.Field[Any, Any]") -> bool:
    return hasattr(field.model, "instance_type")


_Codec = tuple[str, Callable[[Any], Json], Callable[[Json], Any]]


def _kind(field: "models.Field[Any, Any]") -> _Codec:
    if names_a_table(field):
        return _TABLE
    if isinstance(field, models.ForeignKey):
        return _kind(field.target_field)
    for kind, codec in _KINDS:
        if isinstance(field, kind):
            return codec
    raise TypeError(f"{field}: say in keeper/domain/archives/values.py how JSON holds it")


def _whole(value: Json) -> int:
    if type(value) is not int:
        raise TypeError
    return value


def _yes_or_no(value: Json) -> bool:
    if type(value) is not bool:
        raise TypeError
    return value


def _number(value: Json) -> float:
    if type(value) not in (int, float) or not math.isfinite(value):
        raise TypeError
    return float(value)


def _text(value: Json) -> str:
    if type(value) is not str or "\0" in value:
        raise TypeError
    value.encode()  # half a letter is none
    return value


def _day(value: Json) -> dt.date:
    return dt.date.fromisoformat(_text(value))


def _moment(value: Json) -> dt.datetime:
    read = dt.datetime.fromisoformat(_text(value))
    if read.tzinfo is None:
        raise ValueError
    return read.astimezone(dt.UTC)


def _anything(value: Json) -> Json:
    """Any JSON; a database holds no empty letter and no half one in it."""
    if isinstance(value, str):
        _text(value)
    elif isinstance(value, list):
        for one in value:
            _anything(one)
    elif isinstance(value, dict):
        for key, one in value.items():
            _text(key)
            _anything(one)
    return value


def _chance(value: Json) -> Fraction:
    read = Fraction(_text(value))
    if not 0 <= read <= 1 or len(str(read)) > 40:
        raise ValueError
    return read


def _table(value: Json) -> int:
    app, _, model = _text(value).partition(".")
    if app != APP or model not in by_name():
        raise ValueError
    return int(ContentType.objects.get_for_model(by_name()[model].model).pk)


def _table_name(pk: int) -> str:
    found = ContentType.objects.get_for_id(pk)
    return f"{found.app_label}.{found.model}"


def _same(value: Any) -> Any:
    return value


_TABLE: _Codec = ("the name of a table, such as keeper.animal", _table_name, _table)
_KINDS: tuple[tuple[type[Any], _Codec], ...] = (
    (ChanceField, ("a chance from 0 to 1 as a fraction, such as 2/3", str, _chance)),
    (models.BooleanField, ("true or false", _same, _yes_or_no)),
    (models.IntegerField, ("a whole number", _same, _whole)),
    (models.FloatField, ("a number", _same, _number)),
    (models.DecimalField, ("a decimal number, in quotes", str, lambda one: Decimal(_text(one)))),
    (
        models.DateTimeField,
        (
            "a day and time of day in UTC, ISO 8601",
            lambda one: one.astimezone(dt.UTC).isoformat(),
            _moment,
        ),
    ),
    (models.DateField, ("a day, ISO 8601", lambda one: one.isoformat(), _day)),
    (models.UUIDField, ("an identity (UUID)", str, lambda one: UUID(_text(one)))),
    (models.JSONField, ("JSON", _same, _anything)),
    (
        models.BinaryField,
        (
            "bytes in Base64",
            lambda one: base64.b64encode(bytes(one)).decode("ascii"),
            lambda one: base64.b64decode(_text(one), validate=True),
        ),
    ),
    (models.FileField, ("the name of a file under pictures/, or nothing", str, _text)),
    (models.CharField, ("text", _same, _text)),
    (models.TextField, ("text", _same, _text)),
)
