"""Forecasts that a keeper can check with a pocket calculator."""

from __future__ import annotations

from math import comb
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from genetics.casefile import answer_case
from genetics.errors import BeyondExact, ImpossibleEvidence
from genetics.plans.forecast import Forecast
from tests.genetics import cases
from tests.genetics.plans.forecasts import book, chances, founder, pair, played, told
from tests.genetics.twin_genome import Case
from tests.genetics.twin_worlds import known_sexes

POSSIBLE_HET = {"+/+": "1/3", "+/a": "2/3"}
BOTH = {"shows": {"A": True, "B": True}}


def within(n: int, p: float, wanted: int) -> float:
    """Chance of at least so many among n."""
    return 1.0 - sum(comb(n, k) * p**k * (1 - p) ** (n - k) for k in range(wanted))


@pytest.mark.parametrize(("eggs", "expected"), [(16, 0.644), (46, 0.949), (47, 0.952)])
def test_double_hets_give_one_in_sixteen(eggs: int, expected: float) -> None:
    found = told(pair("ab", a="+/a", b="+/b"), goal=BOTH, clutch={str(eggs): 1})
    assert found.exact
    assert chances(found) == pytest.approx([1 - (15 / 16) ** eggs], abs=1e-12)
    assert round(found.reached[0].p, 3) == expected


def test_possible_hets_are_uncertain_together() -> None:
    # Four ninths that both carry it: 4/9 · (1 - (3/4)^8) = 0.400, not 1 - (1 - 1/9)^8 = 0.610.
    found = told(pair(a=POSSIBLE_HET))
    assert chances(found) == pytest.approx([4 / 9 * (1 - 0.75**8)], abs=1e-12)
    assert round(found.reached[0].p, 3) == 0.400


def test_waiting_for_one_hatchling_is_geometric() -> None:
    found = told(pair(a="+/a"), clutch={"1": 1}, seasons=3)
    assert found.exact
    assert chances(found) == pytest.approx([1 - 0.75**s for s in (1, 2, 3)], abs=1e-12)
    assert found.first == pytest.approx([0.25, 0.1875, 0.140625], abs=1e-12)
    assert (found.tenth, found.median, found.ninetieth) == (1, 3, None)


def test_waiting_for_several_is_negative_binomial() -> None:
    found = told(pair(a="+/a"), clutch={"4": 1}, seasons=3, wanted=3)
    assert chances(found) == pytest.approx([within(4 * s, 0.25, 3) for s in (1, 2, 3)], abs=1e-12)


def test_clutches_vary_fail_and_follow_one_another() -> None:
    # Of each try: no clutch 1/4, else none or two hatchlings, half and half.
    miss = 0.25 + 0.75 * (0.5 + 0.5 * 0.75**2)
    rules = {"clutch": {"0": 0.5, "2": 0.5}, "lays": 0.75, "clutches": 2, "seasons": 2}
    assert chances(told(pair(a="+/a"), **rules)) == pytest.approx(
        [1 - miss**2, 1 - miss**4], abs=1e-12
    )


def test_a_pair_that_dies_breeds_no_more() -> None:
    found = told(pair(a="+/a"), clutch={"1": 1}, seasons=3, lives=0.5)
    alive = 0.25  # both of them
    expected = [0.25, 0.25 + 0.75 * alive * 0.25, 0.25 + 0.75 * alive * (0.25 + 0.75 * alive / 4)]
    assert found.exact
    assert chances(found) == pytest.approx(expected, abs=1e-12)


def test_nothing_before_somebody_is_mature() -> None:
    found = told(pair(a="+/a"), animals={"F": 1, "M": 2}, seasons=4, mature={"female": 3})
    assert chances(found) == pytest.approx([0, 0, 1 - 0.75**8, 1 - 0.75**16], abs=1e-12)
    never = told(pair(a="+/a"), animals={"F": 0, "M": 3}, seasons=3)
    assert (chances(never), never.exact, never.median) == ([0, 0, 0], True, None)


def test_two_dams_of_one_sire_share_what_he_is() -> None:
    dams = [founder(name, "female", a="a/a") for name in "FG"]
    case = book(*dams, founder("M", "male", a=POSSIBLE_HET))
    found = told(case, pairs=2, matings=2, clutch={"3": 1})
    assert found.exact
    assert chances(found) == pytest.approx([2 / 3 * (1 - 0.5**6)], abs=1e-12)


def test_daughters_of_a_male_that_carries_a_sex_linked_recessive() -> None:
    case = book(
        founder("F", "female", a="+/W"), founder("M", "male", a="+/a"), sex_determination="ZW",
        loci=[{"id": "a", "alleles": ["+", "a"], "chromosome": "Z"}],
        traits=[{"id": "A", "shown_by": [{"a": ["a/a", "a/W"]}]}],
    )  # fmt: skip
    assert chances(told(case)) == pytest.approx([1 - 0.75**8], abs=1e-12)
    daughters = {"shows": {"A": True}, "sex": "female"}
    assert chances(told(case, goal=daughters)) == pytest.approx([1 - 0.75**8], abs=1e-12)
    sons = {"shows": {"A": True}, "sex": "male"}
    assert chances(told(case, goal=sons)) == [0]


