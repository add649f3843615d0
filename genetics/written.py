"""Values as case files write them: what `genetics.shape` reads."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from genetics.json_values import Json, JsonObject
from genetics.population import Goal, Number


def kept(**fields: Json) -> JsonObject:
    """The fields that hold anything."""
    return {name: value for name, value in fields.items() if value}


def number(value: Number) -> str | int | float:
    return str(value) if isinstance(value, Fraction) else value


def numbers(values: Mapping[str, Number]) -> JsonObject:
    return {key: number(value) for key, value in values.items()}


def by_locus(values: Mapping[str, Mapping[str, Number]]) -> JsonObject:
    return {locus: numbers(stated) for locus, stated in values.items()}


def keys_by_locus(values: Mapping[str, tuple[str, ...]]) -> dict[str, list[str]]:
    return {locus: list(keys) for locus, keys in values.items()}


def goal(asked: Goal) -> JsonObject:
    return kept(shows=dict(asked.shows), genotypes=keys_by_locus(asked.genotypes), sex=asked.sex)
