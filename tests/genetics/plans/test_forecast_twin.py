"""Forecasts against a slow simulation of forced cases and against plain enumeration."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product
from typing import Any

import pytest

from tests.genetics.plans.forecasts import (
    RECESSIVES,
    book,
    chances,
    close,
    founder,
    pair,
    played,
    told,
)
from tests.genetics.plans.twin_forecast import (
    DEFAULTS,
    Keeping,
    Kept,
    Pairing,
    all_with_one_male,
    everybody,
    joint_states,
    ripe,
    simulated,
)
from tests.genetics.twin_genome import FEMALE, MALE, Case

RUNS = 4000
BOTH = {"shows": {"A": True, "B": True}}
HET = {"+/+": "1/3", "+/a": "2/3"}


def apart(p: float) -> float:
    """Standard error of the twin's share, at least that of one run."""
    return float((max(p * (1 - p), 1 / RUNS) / RUNS) ** 0.5)


def compare(case: Case, question: dict[str, Any], pairing: Pairing, keeping: Keeping) -> None:
    found = told(case, **question)
    plain = simulated(case, question, pairing, keeping, RUNS)
    assert not found.exact
    for one, other in zip(found.reached, plain, strict=True):
        assert abs(one.p - other) <= 4 * (one.se**2 + apart(one.p) ** 2) ** 0.5


def double_hets_when_ripe(
    animals: Sequence[Kept], rules: Mapping[str, Any]
) -> list[tuple[Kept, Kept]]:
    """The young as soon as there are both, else the founders."""
    dams, sires = ripe(animals, rules, FEMALE), ripe(animals, rules, MALE)
    young = [[one for one in group if one.parents] for group in (dams, sires)]
    chosen = young if all(young) else [dams, sires]
    return [(chosen[0][0], chosen[1][0])] if all(chosen) else []


def one_of_each_sex(animals: Sequence[Kept], rules: Mapping[str, Any]) -> list[Kept]:
    """The founders until there are young of both sexes, then two of each."""
    young = [[one for one in animals if one.parents and one.sex == sex] for sex in (FEMALE, MALE)]
    founders = [one for one in animals if not one.parents]
    if all(young):
        return [*young[0][:2], *young[1][:2]][: rules["places"]]
    return [*founders, *young[0], *young[1]][: rules["places"]]


VISUALS = book(
    founder("F", "female", a="a/a", b="+/+"), founder("M", "male", a="+/+", b="b/b"), genes="ab"
)


def test_two_visuals_their_double_hets_then_one_in_sixteen() -> None:
    # Up to season 5 nothing else is mature: double hets hatch in 1 (or 2), and breed from 4 on.
    question = {
        "goal": BOTH, "animals": {"F": 3, "M": 3}, "seasons": 5,
        "clutch": {"2": 0.5, "4": 0.5}, "places": 4,
    }  # fmt: skip
    compare(VISUALS, question, double_hets_when_ripe, one_of_each_sex)


def test_two_visuals_that_fail_to_lay() -> None:
    question = {
        "goal": BOTH, "animals": {"F": 3, "M": 3}, "seasons": 5, "clutch": {"6": 1},
        "lays": 0.6, "mature": {"female": 3, "male": 2},
    }  # fmt: skip
    compare(VISUALS, question, double_hets_when_ripe, everybody)


def test_two_linked_visuals_and_their_crossovers() -> None:
    linked = [{"loci": ["a", "b"], "recombination": [{"female": 0.5, "male": 0.3}]}]
    question = {
        "goal": BOTH, "animals": {"F": 3, "M": 3}, "seasons": 5, "clutch": {"5": 1}, "places": 4,
    }  # fmt: skip
    compare({**VISUALS, "linkage": linked}, question, double_hets_when_ripe, one_of_each_sex)


def test_a_form_that_kills_twice_over_two_generations() -> None:
    case = book(
        founder("F", "female", s="+/s", a="a/a"), founder("M", "male", s="+/s", a="+/Y"),
        sex_determination="XY",
        loci=[{"id": "s", "alleles": ["+", "s"]},
              {"id": "a", "alleles": ["+", "a"], "chromosome": "X"}],
        traits=[{"id": "S", "shown_by": [{"s": ["+/s"]}]},
                {"id": "A", "shown_by": [{"a": ["a/a", "a/Y"]}]}],
        viability=[{"locus": "s", "genotype": "s/s", "survival": 0}],
    )  # fmt: skip
    goal = {"shows": {"S": True, "A": True}, "sex": "female"}
    question = {
        "goal": goal, "animals": {"F": 3, "M": 3}, "seasons": 5, "clutch": {"4": 1}, "places": 2,
    }  # fmt: skip

    def shows(one: Kept) -> bool:
        return "S" in one.looks

    def pairing(animals: Sequence[Kept], rules: Mapping[str, Any]) -> list[tuple[Kept, Kept]]:
        # Any dam of F's with the sire M gives no visual daughter; with a son of F she does.
        dams, sires = ripe(animals, rules, FEMALE), ripe(animals, rules, MALE)
        return [(dams[0], sires[0])] if dams and sires else []

    def keeping(animals: Sequence[Kept], rules: Mapping[str, Any]) -> list[Kept]:
        dam = next(one for one in animals if one.sex == FEMALE and not one.parents)
        males = [one for one in animals if one.sex == MALE]
        return [dam, max(males, key=lambda one: (one.parents is not None, one.age, shows(one)))]

    # Her sons all carry the mark: with one that shows S half of 2/3 of her young meet the goal,
    # with another half of 1/2.
    compare(case, question, pairing, keeping)


