"""The contract's answers to questions about seasons to come, as plain Python values."""

from __future__ import annotations

from genetics.json_values import JsonObject
from genetics.plans.forecast import forecast
from genetics.plans.matings import mating_answers
from genetics.plans.routes import routes_answers
from genetics.plans.season import season
from genetics.population import Questions
from genetics.solving import Solved


def plan_answers(solved: Solved, ask: Questions) -> JsonObject:
    """The answers of each kind that was asked.

    Raises:
        BeyondExact: a question is too large to answer.
    """
    found: JsonObject = {}
    if ask.test:
        found["test"] = [mating_answers(solved, question) for question in ask.test]
    if ask.forecast:
        found["forecast"] = [forecast(solved, question).as_json() for question in ask.forecast]
    if ask.routes:
        found["routes"] = [routes_answers(solved, question) for question in ask.routes]
    if ask.season is not None:
        found["season"] = season(solved, ask.season).as_json()
    return found
