"""Names what is wrong with the shape of a case, by the JSON Schema that is shipped."""

from __future__ import annotations

import json
from collections.abc import Iterable
from functools import cache

from genetics.checks import listed, nearest, shown
from genetics.errors import MalformedCase
from genetics.json_values import Json, JsonObject

Definition = str
"""A definition of the schema, or `"case"` for the whole."""


@cache
def case_schema() -> JsonObject:
    """The JSON Schema (2020-12) of case files.  Treat it as read-only."""
    from importlib.resources import files

    text = files("genetics").joinpath("schema/case.schema.json").read_text(encoding="utf-8")
    schema: JsonObject = json.loads(text)
    return schema


def shape_fault(value: object, definition: Definition, place: str) -> MalformedCase:
    """The first fault in the shape of one part of a case that is known to be misshapen."""
    error = _first_error(value, definition)
    if error is None:
        return MalformedCase(place, f"{shown(value)} is not accepted; expected JSON values only")
    within = place_of(error.absolute_path, place)
    if error.validator == "additionalProperties":
        return _unknown_field(error, within)
    expected = error.schema["description"]
    if error.validator == "required":
        missing = [name for name in error.validator_value if name not in error.instance]
        return MalformedCase(within, f"{listed(missing)} is missing; expected {expected}")
    return MalformedCase(within, f"{shown(error.instance)} is not accepted; expected {expected}")


def place_of(path: Iterable[str | int], place: str = "") -> str:
    """A path into a case as messages write it.

    >>> place_of(["animals", 3, "founder", "sg"])
    'animals[3].founder.sg'
    """
    for step in path:
        if isinstance(step, int):
            place += f"[{step}]"
        else:
            place += f".{step}" if place else str(step)
    return place


def _unknown_field(error: Json, place: str) -> MalformedCase:
    accepted = tuple(error.schema["properties"])
    unknown = next(str(name) for name in error.instance if name not in accepted)
    near = nearest(unknown, accepted)
    hint = f"the nearest accepted is {shown(near)}" if near else f"accepted: {listed(accepted, 20)}"
    return MalformedCase(place_of([unknown], place), f"no such field; {hint}")


def _first_error(value: object, definition: Definition) -> Json:
    from jsonschema import Draft202012Validator

    schema = case_schema()
    if definition != "case":
        schema = {"$ref": f"#/$defs/{definition}", "$defs": schema["$defs"]}
    return next(Draft202012Validator(schema).iter_errors(value), None)
