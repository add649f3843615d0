"""From the bytes of a case file to Python values, with every fault of the text named."""

from __future__ import annotations

import json
from typing import NoReturn

from genetics.case_faults import place_of
from genetics.checks import refuse, shown
from genetics.json_values import Json, JsonObject


class _Twice(JsonObject):
    """An object of which a field was given twice."""

    field: str = ""


def parse_text(raw: bytes) -> Json:
    """The value that JSON text in UTF-8 (with or without a byte order mark) holds.

    Raises:
        MalformedCase: the text is not UTF-8 or not JSON, holds NaN or Infinity, gives a field of
            an object twice, or is nested too deeply.
    """
    repeated: list[_Twice] = []

    def build(pairs: list[tuple[str, Json]]) -> JsonObject:
        fields = dict(pairs)
        if len(fields) == len(pairs):
            return fields
        twice = _Twice(fields)
        names = [name for name, _ in pairs]
        twice.field = next(name for at, name in enumerate(names) if name in names[:at])
        repeated.append(twice)
        return twice

    try:
        value = json.loads(
            raw.decode("utf-8-sig"),
            object_pairs_hook=build,
            parse_constant=_refuse_constant,
        )
    except UnicodeDecodeError as error:
        refuse(
            "",
            f"byte {error.start} (0x{raw[error.start]:02x}) is not UTF-8; expected JSON in UTF-8",
        )
    except json.JSONDecodeError as error:
        refuse("", f"not JSON: {error.msg} at line {error.lineno}, column {error.colno}")
    except RecursionError:
        refuse(
            "",
            "nested too deeply; expected a case, which needs no more than eight levels",
        )
    except ValueError as error:
        # Python limits the digits of a whole number that it reads.
        if "digits" not in str(error):
            raise
        refuse(
            "",
            "a whole number has thousands of digits; expected numbers of ordinary size",
        )
    if repeated:
        _refuse_repeated(value, repeated[-1])
    return value


def _refuse_constant(name: str) -> NoReturn:
    refuse("", f"{name} is not accepted; expected JSON numbers, or fractions in strings")


def _refuse_repeated(value: Json, twice: _Twice) -> NoReturn:
    """Refuse the field that was given twice, at its place."""
    waiting: list[tuple[Json, str]] = [(value, "")]
    place = ""
    while waiting:
        each, where = waiting.pop()
        if each is twice:
            place = where
            break
        steps = each.items() if isinstance(each, dict) else enumerate(each)
        waiting += [
            (below, place_of([step], where))
            for step, below in steps
            if isinstance(below, dict | list)
        ]
    refuse(
        place_of([twice.field], place),
        f"{shown(twice.field)} is given twice; expected each field of an object once",
    )
