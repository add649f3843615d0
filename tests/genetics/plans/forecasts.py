"""Cases and questions for the tests of forecasts."""

from __future__ import annotations

from typing import Any

import pytest

from genetics import read_case, solve
from genetics.plans.forecast import Forecast, answer, forecast
from genetics.plans.forecast.genome import genome
from genetics.plans.forecast.hand import Hand, at_hand
from genetics.plans.forecast.random_numbers import Stream
from genetics.plans.forecast.simulate import Played, play
from genetics.plans.questions import ForecastQuestion
from genetics.solving import Solved
from tests.genetics.twin_genome import Case

RECESSIVES = [
    {"id": "A", "recessive_at": ["a"]}, {"id": "B", "recessive_at": ["b"]},
    {"id": "C", "recessive_at": ["c"]},
]  # fmt: skip
GENES = "abc"


def book(*animals: dict[str, Any], genes: str = "a", **parts: Any) -> Case:
    """A case of unlinked autosomal recessives, each with a look of its own."""
    return {
        "case": 1,
        "sex_determination": "none",
        "loci": [{"id": g, "alleles": ["+", g]} for g in genes],
        "traits": [RECESSIVES[GENES.index(g)] for g in genes],
        "animals": list(animals),
        **parts,
    }


def founder(name: str, sex: str, **founder: Any) -> dict[str, Any]:
    """A founder: by locus a genotype key, or chances by key."""
    stated = {lc: one if isinstance(one, dict) else {one: 1} for lc, one in founder.items()}
    return {"id": name, "sex": sex, "founder": stated}


def pair(genes: str = "a", **both: Any) -> Case:
    """A dam F and a sire M that are alike."""
    return book(founder("F", "female", **both), founder("M", "male", **both), genes=genes)


def asking(case: Case, **fields: Any) -> tuple[Solved, ForecastQuestion]:
    """The solved case, and the question: all animals mature at once unless said otherwise."""
    raw = {
        "goal": {"shows": {"A": True}},
        "animals": {one["id"]: 3 for one in case["animals"]},
        "seasons": 1,
        "clutch": {"8": 1},
        **fields,
    }
    read = read_case({**case, "ask": {"forecast": [raw]}})
    return solve(read.population), read.ask.forecast[0]


def told(case: Case, **fields: Any) -> Forecast:
    """The answer to a question about a case."""
    return forecast(*asking(case, **fields))


def chances(found: Forecast) -> list[float]:
    """Of each season."""
    return [one.p for one in found.reached]


def played(monkeypatch: pytest.MonkeyPatch, case: Case, **fields: Any) -> Forecast:
    """The answer by simulation, also where there is a closed form."""
    with monkeypatch.context() as patched:
        patched.setattr(answer, "breeders", lambda population, question: None)
        found = told(case, **fields)
    assert not found.exact
    return found


def laid_out(case: Case, **fields: Any) -> tuple[Hand, ForecastQuestion, Stream]:
    """What a simulation begins with."""
    solved, question = asking(case, **fields)
    animals, stream = tuple(question.animals), Stream.of(question.seed)
    known = genome(solved, question.goal, animals, question.females)
    return at_hand(solved, known, animals, question.runs, stream), question, stream


def simulation(case: Case, trails: bool = False, **fields: Any) -> Played:
    """Every run of a simulation."""
    hand, question, stream = laid_out(case, **fields)
    return play(hand, question, stream, hand.drawn(question.runs, stream), trails)


def close(found: Forecast, expected: list[float], more: float = 0.0, errors: float = 4.0) -> None:
    """Assert that chances agree within so many standard errors, and those of the other side."""
    for one, other in zip(found.reached, expected, strict=True):
        spread = (one.se**2 + more**2) ** 0.5
        assert abs(one.p - other) <= errors * spread + 1e-12
