"""The pairings of a season: against every plan there is, by hand, and on a book's own goals."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest

from genetics.casefile import answer_case
from tests.genetics.plans.twin_season import best, plans, worth_of


def book(females: list[str], males: list[str]) -> dict[str, Any]:
    """A case of these animals, all unrelated."""
    return {
        "loci": [{"id": "sg", "alleles": ["+", "har"]}],
        "animals": [
            *({"id": name, "sex": "female"} for name in females),
            *({"id": name, "sex": "male"} for name in males),
        ],
    }


def drawn(random: Random) -> dict[str, Any]:
    """A question of up to five females and four males; some pairs fixed, forbidden, no good."""
    females = [f"F{i}" for i in range(random.randint(1, 5))]
    males = [f"M{i}" for i in range(random.randint(1, 4))]
    # Few different values, so that ties are common.
    values = [-1.0, 0.0, 0.25, 0.5, 1.0] if random.random() < 0.5 else None
    question: dict[str, Any] = {
        "females": females,
        "males": males,
        "worth": [
            [random.choice(values) if values else random.uniform(-0.5, 2) for _ in males]
            for _ in females
        ],
        "matings": random.randint(1, 3),
    }
    if random.random() < 0.5:
        question["clutches"] = random.randint(1, 5)
    pairs = [[female, male] for female in females for male in males]
    random.shuffle(pairs)
    if random.random() < 0.4:
        question["fixed"] = [pairs[0]]
    question["forbidden"] = pairs[1 : random.randint(1, 3)]
    return question


@pytest.mark.parametrize("seed", range(300))
def test_no_plan_is_worth_more(seed: int) -> None:
    question = drawn(Random(seed))
    found = answer_case(
        book(question["females"], question["males"]) | {"ask": {"season": question}}
    )
    season = found["season"]
    worth = worth_of(question)
    chosen = {(pair["female"], pair["male"]) for pair in season["pairs"]}
    assert chosen in set(plans(question, {}))
    assert season["worth"] == pytest.approx(best(question, {}), abs=1e-9)
    assert season["worth"] == pytest.approx(sum(worth[pair] for pair in chosen), abs=1e-9)
    assert season["gap"] == 0
    for pair in season["pairs"]:
        own = (pair["female"], pair["male"])
        assert pair["worth"] == worth[own]
        if list(own) in question.get("fixed", []):
            assert pair["next"] is None
        else:
            without = question | {"forbidden": [*question["forbidden"], list(own)]}
            assert pair["next"] == pytest.approx(best(without, {}), abs=1e-9)


def test_by_hand() -> None:
    # One male for both would be 3.1 + 0.4; each with her own 3.1 + 0.9 or 1.0 + 0.4.
    question = {"females": ["F1", "F2"], "males": ["M1", "M2"], "worth": [[3.1, 1.0], [0.4, 0.9]]}
    found = answer_case(book(["F1", "F2"], ["M1", "M2"]) | {"ask": {"season": question}})["season"]
    assert found["worth"] == pytest.approx(4.0)
    assert [(one["female"], one["male"]) for one in found["pairs"]] == [("F1", "M1"), ("F2", "M2")]
    # Without F1 × M1: F1 × M2 and F2 × M1, 1.4. Without F2 × M2: F1 × M1 alone, 3.1.
    assert [one["next"] for one in found["pairs"]] == pytest.approx([1.4, 3.1])


def test_too_near_of_kin_are_not_bred_unless_fixed() -> None:
    case: dict[str, Any] = book(["F1"], ["M1"])
    case["animals"] += [
        {"id": "K1", "sex": "female", "dam": "F1", "sire": "M1"},
        {"id": "K2", "sex": "male", "dam": "F1", "sire": "M1"},
    ]
    # Full brother and sister of unrelated parents: 1/4.
    question = {"females": ["K1"], "males": ["K2"], "worth": [[1]], "kinship": 0.125}
    assert answer_case(case | {"ask": {"season": question}})["season"]["pairs"] == []
    allowed = question | {"kinship": "1/4"}
    assert len(answer_case(case | {"ask": {"season": allowed}})["season"]["pairs"]) == 1
    fixed = question | {"fixed": [["K1", "K2"]], "worth": [[-1]]}
    season = answer_case(case | {"ask": {"season": fixed}})["season"]
    assert season["worth"] == -1
    assert season["pairs"][0]["next"] is None


def test_worth_of_goals_has_parents_uncertain_together() -> None:
    # Two 2/3 hets: 4/9 that a pair can show it, then 1 - (3/4)^8; two goals with weights 2 and 1.
    het = {"sg": {"+/+": "1/3", "+/har": "2/3"}}
    case: dict[str, Any] = book([], [])
    case["traits"] = [{"id": "Saltgrass", "shown_by": [{"sg": ["har/har"]}]}]
    case["animals"] = [
        {"id": "F1", "sex": "female", "founder": het},
        {"id": "M1", "sex": "male", "founder": het},
    ]
    goals = [
        {"goal": {"shows": {"Saltgrass": True}}, "weight": 2},
        {"goal": {"shows": {"Saltgrass": True}, "sex": "female"}},
    ]
    question = {"females": ["F1"], "males": ["M1"], "goals": goals, "eggs": 8}
    found = answer_case(case | {"ask": {"season": question}})["season"]
    either, female = 4 / 9 * (1 - 0.75**8), 4 / 9 * (1 - 0.875**8)
    assert found["worth"] == pytest.approx(2 * either + female, abs=1e-12)
    assert found["pairs"][0]["next"] == pytest.approx(0, abs=1e-12)


def test_nobody_to_breed() -> None:
    question: dict[str, Any] = {"females": [], "males": ["M1"], "worth": []}
    found = answer_case(book([], ["M1"]) | {"ask": {"season": question}})["season"]
    assert found == {"pairs": [], "worth": 0, "gap": 0}


@pytest.mark.parametrize(
    ("change", "place", "words"),
    [
        ({"worth": [[1]]}, "ask.season.worth", "1 rows; expected 2, a row a female"),
        ({"worth": [[1], [1, 2]]}, "ask.season.worth[1]", "expected 1, a column a male"),
        ({"females": ["F1", "F1"]}, "ask.season.females", "listed 2 times"),
        ({"females": ["F1", "M1"]}, "ask.season.females[1]", 'the sex of "M1" is male'),
        ({"goals": []}, "ask.season", "either worth, or goals and eggs"),
        ({"worth": None}, "ask.season.worth", "expected a list of rows of numbers"),
        ({"kinship": 2}, "ask.season.kinship", "expected a number from 0 to 1"),
        ({"fixed": [["F1", "M1"], ["F2", "M1"]]}, "ask.season.fixed", "at most 1 a male"),
        (
            {"fixed": [["F1", "M1"], ["F1", "M1"]], "matings": 3},
            "ask.season.fixed",
            "each female at most once",
        ),
        ({"fixed": [["F1", "M1"]], "clutches": 0}, "ask.season.fixed", "at most 0 in all"),
        (
            {"fixed": [["F1", "M1"]], "forbidden": [["F1", "M1"]]},
            "ask.season.fixed[0]",
            "forbidden too",
        ),
        ({"forbidden": [["F3", "M1"]]}, "ask.season.forbidden[0][0]", '"F3" is not listed'),
        ({"matings": -1}, "ask.season.matings", "a whole number from 0"),
    ],
)
def test_what_cannot_be_is_refused(change: dict[str, Any], place: str, words: str) -> None:
    question = {"females": ["F1", "F2"], "males": ["M1"], "worth": [[1], [2]]} | change
    found = answer_case(book(["F1", "F2"], ["M1"]) | {"ask": {"season": question}})
    assert found["error"] == "malformed"
    assert found["place"] == place
    assert words in found["message"]