def test_what_does_not_hatch_is_not_counted() -> None:
    case = book(
        *(founder(name, sex, a="+/a") for name, sex in (("F", "female"), ("M", "male"))),
        traits=[{"id": "A", "shown_by": [{"a": ["+/a", "a/a"]}]}],
        viability=[{"locus": "a", "genotype": "a/a", "survival": 0}],
    )  # fmt: skip
    assert chances(told(case, clutch={"1": 1})) == pytest.approx([2 / 3], abs=1e-12)
    assert chances(told(case, clutch={"1": 1}, goal={"genotypes": {"a": ["a/a"]}})) == [0]


def test_linked_genes_follow_their_phase() -> None:
    linked = [{"loci": ["a", "b"], "recombination": [{"female": 0.1, "male": 0.1}]}]
    animals = [
        founder("X", "female", a="a/a", b="+/+"), founder("Y", "male", a="+/+", b="b/b"),
        {"id": "F", "sex": "female", "dam": "X", "sire": "Y"},
        {"id": "M", "sex": "male", "dam": "X", "sire": "Y"},
    ]  # fmt: skip
    case = book(*animals, genes="ab", linkage=linked)
    found = told(case, goal=BOTH, animals={"F": 3, "M": 3}, clutch={"1": 1})
    assert chances(found) == pytest.approx([0.05**2], abs=1e-12)


def test_two_lines_that_may_be_one_locus() -> None:
    case = book(
        founder("F", "female", a="a/a"), founder("M", "male", b="b/b"), genes="ab",
        traits=[{"id": "A", "recessive_at": ["a", "b"]}],
        same_locus=[{"loci": ["a", "b"], "prior": 0.3}],
    )  # fmt: skip
    assert chances(told(case)) == pytest.approx([0.3], abs=1e-12)


def test_the_share_of_females_is_the_questions_own() -> None:
    daughters = {"shows": {"A": True}, "sex": "female"}
    found = told(pair(a="a/a"), goal=daughters, females=0.2, clutch={"3": 1})
    assert chances(found) == pytest.approx([1 - 0.8**3], abs=1e-12)


def test_a_case_is_answered_in_the_contracts_words() -> None:
    asked = {
        "goal": {"shows": {"A": True}}, "animals": {"F": 4, "M": 3}, "seasons": 3,
        "clutch": {"1": 1}, "mature": {"female": 4, "male": 3},
    }  # fmt: skip
    found = answer_case({**pair(a="+/a"), "ask": {"forecast": [asked, asked]}})["forecast"]
    assert found[0] == found[1]
    assert [one["se"] for one in found[0]["reached"]] == [0, 0, 0]
    expected = [1 - 0.75**s for s in (1, 2, 3)]
    assert [one["p"] for one in found[0]["reached"]] == pytest.approx(expected, abs=1e-12)
    told_of = {key: value for key, value in found[0].items() if key != "reached"}
    assert told_of == {"median": 3, "tenth": 1, "ninetieth": None, "exact": True}


drawn = settings(
    max_examples=40, deadline=None, derandomize=True, database=None,
    suppress_health_check=list(HealthCheck),
)  # fmt: skip


def questions(case: Case) -> list[dict[str, Any]]:
    """Couples of recorded sexes and a trait that their young may show."""
    sexes = known_sexes(case)
    dams = [who for who, sex in sexes.items() if sex == "female"][:2]
    sires = [who for who, sex in sexes.items() if sex == "male"][:2]
    return [
        {"goal": {"shows": {trait["id"]: True}}, "animals": {dam: 3, sire: 3}, "clutch": {"3": 1}}
        for trait in case["traits"] for dam in dams for sire in sires
    ]  # fmt: skip


def open_question(case: Case) -> tuple[dict[str, Any], Forecast] | None:
    """The first whose answer is neither 0 nor 1, with that."""
    for question in questions(case):
        try:
            found = told(case, seasons=2, **question)
        except ImpossibleEvidence:
            return None
        assert found.exact
        if 0 < found.reached[0].p < 1:
            return question, found
    return None


def test_one_season_is_a_clutch_as_the_engine_answers_it() -> None:
    compared = []

    @drawn
    @given(cases.mixed_cases())
    def compare(case: Case) -> None:
        opened = open_question(case)
        if opened is None:
            return
        question, found = opened
        dam, sire = question["animals"]
        asked = [{"dam": dam, "sire": sire, "eggs": [3, 6], "goal": question["goal"]}]
        told_by_engine = answer_case({**case, "ask": {"offspring": asked}})["offspring"][0]
        at_least_one = told_by_engine["at_least_one"]
        expected = [at_least_one["3"], at_least_one["6"]]
        assert chances(found) == pytest.approx(expected, abs=1e-9)
        compared.append(expected)

    compare()
    assert len(compared) > 15


def test_played_out_it_agrees() -> None:
    compared = []

    @drawn
    @given(cases.mixed_cases())
    def compare(case: Case) -> None:
        opened = open_question(case)
        if opened is None:
            return
        question, exact = opened
        try:
            with pytest.MonkeyPatch.context() as patched:
                found = played(patched, case, runs=3000, seasons=2, **question)
        except BeyondExact:
            return  # more linked genotypes than a keeper's policy can look ahead among
        for one, other in zip(found.reached, exact.reached, strict=True):
            # Of some forty figures none should be this far away.
            assert abs(one.p - other.p) <= 4.5 * (other.p * (1 - other.p) / 3000) ** 0.5 + 1 / 3000
        compared.append(found)

    compare()
    assert len(compared) > 15
