"""From the JSON of `ask` to the questions about seasons to come."""

from __future__ import annotations

from fractions import Fraction

from genetics import shape
from genetics.json_values import Json
from genetics.plans.questions import (
    ForecastQuestion,
    RoutesQuestion,
    SeasonQuestion,
    TestQuestion,
    WeightedGoal,
)
from genetics.population import Number

MOST_SEASONS = 200
MOST_RUNS = 10_000_000
MOST_GENERATIONS = 3

_TEST = shape.names_of(TestQuestion)
_FORECAST = shape.names_of(ForecastQuestion) - {"mature_female", "mature_male"} | {"mature"}
_MATURE = frozenset({"female", "male"})
_ROUTES = shape.names_of(RoutesQuestion)
_WEIGHTED = shape.names_of(WeightedGoal)
_SEASON = shape.names_of(SeasonQuestion)


def test_question(raw: Json) -> TestQuestion:
    """The object of one `test` question.

    Raises:
        Misshapen: the schema has another shape.
    """
    fields = shape.object_with(raw, _TEST, *_TEST)
    return TestQuestion(
        animal=shape.name(fields["animal"]),
        genotypes=shape.keys_by_locus(fields["genotypes"]),
        mates=shape.names(fields["mates"]),
        eggs=shape.many(fields["eggs"], shape.whole),
        shows=shape.name(fields["shows"]),
        settle=shape.number(fields["settle"]),
    )


def forecast_question(raw: Json) -> ForecastQuestion:
    """The object of one `forecast` question.

    Raises:
        Misshapen: the schema has another shape.
    """
    fields = shape.object_with(raw, _FORECAST, "goal", "animals", "seasons", "clutch")
    mature = shape.object_with(fields.get("mature", {}), _MATURE)
    places = fields.get("places")
    females = fields.get("females")
    return ForecastQuestion(
        goal=shape.goal(fields["goal"]),
        animals=shape.table(fields["animals"], shape.whole),
        seasons=shape.whole(fields["seasons"], 1, MOST_SEASONS),
        clutch=_clutch(fields["clutch"]),
        wanted=shape.whole(fields.get("wanted", 1), 1),
        mature_female=shape.whole(mature.get("female", 3)),
        mature_male=shape.whole(mature.get("male", 3)),
        lays=shape.number(fields.get("lays", 1)),
        lives=shape.number(fields.get("lives", 1)),
        pairs=shape.whole(fields.get("pairs", 1)),
        matings=shape.whole(fields.get("matings", 1)),
        places=None if places is None else shape.whole(places),
        clutches=shape.whole(fields.get("clutches", 1)),
        females=None if females is None else shape.number(females),
        runs=shape.whole(fields.get("runs", 20_000), 1, MOST_RUNS),
        seed=shape.whole(fields.get("seed", 0)),
    )


def routes_question(raw: Json) -> RoutesQuestion:
    """The object of one `routes` question.

    Raises:
        Misshapen: the schema has another shape.
    """
    fields = shape.object_with(raw, _ROUTES, "goal", "animals")
    return RoutesQuestion(
        goal=shape.goal(fields["goal"]),
        animals=shape.names(fields["animals"]),
        generations=shape.whole(fields.get("generations", 2), 1, MOST_GENERATIONS),
        eggs=shape.whole(fields.get("eggs", 8)),
        mature=shape.number(fields.get("mature", 3)),
    )


def season_question(raw: Json) -> SeasonQuestion:
    """The object of the `season` question.

    Raises:
        Misshapen: the schema has another shape.
    """
    fields = shape.object_with(raw, _SEASON, "females", "males")
    shape.expect(("worth" in fields) != ("goals" in fields))
    shape.expect("goals" not in fields or "eggs" in fields)
    clutches, kinship = fields.get("clutches"), fields.get("kinship")
    return SeasonQuestion(
        females=shape.names(fields["females"]),
        males=shape.names(fields["males"]),
        worth=shape.many(fields["worth"], _worths) if "worth" in fields else None,
        goals=shape.many(fields["goals"], _weighted) if "goals" in fields else None,
        eggs=shape.whole(fields["eggs"]) if "eggs" in fields else None,
        matings=shape.whole(fields.get("matings", 1)),
        clutches=None if clutches is None else shape.whole(clutches),
        kinship=None if kinship is None else shape.number(kinship),
        fixed=shape.many(fields.get("fixed", []), shape.pair),
        forbidden=shape.many(fields.get("forbidden", []), shape.pair),
    )


def _clutch(raw: Json) -> tuple[tuple[int, Number], ...]:
    chances = shape.table(raw, shape.number)
    shape.expect(all(size.isascii() and size.isdigit() for size in chances))
    shape.expect(all(size == str(int(size)) for size in chances if len(size) < 12))
    return tuple((int(size), chance) for size, chance in chances.items())


def _worths(raw: Json) -> tuple[Number, ...]:
    return shape.many(raw, shape.number)


def _weighted(raw: Json) -> WeightedGoal:
    fields = shape.object_with(raw, _WEIGHTED, "goal")
    return WeightedGoal(
        shape.goal(fields["goal"]), shape.number(fields.get("weight", Fraction(1)))
        if "weight" in fields else Fraction(1)
    )  # fmt: skip
