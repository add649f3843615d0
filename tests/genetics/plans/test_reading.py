"""Questions about seasons to come are read as they are written, and refused by their place."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from genetics.casefile import check_case, read_case, write_case
from genetics.plans.questions import ForecastQuestion

CASE: dict[str, Any] = {
    "loci": [{"id": "sg", "alleles": ["+", "har"]}],
    "traits": [{"id": "Saltgrass", "shown_by": [{"sg": ["har/har"]}]}],
    "animals": [
        {"id": "F1", "sex": "female"},
        {"id": "M1", "sex": "male"},
        {"id": "X1"},
    ],
}
GOAL = {"shows": {"Saltgrass": True}, "genotypes": {"sg": ["har/har"]}, "sex": "female"}
FULL: dict[str, Any] = {
    "test": [
        {
            "animal": "F1",
            "genotypes": {"sg": ["+/har"]},
            "mates": ["M1"],
            "eggs": [0, 8],
            "shows": "Saltgrass",
            "settle": "99/100",
        }
    ],
    "forecast": [
        {"goal": GOAL, "animals": {"F1": 3}, "seasons": 2, "clutch": {"6": "1/4", "8": 0.75}},
        {
            "goal": GOAL,
            "wanted": 2,
            "animals": {"F1": 3, "X1": 0},
            "seasons": 12,
            "mature": {"male": 2},
            "clutch": {"0": 1},
            "lays": 0.85,
            "lives": "97/100",
            "pairs": 2,
            "matings": 3,
            "places": 6,
            "clutches": 2,
            "females": 0.4,
            "runs": 100,
            "seed": 7,
        },
    ],
    "routes": [{"goal": GOAL, "animals": ["F1", "M1"], "generations": 3, "eggs": 6, "mature": 2.5}],
    "season": {
        "females": ["F1"],
        "males": ["M1"],
        "goals": [{"goal": GOAL, "weight": 2}],
        "eggs": 8,
        "matings": 2,
        "clutches": 5,
        "kinship": "1/8",
        "fixed": [["F1", "M1"]],
    },
}


def test_read_of_written_is_equal() -> None:
    case = read_case(CASE | {"ask": FULL})
    written = write_case(case)
    assert written["ask"] == FULL
    assert read_case(written) == case


def test_what_is_left_out_has_its_default() -> None:
    asked = read_case(CASE | {"ask": FULL}).ask.forecast[0]
    assert asked == ForecastQuestion(asked.goal, {"F1": 3}, 2, asked.clutch)
    assert (asked.wanted, asked.mature_female, asked.mature_male) == (1, 3, 3)
    assert (asked.lays, asked.lives, asked.pairs, asked.matings) == (1, 1, 1, 1)
    assert (asked.places, asked.clutches, asked.runs, asked.seed) == (None, 1, 20_000, 0)


def changed(path: tuple[str | int, ...], value: object) -> dict[str, Any]:
    """The case with one value of its questions replaced, or taken away where it is `...`."""
    ask = copy.deepcopy(FULL)
    inner: Any = ask
    for step in path[:-1]:
        inner = inner[step]
    if value is ...:
        del inner[path[-1]]
    else:
        inner[path[-1]] = value
    return CASE | {"ask": ask}


@pytest.mark.parametrize(
    ("path", "value", "place"),
    [
        (("test", 0, "settle"), ..., "ask.test[0]"),
        (("test", 0, "settle"), 0.5, "ask.test[0].settle"),
        (("test", 0, "settle"), 1, "ask.test[0].settle"),
        (("test", 0, "mates", 0), "F1", "ask.test[0].mates[0]"),
        (("test", 0, "animal"), "X1", "ask.test[0].animal"),
        (("test", 0, "eggs", 0), -1, "ask.test[0].eggs[0]"),
        (("test", 0, "shows"), "Saltgras", "ask.test[0].shows"),
        (("test", 0, "genotypes"), {"sg": ["har/+"]}, "ask.test[0].genotypes.sg"),
        (("forecast", 0, "seasons"), 0, "ask.forecast[0].seasons"),
        (("forecast", 0, "clutch"), {"6": 0.5}, "ask.forecast[0].clutch"),
        (("forecast", 0, "clutch"), {"six": 1}, "ask.forecast[0].clutch"),
        (("forecast", 0, "clutch"), {"06": 1}, "ask.forecast[0].clutch"),
        (("forecast", 0, "clutch"), {}, "ask.forecast[0].clutch"),
        (("forecast", 0, "animals"), {"F9": 3}, "ask.forecast[0].animals.F9"),
        (("forecast", 0, "animals"), {"F1": -1}, "ask.forecast[0].animals.F1"),
        (("forecast", 1, "lays"), 1.5, "ask.forecast[1].lays"),
        (("forecast", 1, "mature"), 3, "ask.forecast[1].mature"),
        (("forecast", 1, "wanted"), 0, "ask.forecast[1].wanted"),
        (("forecast", 1, "runs"), 0, "ask.forecast[1].runs"),
        (("forecast", 0, "goal"), None, "ask.forecast[0].goal"),
        (("forecast", 0, "goal"), {"shows": {"Chalk": True}}, "ask.forecast[0].goal.shows.Chalk"),
        (("forecast", 0, "pairing"), 1, "ask.forecast[0].pairing"),
        (("routes", 0, "generations"), 4, "ask.routes[0].generations"),
        (("routes", 0, "animals"), ["F1", "F1"], "ask.routes[0].animals"),
        (("routes", 0, "mature"), -1, "ask.routes[0].mature"),
        (("season", "eggs"), ..., "ask.season"),
        (("season", "goals"), ..., "ask.season"),
        (("season", "worth"), [[1]], "ask.season"),
    ],
)
def test_fault_is_named_by_its_place(
    path: tuple[str | int, ...], value: object, place: str
) -> None:
    found = check_case(changed(path, value))
    assert found["error"] == "malformed"
    assert found["place"] == place
    assert (
        "expected" in found["message"]
        or "accepted" in found["message"]
        or ("nearest" in found["message"] or "not 1" in found["message"])
    )


def test_more_than_eight_animals_are_too_many_for_routes() -> None:
    case: dict[str, Any] = copy.deepcopy(CASE)
    case["animals"] += [{"id": f"A{i}"} for i in range(9)]
    case["ask"] = {"routes": [{"goal": GOAL, "animals": [f"A{i}" for i in range(9)]}]}
    assert check_case(case)["message"] == "ask.routes[0].animals: 9 animals; expected at most 8"