def test_several_dams_that_may_die() -> None:
    case = book(
        founder("F", "female", a=HET), founder("G", "female", a="+/a"),
        founder("M", "male", a={"+/a": 0.5, "a/a": 0.5}),
    )  # fmt: skip
    question = {
        "goal": {"shows": {"A": True}}, "animals": {"F": 3, "G": 2, "M": 3}, "seasons": 3,
        "clutch": {"1": 0.5, "2": 0.5}, "lives": 0.7, "pairs": 2, "matings": 2, "wanted": 2,
    }  # fmt: skip
    compare(case, question, all_with_one_male, everybody)


def test_animals_whose_sex_and_genes_are_unknown_together() -> None:
    case = book(
        founder("X", "female", a="+/W"), founder("Y", "male", a="+/a"),
        {"id": "F", "sex": "female", "dam": "X", "sire": "Y"},
        {"id": "U", "dam": "X", "sire": "Y"},
        sex_determination="ZW",
        loci=[{"id": "a", "alleles": ["+", "a"], "chromosome": "Z"}],
        traits=[{"id": "A", "shown_by": [{"a": ["a/a", "a/W"]}]}],
    )  # fmt: skip
    question = {
        "goal": {"shows": {"A": True}}, "animals": {"F": 3, "U": 3}, "seasons": 2,
        "clutch": {"3": 1},
    }  # fmt: skip
    compare(case, question, all_with_one_male, everybody)


def test_lines_that_may_be_one_locus_and_a_shared_parent() -> None:
    case = book(
        founder("X", "female", a="a/a"), founder("Y", "male", b="b/b", a=HET),
        {"id": "F", "sex": "female", "dam": "X", "sire": "Y", "shows": {"A": False}},
        {"id": "M", "sex": "male", "dam": "X", "sire": "Y"},
        genes="ab", traits=[{**RECESSIVES[0], "recessive_at": ["a", "b"]}],
        same_locus=[{"loci": ["a", "b"], "prior": 0.3}],
    )  # fmt: skip
    question = {
        "goal": {"shows": {"A": True}}, "animals": {"F": 3, "M": 3}, "seasons": 2,
        "clutch": {"2": 1}, "wanted": 2,
    }  # fmt: skip
    exact, plain = told(case, **question), simulated(case, question, all_with_one_male)
    assert exact.exact
    for one, other in zip(chances(exact), plain, strict=True):
        assert abs(one - other) <= 4 * apart(one)


def enumerated(case: Case, question: dict[str, Any]) -> list[float]:
    """By listing who lives, who lays and what each hatchling is; dams of one sire, one egg each."""
    rules = DEFAULTS | question
    rows = joint_states(case, list(rules["animals"]))
    whole, found = sum(weight for weight, _, _ in rows), [0.0, 0.0]
    lives, lays = rules["lives"], rules["lays"]
    for weight, genome, states in rows:
        hits = [
            sum(p for s, p in genome.offspring(dam, states[-1]).items() if "A" in genome.visible(s))
            for dam in states[:-1]
        ]
        n = len(hits)
        for second, *here in product((True, False), repeat=n + 1 + 2 * n):
            alive, laid = [second, *here[:n]], [here[n : 2 * n], here[2 * n :]]
            p = 1.0
            for one in alive:
                p *= lives if one else 1 - lives
            for one in (*laid[0], *laid[1]):
                p *= lays if one else 1 - lays
            misses = [1.0, 1.0]
            for dam, hit in enumerate(hits):
                misses[0] *= 1 - hit if laid[0][dam] else 1
                breeds = laid[1][dam] and alive[dam] and alive[-1]
                misses[1] *= 1 - hit if breeds else 1
            found[0] += weight / whole * p * (1 - misses[0])
            found[1] += weight / whole * p * (1 - misses[0] * misses[1])
    return found


@pytest.mark.parametrize("lives", [1.0, 0.8])
def test_two_seasons_listed_in_full(lives: float) -> None:
    case = book(
        founder("F", "female", a=HET), founder("G", "female", a="+/a"), founder("M", "male", a=HET)
    )
    question = {
        "goal": {"shows": {"A": True}}, "animals": {"F": 3, "G": 3, "M": 3}, "seasons": 2,
        "clutch": {"1": 1}, "lays": 0.75, "lives": lives, "pairs": 2, "matings": 2,
    }  # fmt: skip
    found, expected = told(case, **question), enumerated(case, question)
    assert found.exact is (lives == 1)
    if found.exact:
        assert chances(found) == pytest.approx(expected, abs=1e-12)
    else:
        close(found, expected)


def test_one_of_two_males_is_chosen_by_the_better_chance() -> None:
    # M is sure to carry, N perhaps: M is taken while they live, by what is known.
    case = book(
        founder("F", "female", a="a/a"), founder("N", "male", a=HET), founder("M", "male", a="+/a")
    )
    found = told(case, clutch={"2": 1}, seasons=2, lives=0.5, runs=40_000)
    # Second season: with M if he lives, else with N, if she lives.
    one = 1 - 0.5**2
    second = 0.5 * (0.5 * one + 0.25 * 2 / 3 * one)
    close(found, [one, one + (1 - one) * second])


@pytest.mark.parametrize("wanted", [1, 4])
def test_the_closed_form_is_what_is_played(wanted: int, monkeypatch: pytest.MonkeyPatch) -> None:
    rules: dict[str, Any] = {
        "goal": BOTH, "seasons": 3, "wanted": wanted, "clutch": {"5": 0.3, "9": 0.7},
        "lays": 0.8, "lives": 0.9, "clutches": 2, "runs": 40_000,
    }  # fmt: skip
    case = pair("ab", a="+/a", b={"+/b": 0.5, "b/b": 0.5})
    exact = told(case, **rules)
    assert exact.exact and all(one.se == 0 for one in exact.reached)
    close(played(monkeypatch, case, **rules), chances(exact))
