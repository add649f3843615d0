"""Whole projects, as keepers know them.

Ages, clutches and the customary eight to ten years are common practice, no source.  What comes out
is compared with the custom, never fitted to it.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.genetics.plans.forecasts import book, chances, founder, told

YEARS: dict[str, Any] = {"seasons": 14, "clutch": {"8": 1}, "runs": 20_000}


def visuals(genes: str) -> list[dict[str, Any]]:
    """A female of the first gene and a male of each other, normal elsewhere."""
    return [
        founder(
            gene.upper(), "male" if number else "female",
            **{other: f"{gene}/{gene}" if other == gene else "+/+" for other in genes},
        )
        for number, gene in enumerate(genes)
    ]  # fmt: skip


def project(genes: str, age: int = 1, **more: Any) -> list[float]:
    animals = visuals(genes)
    goal = {"shows": {g.upper(): True for g in genes}}
    ages = {one["id"]: age for one in animals}
    return chances(told(book(*animals, genes=genes), goal=goal, animals=ages, **{**YEARS, **more}))


def first(reached: list[float], share: float) -> int:
    return next(year for year, p in enumerate(reached, 1) if p >= share)


def test_two_recessives_from_hatchlings_of_this_year() -> None:
    # Founders of age 1 breed at 3, their double hets in year 6: 1 - (15/16)^8 = 0.403 of them at
    # once, where the first clutch had both sexes.
    reached = project("ab")
    assert reached[:5] == [0] * 5
    both_sexes = 1 - 2 * 0.5**8
    assert reached[5] == pytest.approx(both_sexes * (1 - (15 / 16) ** 8), abs=0.014)
    assert reached[6] == pytest.approx(1 - (15 / 16) ** 16, abs=0.02)
    # With every clutch laid and nobody lost the median is year 7, one before the customary eight
    # to ten, and nine of ten are done in year 10.
    assert [first(reached, share) for share in (0.1, 0.5, 0.9)] == [6, 7, 10]


def test_two_recessives_with_clutches_that_fail_and_animals_that_die() -> None:
    # The figures of the example in the contract.  The median is year 8; one in seven projects has
    # lost what it needs before it is done.
    rules: dict[str, Any] = {
        "clutch": {"6": 0.25, "8": 0.5, "10": 0.25},
        "lays": 0.85,
        "lives": 0.97,
        "places": 6,
    }
    reached = project("ab", **rules)
    assert [first(reached, share) for share in (0.1, 0.5, 0.8)] == [6, 8, 11]
    assert reached[-1] == pytest.approx(0.86, abs=0.02)


def test_few_places_are_enough_for_two_recessives() -> None:
    free, narrow = project("ab"), project("ab", places=2)
    assert narrow[5] == pytest.approx(free[5], abs=0.014)
    assert narrow[-1] > 0.95


def test_three_recessives_are_reached_too() -> None:
    reached = project("abc", age=3, pairs=2, matings=2, places=10, seasons=16, runs=4000)
    assert reached[5] == 0
    assert reached[-1] > 0.5


def test_a_known_het_and_a_visual() -> None:
    case = book(
        founder("F", "female", a="a/a", b="+/b"), founder("M", "male", a="+/a", b="b/b"),
        genes="ab",
    )  # fmt: skip
    found = told(case, goal={"shows": {"A": True, "B": True}}, seasons=3)
    assert found.exact
    assert chances(found) == pytest.approx([1 - 0.75 ** (8 * s) for s in (1, 2, 3)], abs=1e-12)


def test_a_het_and_a_normal_need_a_backcross_or_sibs() -> None:
    # Half of their young carry it; the keeper cannot tell which, and breeds young with young or
    # with the parent that is known to carry.
    case = book(founder("F", "female", a="+/a"), founder("M", "male", a="+/+"))
    found = told(case, seasons=8, places=6)
    assert chances(found)[:3] == [0, 0, 0]
    # The dam with a son that carries with a half: 1/2 · (1 - (3/4)^8) in year 4, if that is chosen.
    assert chances(found)[3] == pytest.approx(0.5 * (1 - 0.75**8), abs=0.02)
    assert chances(found)[5] > 0.8


def test_a_dominant_form_that_shows_in_one_copy() -> None:
    # One copy shows; two look different.  Heterozygous young are kept and bred to each other.
    case = book(
        founder("F", "female", a="+/a"), founder("M", "male", a="+/+"),
        traits=[
            {"id": "A", "shown_by": [{"a": ["+/a"]}]}, {"id": "S", "shown_by": [{"a": ["a/a"]}]}
        ],
    )  # fmt: skip
    found = told(case, goal={"shows": {"S": True}}, seasons=6, places=4)
    assert chances(found)[:3] == [0, 0, 0]
    # In year 4 she is bred with a son that shows it: nearly all first clutches of eight have one.
    assert chances(found)[3] == pytest.approx((1 - 0.75**8) * (1 - 0.75**8), abs=0.03)


def test_a_goal_for_one_sex_alone() -> None:
    # A recessive on Z: a visual son needs a visual dam; a het male and a normal dam give visual
    # daughters first, and these with a son that carries, or with their sire, visual sons.
    case = book(
        founder("F", "female", a="+/W"), founder("M", "male", a="+/a"), sex_determination="ZW",
        loci=[{"id": "a", "alleles": ["+", "a"], "chromosome": "Z"}],
        traits=[{"id": "A", "shown_by": [{"a": ["a/a", "a/W"]}]}],
    )  # fmt: skip
    found = told(case, goal={"shows": {"A": True}, "sex": "male"}, seasons=7, places=5)
    assert chances(found)[:3] == [0, 0, 0]
    # Daughter and sire in year 4: a quarter of their young are visual sons.
    assert chances(found)[3] == pytest.approx((1 - 0.75**8) ** 2, abs=0.03)


def test_a_form_that_two_copies_of_kill() -> None:
    case = book(
        founder("F", "female", a="+/s", b="+/+"), founder("M", "male", a="+/+", b="b/b"),
        loci=[{"id": "a", "alleles": ["+", "s"]}, {"id": "b", "alleles": ["+", "b"]}],
        traits=[{"id": "A", "shown_by": [{"a": ["+/s"]}]}, {"id": "B", "recessive_at": ["b"]}],
        viability=[{"locus": "a", "genotype": "s/s", "survival": 0}],
    )  # fmt: skip
    goal = {"shows": {"A": True, "B": True}}
    found = told(case, goal=goal, seasons=8, places=6)
    # A daughter or son that shows A is het for B: with its parent M a quarter of young meet it
    # (a daughter), with a sib more, at most 2/3 · 1/4.
    assert chances(found)[:3] == [0, 0, 0]
    assert chances(found)[3] > 0.7
