"""The engine against its brute-force twin, on random cases of every feature.

`KEPTLINES_EXAMPLES` sets the number of cases of each strategy, drawn anew every time; without
it a fixed set is used, the same in every run.
"""

from __future__ import annotations

import copy
import itertools
import math
import os
from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tests.genetics import cases
from tests.genetics.case_changes import (
    Relabelling,
    with_tallies_as_animals,
    with_uninformative_relatives,
)
from tests.genetics.twin import is_possible, records, twin
from tests.genetics.twin_genome import Case, number

Answer = dict[str, Any]
TOLERANCE = 1e-9
PARTS = (
    "log_evidence",
    "posterior",
    "sex",
    "parentage",
    "same_locus",
    "joint",
    "offspring",
    "kinship",
    "inbreeding",
)

_asked_for = os.environ.get("KEPTLINES_EXAMPLES")
EXAMPLES = int(_asked_for or 100)
several = settings(
    max_examples=EXAMPLES,
    deadline=None,
    derandomize=_asked_for is None,
    database=None,
    print_blob=False,
    suppress_health_check=list(HealthCheck),
)
fewer = settings(several, max_examples=max(1, EXAMPLES // 2))
random_orders = st.integers(0, 2**16).map(Random)


def solve(case: Case) -> Answer:
    """The engine's answer; the engine must leave the case as it was."""
    from genetics.casefile import answer_case

    handed_over = copy.deepcopy(case)
    answer: Answer = answer_case(handed_over)
    assert handed_over == case
    return answer


# ---- comparing answers -----------------------------------------------------------------------


def comparable(answer: Answer) -> Answer:
    """The contract's parts of an answer, phenotypes by what shows instead of in a list."""
    assert answer.get("exact", True) is True
    found = {part: copy.deepcopy(answer[part]) for part in PARTS}
    found["trust"] = dict(answer.get("trust", {}))
    for question in found["offspring"]:
        question["phenotypes"] = {
            " & ".join(sorted(row["shows"])): row["p"] for row in question["phenotypes"]
        }
        for optional in ("goal", "at_least_one"):
            if question.get(optional) is None:
                question.pop(optional, None)
    return found


def differences(found: Any, expected: Any, at: str = "") -> list[str]:
    """Where two answers differ by more than the tolerance."""
    if isinstance(expected, dict):
        if not isinstance(found, dict) or set(found) != set(expected):
            return [f"{at}: {found} instead of {expected}"]
        return [d for k in expected for d in differences(found[k], expected[k], f"{at}.{k}")]
    if isinstance(expected, list):
        if not isinstance(found, list) or len(found) != len(expected):
            return [f"{at}: {found} instead of {expected}"]
        pairs = enumerate(zip(found, expected, strict=True))
        return [d for i, (f, e) in pairs for d in differences(f, e, f"{at}[{i}]")]
    near = math.isclose(found, expected, rel_tol=TOLERANCE, abs_tol=TOLERANCE)
    return [] if near else [f"{at}: {found} instead of {expected}"]


def part_of(found: Any, expected: Any) -> Any:
    """`found` without the entries of its mappings that `expected` has not."""
    if isinstance(expected, dict):
        return {k: part_of(found[k], value) for k, value in expected.items() if k in found}
    return found


def defined(answer: Answer, expected: Answer) -> tuple[Answer, Answer]:
    """Both answers without questions on couples that may have no living young.

    The contract says nothing of hatchlings that cannot be.
    """
    kept = [
        i
        for i, question in enumerate(expected["offspring"])
        if math.isclose(sum(question["phenotypes"].values()), 1, abs_tol=1e-6)
    ]
    both = [{**a, "offspring": [a["offspring"][i] for i in kept]} for a in (answer, expected)]
    return both[0], both[1]


def check_conflict(case: Case, conflict: list[str]) -> None:
    """A conflict cannot be true by itself; any one of its records dropped, the rest can."""
    names = set(records(case))
    assert len(set(conflict)) == len(conflict)
    assert set(conflict) <= names
    others = names - set(conflict)
    assert not is_possible(case, others), f"no conflict: {conflict}"
    for name in conflict:
        assert is_possible(case, others | {name}), f"{name} is not needed: {conflict}"


def check_order(case: Case, answer: Answer) -> None:
    """Phenotypes come most likely first, each spelt in the order of the traits."""
    order = [trait["id"] for trait in case.get("traits", [])]
    for question in answer["offspring"]:
        rows = question["phenotypes"]
        chances = [row["p"] for row in rows]
        assert all(a >= b - TOLERANCE for a, b in itertools.pairwise(chances))
        assert all(row["shows"] == sorted(row["shows"], key=order.index) for row in rows)
        assert all(p > 0 for p in chances)


# ---- the twin --------------------------------------------------------------------------------


def agree(case: Case) -> None:
    answer, expected = solve(case), twin(case)
    assert answer.get("error") == expected.get("error"), answer
    if "error" in expected:
        assert isinstance(answer["message"], str) and answer["message"]
        check_conflict(case, answer["conflict"])
        return
    check_order(case, answer)
    found, wanted = defined(comparable(answer), comparable(expected))
    assert differences(found, wanted) == []


@several
@given(cases.autosomal_cases())
def test_engine_equals_twin_on_autosomal_loci(case: Case) -> None:
    agree(case)


@several
@given(cases.sex_linked_cases())
def test_engine_equals_twin_on_sex_chromosomes(case: Case) -> None:
    agree(case)


@several
@given(cases.linked_cases())
def test_engine_equals_twin_on_linked_loci(case: Case) -> None:
    agree(case)


@several
@given(cases.viability_cases())
def test_engine_equals_twin_on_viability(case: Case) -> None:
    agree(case)


@several
@given(cases.masking_cases())
def test_engine_equals_twin_on_masking_and_errors(case: Case) -> None:
    agree(case)


@several
@given(cases.founder_cases())
def test_engine_equals_twin_on_founders(case: Case) -> None:
    agree(case)


@several
@given(cases.clutch_cases())
def test_engine_equals_twin_on_clutches(case: Case) -> None:
    agree(case)


@several
@given(cases.candidate_cases())
def test_engine_equals_twin_on_candidates(case: Case) -> None:
    agree(case)


@several
@given(cases.trust_cases())
def test_engine_equals_twin_on_words_that_share_a_trust(case: Case) -> None:
    agree(case)


@several
@given(cases.alone_cases())
def test_engine_equals_twin_on_dams_alone(case: Case) -> None:
    agree(case)


@several
@given(cases.alone_linked_cases())
def test_engine_equals_twin_on_dams_alone_at_linked_loci(case: Case) -> None:
    agree(case)


@several
@given(cases.begun_cases())
def test_engine_equals_twin_on_loci_that_begin(case: Case) -> None:
    agree(case)


@several
@given(cases.begun_lines_cases())
def test_engine_equals_twin_on_lines_that_begin(case: Case) -> None:
    agree(case)


@several
@given(cases.same_locus_cases())
def test_engine_equals_twin_on_undecided_lines(case: Case) -> None:
    agree(case)


@several
@given(cases.masked_lines_cases())
def test_engine_equals_twin_on_undecided_lines_that_hide(case: Case) -> None:
    agree(case)


@several
@given(cases.contradictory_cases())
def test_engine_equals_twin_on_contradictions(case: Case) -> None:
    agree(case)


@settings(several, max_examples=2 * EXAMPLES)
@given(cases.mixed_cases())
def test_engine_equals_twin_on_mixed_features(case: Case) -> None:
    agree(case)


# ---- laws ------------------------------------------------------------------------------------


def solved(case: Case) -> Answer:
    """The engine's answer to a possible case."""
    answer = solve(case)
    assume("error" not in answer)
    return answer


@fewer
@given(cases.mixed_cases())
def test_probabilities_sum_to_one(case: Case) -> None:
    answer = solved(case)
    tables = [table for loci in answer["posterior"].values() for table in loci.values()]
    totals = [sum(table.values()) for table in tables]
    for shares in answer["parentage"].values():
        totals += [sum(p) for p in (shares.values() if isinstance(shares, dict) else [shares])]
    _, offspring = defined(comparable(answer), comparable(answer))
    totals += [sum(question["phenotypes"].values()) for question in offspring["offspring"]]
    assert totals == [pytest.approx(1, abs=TOLERANCE)] * len(totals)
    events = [*answer["sex"].values(), *answer["same_locus"], *answer["joint"]]
    assert all(-TOLERANCE <= p <= 1 + TOLERANCE for p in events)


@fewer
@given(cases.mixed_cases(), random_orders)
def test_names_and_order_change_nothing(case: Case, random: Random) -> None:
    relabelling = Relabelling(case, random)
    answer = solve(case)
    renamed = solve(relabelling.new_case())
    assert renamed.get("error") == answer.get("error")
    assume("error" not in answer)
    expected = comparable(relabelling.new_answer(answer))
    assert differences(comparable(renamed), expected) == []


@fewer
@given(cases.mixed_cases(), random_orders)
def test_uninformative_relatives_change_nothing(case: Case, random: Random) -> None:
    # Where nothing is lethal: that a couple has living young at all would be information.
    assume(all(number(entry["survival"]) > 0 for entry in case.get("viability", [])))
    answer = solve(case)
    larger = solve(with_uninformative_relatives(case, random))
    assert larger.get("error") == answer.get("error")
    assume("error" not in answer)
    expected = comparable(answer)
    assert differences(part_of(comparable(larger), expected), expected) == []


def same_as_animals(case: Case) -> None:
    answer = solve(case)
    larger = solve(with_tallies_as_animals(case))
    assert larger.get("error") == answer.get("error")
    assume("error" not in answer)
    expected = comparable(answer)
    assert differences(part_of(comparable(larger), expected), expected) == []


@fewer
@given(cases.clutch_cases())
def test_tallied_hatchlings_equal_recorded_ones(case: Case) -> None:
    same_as_animals(case)


@fewer
@given(cases.candidate_cases())
def test_tallied_hatchlings_of_several_couples_equal_recorded_ones(case: Case) -> None:
    same_as_animals(case)
