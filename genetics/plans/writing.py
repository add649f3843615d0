"""From questions about seasons to come to the JSON of `ask`; what is by default is left out."""

from __future__ import annotations

from dataclasses import MISSING, fields
from fractions import Fraction

from genetics import written
from genetics.json_values import Json, JsonObject
from genetics.plans.questions import (
    ForecastQuestion,
    RoutesQuestion,
    SeasonQuestion,
    TestQuestion,
)
from genetics.population import Goal


def test_json(question: TestQuestion) -> JsonObject:
    """One `test` question."""
    found = _stated(question)
    return found | {"genotypes": written.keys_by_locus(question.genotypes)}


def forecast_json(question: ForecastQuestion) -> JsonObject:
    """One `forecast` question."""
    found = _stated(question)
    mature = {
        sex: found.pop(f"mature_{sex}") for sex in ("female", "male") if f"mature_{sex}" in found
    }
    found["clutch"] = {str(size): written.number(chance) for size, chance in question.clutch}
    return found | ({"mature": mature} if mature else {})


def routes_json(question: RoutesQuestion) -> JsonObject:
    """One `routes` question."""
    return _stated(question)


def season_json(question: SeasonQuestion) -> JsonObject:
    """The `season` question."""
    found = _stated(question)
    if question.worth is not None:
        found["worth"] = [[written.number(value) for value in row] for row in question.worth]
    if question.goals is not None:
        found["goals"] = [
            {"goal": written.goal(one.goal), "weight": written.number(one.weight)}
            for one in question.goals
        ]
    return found


def _stated(
    question: TestQuestion | ForecastQuestion | RoutesQuestion | SeasonQuestion,
) -> JsonObject:
    """The fields that differ from their defaults, each as JSON."""
    found: JsonObject = {}
    for one in fields(question):
        value = getattr(question, one.name)
        if one.default is MISSING or value != one.default:
            found[one.name] = _plain(value)
    return found


def _plain(value: Json) -> Json:
    if isinstance(value, Goal):
        return written.goal(value)
    if isinstance(value, Fraction):
        return written.number(value)
    return [_plain(each) for each in value] if isinstance(value, tuple) else value
