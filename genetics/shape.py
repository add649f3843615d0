"""Values of a case file by the shape that the schema states.

Each function here takes a value as JSON gives it and returns what it says; a value of another shape
is `Misshapen`, whose fault the schema then names (`genetics.case_faults`).
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from fractions import Fraction
from typing import TypeVar

from genetics.checks import MOST_HATCHLINGS
from genetics.json_values import Json, JsonObject
from genetics.population import Goal, Number

T = TypeVar("T")

_FRACTION = re.compile(r"[0-9]+(/0*[1-9][0-9]*)?")
_LONGEST_FRACTION = 100


def names_of(record: type[Json]) -> frozenset[str]:
    """The fields of a record, which are those of the object that states it."""
    return frozenset(inspect.get_annotations(record))


_GOAL = names_of(Goal)


class Misshapen(Exception):
    """A value is not of the shape that the schema states."""


def expect(holds: bool) -> None:
    if not holds:
        raise Misshapen


def object_with(raw: Json, accepted: frozenset[str], *required: str) -> JsonObject:
    if not isinstance(raw, dict) or not raw.keys() <= accepted:
        raise Misshapen
    expect(all(field in raw for field in required))
    return raw


def one_of(fields: JsonObject, field: str, accepted: tuple[Json, ...]) -> Json:
    """The value of a field, one of those accepted; the first where the field is left out."""
    value = fields.get(field, accepted[0])
    # `True == 1` in Python, but true is not 1 in JSON.
    if isinstance(value, bool) or value not in accepted:
        raise Misshapen
    return value


def name(raw: Json) -> str:
    if not isinstance(raw, str) or not raw:
        raise Misshapen
    return raw


def text(raw: Json) -> str:
    if not isinstance(raw, str):
        raise Misshapen
    return raw


def name_or_none(raw: Json) -> str | None:
    return None if raw is None else name(raw)


def boolean(raw: Json) -> bool:
    if not isinstance(raw, bool):
        raise Misshapen
    return raw


def number(raw: Json) -> Number:
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        return raw
    if isinstance(raw, str) and len(raw) <= _LONGEST_FRACTION and _FRACTION.fullmatch(raw):
        return Fraction(raw)
    raise Misshapen


def share(raw: Json) -> Number:
    return raw if isinstance(raw, Fraction) else number(raw)


def whole(raw: Json, least: int = 0, most: int = MOST_HATCHLINGS) -> int:
    """A whole number within bounds; `8.0` is one too, as in JSON Schema."""
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        raise Misshapen
    if not least <= raw <= most or raw != int(raw):
        raise Misshapen
    return int(raw)


def many(raw: Json, read: Callable[[Json], T], least: int = 0) -> tuple[T, ...]:
    if not isinstance(raw, list) or len(raw) < least:
        raise Misshapen
    return tuple(map(read, raw))


def pair(raw: Json) -> tuple[str, str]:
    found = many(raw, name)
    if len(found) != 2:
        raise Misshapen
    return found[0], found[1]


def names(raw: Json) -> tuple[str, ...]:
    return many(raw, name)


def table(raw: Json, read: Callable[[Json], T]) -> dict[str, T]:
    if not isinstance(raw, dict):
        raise Misshapen
    return {text(key): read(value) for key, value in raw.items()}


def numbers(raw: Json) -> dict[str, Number]:
    return table(raw, number)


def by_locus(raw: Json) -> dict[str, dict[str, Number]]:
    return table(raw, numbers)


def keys(raw: Json) -> tuple[str, ...]:
    return (raw,) if isinstance(raw, str) else many(raw, text)


def keys_by_locus(raw: Json) -> dict[str, tuple[str, ...]]:
    return table(raw, keys)


def goal_or_none(raw: Json) -> Goal | None:
    return None if raw is None else goal(raw)


def goal(raw: Json) -> Goal:
    fields = object_with(raw, _GOAL)
    return Goal(
        shows=table(fields.get("shows", {}), boolean),
        genotypes=keys_by_locus(fields.get("genotypes", {})),
        sex=one_of(fields, "sex", (None, "female", "male")),
    )
