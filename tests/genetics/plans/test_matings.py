"""Test matings: against the brute-force twin on random cases, and with their arithmetic by hand."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from genetics.casefile import answer_case, read_case
from genetics.errors import BeyondExact
from genetics.plans.matings import MOST_HATCHLINGS, matings, mixtures
from genetics.plans.questions import TestQuestion
from genetics.solving import solve
from tests.genetics import cases
from tests.genetics.case_draws import Draw, all_keys, pick, pick_some, sometimes
from tests.genetics.plans.twin_matings import twin_matings
from tests.genetics.small_cases import HET, LINES, NORMAL, POSSIBLE_HET, VISUAL, case, dam, sire
from tests.genetics.twin_genome import FEMALE, MALE, Case, Genome
from tests.genetics.twin_worlds import is_possible, known_sexes

some = settings(
    max_examples=5,
    deadline=None,
    derandomize=True,
    database=None,
    print_blob=False,
    suppress_health_check=list(HealthCheck),
)


# ---- by hand ---------------------------------------------------------------------------------


def asked(given: Case, **more: Any) -> dict[str, Any]:
    """The answer to a question about D being one copy of the recessive, with S as the mate."""
    question = {
        "animal": "D", "genotypes": {"sg": ["+/m"]}, "mates": ["S"], "eggs": [0, 3],
        "shows": "Saltgrass", "settle": 0.99, **more,
    }  # fmt: skip
    answer = answer_case({**given, "ask": {"test": [question]}})
    (mating,) = answer["test"][0]
    return dict(mating)


def entropy(p: float) -> float:
    return -p * math.log2(p) - (1 - p) * math.log2(1 - p)


def test_possible_het_with_a_visual() -> None:
    found = asked(case(dam(POSSIBLE_HET), sire(VISUAL)))
    # Of a het by a visual half show: three hatchlings are clean with (1/2)^3 = 1/8.
    # P(none shows) = 2/3 · 1/8 + 1/3 = 5/12; of that 2/3 · 1/8 = 1/12 is the het's, a fifth.
    assert found["mate"] == "S"
    assert found["prior"] == pytest.approx(2 / 3, abs=1e-12)
    assert found["positive"] == {"0": 0.0, "3": pytest.approx(7 / 12, abs=1e-12)}
    assert found["clean"] == {
        "0": pytest.approx(2 / 3, abs=1e-12),
        "3": pytest.approx(1 / 5, abs=1e-12),
    }
    # One that shows leaves nothing open, none that shows H(1/5): H(2/3) - 5/12 · H(1/5).
    left = entropy(2 / 3) - 5 / 12 * entropy(1 / 5)
    assert found["bits"] == {"0": 0.0, "3": pytest.approx(left, abs=1e-12)}
    # It is: 1 - (1/2)^n >= 0.99 from n = 7 on.  It is not: none shows, which leaves
    # 2/(2 + 2^n) <= 0.01, so 2^n >= 198: n = 8.
    assert found["needed"] == 8


def test_one_hatchling_of_a_dominant_trait_is_one_bit() -> None:
    shown = {"id": "Saltgrass", "shown_by": [{"sg": ["+/m", "m/m"]}]}
    given = case(dam({"sg": {"+/+": 0.5, "m/m": 0.5}}), sire(NORMAL), traits=[shown])
    found = asked(given, genotypes={"sg": ["m/m"]}, eggs=[1])
    # All young of m/m show, none of +/+: the first hatchling says which of two alike it is.
    assert found["bits"] == {"1": pytest.approx(1, abs=1e-12)}
    assert found["clean"] == {"1": 0.0}
    assert found["needed"] == 1


def test_a_chance_that_is_exactly_at_the_bound_settles() -> None:
    # Three clean hatchlings of a 66 % het by a visual leave 1/5 (above), which is 1 - 0.8.
    assert asked(case(dam(POSSIBLE_HET), sire(VISUAL)), settle=0.8)["needed"] == 3
    # 25 % het: two show with 1 - 1/4 = 0.75, and clean they leave (1/16)/(1/16 + 3/4) = 1/13.
    quarter = {"sg": {"+/m": 0.25, "+/+": 0.75}}
    assert asked(case(dam(quarter), sire(VISUAL)), settle=0.75)["needed"] == 2


def test_both_are_uncertain_together() -> None:
    # D and S are young of a 50 % het: both carry with 1/2 · 1/2 · 1/2 = 1/8 and not 1/16.
    litter = case(
        {"id": "G", "sex": "female", "founder": {"sg": {"+/m": 0.5, "+/+": 0.5}}},
        {"id": "H", "sex": "male", "founder": NORMAL},
        {"id": "D", "sex": "female", "dam": "G", "sire": "H"},
        {"id": "S", "sex": "male", "dam": "G", "sire": "H"},
    )
    found = asked(litter, eggs=[1])
    assert found["prior"] == pytest.approx(1 / 4, abs=1e-12)
    assert found["positive"]["1"] == pytest.approx(1 / 8 * 1 / 4, abs=1e-12)
    # It carries and is clean: 1/4 - 1/32 = 7/32, of 31/32.
    assert found["clean"]["1"] == pytest.approx(7 / 31, abs=1e-12)


def test_what_hides_a_trait_hides_it_here() -> None:
    chalk = {"id": "Chalk", "shown_by": [{"bl": ["+/b", "b/b"]}], "hides": ["*"]}
    given = case(
        dam({**POSSIBLE_HET, "bl": {"+/b": 1}}),
        sire({**VISUAL, "bl": {"+/+": 1}}),
        loci=[{"id": "sg", "alleles": ["+", "m"]}, {"id": "bl", "alleles": ["+", "b"]}],
        traits=[{"id": "Saltgrass", "recessive_at": ["sg"]}, chalk],
    )
    # Half of the hatchlings hide it: 1/2 · 1/2 = 1/4 of a het's show.
    found = asked(given, eggs=[1])
    assert found["positive"]["1"] == pytest.approx(2 / 3 * 1 / 4, abs=1e-12)


def test_lines_that_may_be_one_locus() -> None:
    # D is p/p.  Were pa and pb one locus (0.3), D by S (q/q) would give visuals alone; else none.
    given = {
        **case(
            dam({"pa": {"p/p": 1}, "pb": {"+/+": 1}}), sire({"pa": {"+/+": 1}, "pb": {"q/q": 1}})
        ),
        **LINES,
    }
    found = asked(given, genotypes={"pa": ["p/p"]}, shows="Pale", eggs=[2])
    assert found["prior"] == pytest.approx(1, abs=1e-12)
    assert found["positive"]["2"] == pytest.approx(0.3, abs=1e-12)
    assert found["bits"]["2"] == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize(("founder", "prior"), [(HET, 1), (VISUAL, 0)])
def test_what_is_certain_needs_no_test(founder: dict[str, Any], prior: int) -> None:
    found = asked(case(dam(founder), sire(VISUAL)))
    assert found["prior"] == prior
    assert found["needed"] is None
    assert found["clean"]["0"] == prior


def test_no_hatchling_can_be_clean_of_two_visuals() -> None:
    found = asked(case(dam(VISUAL), sire(VISUAL)))
    assert found["clean"] == {"0": 0.0, "3": None}


def test_a_mate_that_cannot_tell_settles_nothing() -> None:
    found = asked(case(dam(POSSIBLE_HET), sire(NORMAL)))
    assert found["positive"] == {"0": 0.0, "3": 0.0}
    assert found["bits"]["3"] == pytest.approx(0, abs=1e-12)
    assert found["needed"] is None


def test_mates_and_questions_keep_their_order() -> None:
    other = {**sire(HET), "id": "T"}
    given = case(dam(POSSIBLE_HET), sire(VISUAL), other)
    question = {
        "animal": "D", "genotypes": {"sg": ["+/m"]}, "mates": ["T", "S"], "eggs": [1],
        "shows": "Saltgrass", "settle": 0.9,
    }  # fmt: skip
    answer = answer_case({**given, "ask": {"test": [question, {**question, "mates": ["S"]}]}})
    assert [[one["mate"] for one in each] for each in answer["test"]] == [["T", "S"], ["S"]]


def test_the_mixture_behind_the_figures() -> None:
    other = {**sire(NORMAL), "id": "T"}
    solved = solve(read_case(case(dam(POSSIBLE_HET), sire(VISUAL), other)).population)
    question = TestQuestion("D", {"sg": ("+/m",)}, ("S", "T"), (), "Saltgrass", 0.99)
    ((by_visual, by_normal),) = mixtures(solved, [question])
    # A visual settles it at any number; clean ones from eight on, of which 2/258 is left.
    assert by_visual.settled(3, 0.99) == pytest.approx(2 / 3 * 7 / 8, abs=1e-12)
    assert by_visual.settled(8, 0.99) == pytest.approx(1, abs=1e-12)
    assert by_normal.settled(8, 0.99) == 0
    # Asked the other way round: as much is told, of the other third.
    other_way = by_visual.other_way()
    assert other_way.prior == pytest.approx(1 / 3, abs=1e-12)
    assert other_way.clean(3) == pytest.approx(4 / 5, abs=1e-12)
    assert other_way.bits(3) == pytest.approx(by_visual.bits(3), abs=1e-12)
    assert other_way.needed(0.99) == by_visual.needed(0.99) == 8


def test_eyes_that_err_see_some_of_what_shows_and_some_that_does_not() -> None:
    solved = solve(read_case(case(dam(POSSIBLE_HET), sire(VISUAL))).population)
    question = TestQuestion("D", {"sg": ("+/m",)}, ("S",), (), "Saltgrass", 0.99)
    ((mixture,),) = mixtures(solved, [question])
    # Of the het's young 1/2 · 3/4 + 1/2 · 1/10 = 17/40 are taken for visuals, of others' 1/10.
    seen = mixture.seen(0.75, 0.1)
    assert seen.positive(1) == pytest.approx(2 / 3 * 17 / 40 + 1 / 3 / 10, abs=1e-12)
    clean = 2 / 3 * (23 / 40) ** 2, 1 / 3 * 0.9**2
    assert seen.clean(2) == pytest.approx(clean[0] / sum(clean), abs=1e-12)


def test_more_hatchlings_than_can_be_counted_are_refused_in_words() -> None:
    solved = solve(read_case(case(dam(POSSIBLE_HET), sire(VISUAL))).population)
    n = MOST_HATCHLINGS + 1
    question = TestQuestion("D", {"sg": ("+/m",)}, ("S",), (n,), "Saltgrass", 0.9)
    with pytest.raises(BeyondExact) as refused:
        matings(solved, question)
    assert str(refused.value) == (
        f"every count among {n} hatchlings is to be weighed, more than the limit of "
        f"{MOST_HATCHLINGS}"
    )


# ---- against the twin ------------------------------------------------------------------------


def question_on(draw: Draw, given: Case) -> dict[str, Any] | None:
    """A question that the case allows, if it has animals of both sexes."""
    genome, sexes = Genome(given), known_sexes(given)
    females = [who for who, sex in sexes.items() if sex == FEMALE]
    males = [who for who, sex in sexes.items() if sex == MALE]
    if not females or not males:
        return None
    own, others = (females, males) if sometimes(draw) else (males, females)
    loci = pick_some(draw, list(genome.alleles), 2)
    return {
        "animal": pick(draw, own[::-1]),
        "mates": pick_some(draw, others, 2),
        "shows": pick(draw, [trait["id"] for trait in given["traits"]]),
        "genotypes": {lc: pick_some(draw, all_keys(genome, lc)[::-1], 3) for lc in loci},
        "eggs": [0, 1, 3, 8],
        "settle": pick(draw, (0.75, "9/10", 0.99)),
    }


def agrees(found: dict[str, Any], expected: dict[str, Any]) -> None:
    """Compare the answer on one mate; where a bound is only just met either number is right."""
    found, expected = dict(found), dict(expected)
    assert found.pop("needed") in expected.pop("needed")
    assert found == {
        name: value if name == "mate" else pytest.approx(value, abs=1e-9)
        for name, value in expected.items()
    }


@pytest.mark.parametrize("kind", [name for name in cases.STRATEGIES if name != "contradictory"])
@some
@given(st.data())
def test_random_cases_agree_with_the_twin(kind: str, data: st.DataObject) -> None:
    given = data.draw(cases.STRATEGIES[kind])
    question = question_on(data.draw, given)
    assume(question is not None and is_possible(given))
    assert question is not None
    answer = answer_case({**given, "ask": {"test": [question]}})
    for found, expected in zip(answer["test"][0], twin_matings(given, question), strict=True):
        agrees(found, expected)
