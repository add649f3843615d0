"""The check of questions about seasons to come, against the population that they are about."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from genetics.checks import (
    check_between,
    check_count,
    check_distribution,
    check_weight,
    refuse,
    shown,
)
from genetics.keys import SEXES, KnownSex
from genetics.plans.questions import (
    ForecastQuestion,
    RoutesQuestion,
    SeasonQuestion,
    TestQuestion,
)
from genetics.population import Locus, Number, Population, Questions
from genetics.validation_goals import check_animal, check_goal, check_of_sex, check_trait
from genetics.validation_inheritance import check_genotype_lists

MOST_AT_HAND = 8
"""Most animals that a question about routes may start from."""

Loci = Mapping[str, Locus]


def validate_plans(population: Population, ask: Questions, loci: Loci) -> None:
    """Check that each question means something.

    Raises:
        MalformedCase: it does not; names the place and what would be accepted.
    """
    for position, test in enumerate(ask.test):
        _check_test(test, population, loci, f"ask.test[{position}]")
    for position, forecast in enumerate(ask.forecast):
        _check_forecast(forecast, population, loci, f"ask.forecast[{position}]")
    for position, routes in enumerate(ask.routes):
        _check_routes(routes, population, loci, f"ask.routes[{position}]")
    if ask.season is not None:
        _check_season(ask.season, population, loci, "ask.season")


def _check_test(question: TestQuestion, population: Population, loci: Loci, place: str) -> None:
    check_animal(question.animal, population, f"{place}.animal")
    check_genotype_lists(question.genotypes, population, loci, f"{place}.genotypes")
    check_trait(question.shows, population, f"{place}.shows")
    check_between(question.settle, f"{place}.settle")
    if not Fraction(1, 2) < question.settle < 1:
        refuse(
            f"{place}.settle",
            f"{shown(question.settle)} is not accepted; expected a number between 0.5 and 1, "
            "both excluded",
        )
    sex = population.sexes[population.animal_index[question.animal]]
    if sex == "unknown" and question.mates:
        refuse(
            f"{place}.animal",
            f"the sex of {shown(question.animal)} is unknown; expected an animal of recorded sex",
        )
    for index, mate in enumerate(question.mates):
        other: KnownSex = "male" if sex == "female" else "female"
        check_of_sex(mate, other, population, f"{place}.mates[{index}]")


def _check_forecast(
    question: ForecastQuestion, population: Population, loci: Loci, place: str
) -> None:
    check_goal(question.goal, population, loci, f"{place}.goal")
    for name, age in question.animals.items():
        check_animal(name, population, f"{place}.animals.{name}")
        check_count(age, f"{place}.animals.{name}")
    for size, chance in question.clutch:
        check_between(chance, f"{place}.clutch.{size}")
    check_distribution((chance for _, chance in question.clutch), f"{place}.clutch")
    check_between(question.lays, f"{place}.lays")
    check_between(question.lives, f"{place}.lives")
    if question.females is not None:
        check_between(question.females, f"{place}.females")


def _check_routes(question: RoutesQuestion, population: Population, loci: Loci, place: str) -> None:
    check_goal(question.goal, population, loci, f"{place}.goal")
    _check_once(question.animals, f"{place}.animals")
    for index, name in enumerate(question.animals):
        check_animal(name, population, f"{place}.animals[{index}]")
    if len(question.animals) > MOST_AT_HAND:
        refuse(
            f"{place}.animals",
            f"{len(question.animals)} animals; expected at most {MOST_AT_HAND}",
        )
    check_weight(question.mature, f"{place}.mature")


def _check_season(question: SeasonQuestion, population: Population, loci: Loci, place: str) -> None:
    for sex in SEXES:
        names = question.females if sex == "female" else question.males
        _check_once(names, f"{place}.{sex}s")
        for index, name in enumerate(names):
            check_of_sex(name, sex, population, f"{place}.{sex}s[{index}]")
    if question.worth is not None:
        _check_worth(question.worth, question, f"{place}.worth")
    for index, one in enumerate(question.goals or ()):
        check_goal(one.goal, population, loci, f"{place}.goals[{index}].goal")
        check_weight(one.weight, f"{place}.goals[{index}].weight")
    if question.kinship is not None:
        check_between(question.kinship, f"{place}.kinship")
    for name in ("fixed", "forbidden"):
        pairs = question.fixed if name == "fixed" else question.forbidden
        for index, (female, male) in enumerate(pairs):
            _check_listed(female, question.females, f"{place}.{name}[{index}][0]")
            _check_listed(male, question.males, f"{place}.{name}[{index}][1]")
    _check_fixed(question, f"{place}.fixed")


def _check_worth(worth: Sequence[Sequence[Number]], question: SeasonQuestion, place: str) -> None:
    if len(worth) != len(question.females):
        refuse(place, f"{len(worth)} rows; expected {len(question.females)}, a row a female")
    for index, row in enumerate(worth):
        if len(row) != len(question.males):
            refuse(
                f"{place}[{index}]",
                f"{len(row)} numbers; expected {len(question.males)}, a column a male",
            )
        for column, value in enumerate(row):
            if not _finite(value):
                refuse(
                    f"{place}[{index}][{column}]",
                    f"{shown(value)} is not accepted; expected a finite number",
                )


def _finite(value: Number) -> bool:
    try:
        return math.isfinite(float(value))
    except OverflowError:
        return False


def _check_fixed(question: SeasonQuestion, place: str) -> None:
    """Refuse pairs that are fixed against a limit."""
    forbidden = set(question.forbidden)
    for index, pair in enumerate(question.fixed):
        if pair in forbidden:
            refuse(f"{place}[{index}]", "this pair is forbidden too; expected it in one of the two")
    females = Counter(female for female, _ in question.fixed)
    for name, times in females.items():
        if times > 1:
            refuse(place, f"{shown(name)} is in {times} pairs; expected each female at most once")
    for name, times in Counter(male for _, male in question.fixed).items():
        if times > question.matings:
            refuse(
                place,
                f"{shown(name)} is in {times} pairs; expected at most {question.matings} a male",
            )
    if question.clutches is not None and len(question.fixed) > question.clutches:
        refuse(place, f"{len(question.fixed)} pairs; expected at most {question.clutches} in all")


def _check_listed(name: str, names: Sequence[str], place: str) -> None:
    if name not in names:
        refuse(place, f"{shown(name)} is not listed; expected one of those that may breed")


def _check_once(names: Iterable[str], place: str) -> None:
    for name, times in Counter(names).items():
        if times > 1:
            refuse(place, f"{shown(name)} is listed {times} times; expected each animal once")
