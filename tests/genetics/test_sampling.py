"""Answers beyond exact inference: their error bars must cover the exact values."""

from __future__ import annotations

from math import sqrt
from statistics import stdev

import numpy as np
import pytest

from genetics.casefile import answer_case, read_case
from genetics.errors import BeyondExact
from genetics.population import Population
from genetics.sampling import BATCHES, CHAINS, UNSEEN, WIDER, half_widths
from genetics.solving import solve
from tests.benchmarks.pedigrees import generate, to_case


def uncertain_population(seed: int, animals: int = 400) -> Population:
    pedigree = generate(animals, collections=1, loci=1, seed=seed, uncertain="all")
    return read_case(to_case(pedigree)).population


def test_bars_cover_exact_values() -> None:
    """At least 95 % of the uncertain animals lie within their bars, and of those clearly off."""
    errors, widths = [], []
    for seed in (1, 2, 5, 10, 14):
        population = uncertain_population(seed)
        locus = population.loci[0].id
        exact = solve(population, exact_only=True)
        sampled = solve(population, narrow=81.0)
        assert exact.exact and not sampled.exact
        truth = exact.posterior_table(locus)[2]
        bars = np.array([sampled.error(a.id, locus) for a in population.animals])
        open_ = ((truth > 0) & (truth < 1)).any(axis=1)
        off = np.abs(truth - sampled.posterior_table(locus)[2]).max(axis=1)
        assert off.max() < 0.05
        assert bars[~open_].max(initial=0.0) < 0.01
        errors.append(off[open_])
        widths.append(bars[open_])
    error, width = np.concatenate(errors), np.concatenate(widths)
    clearly = error > 0.001
    assert len(error) > 1_000 and clearly.sum() > 100
    assert (error <= width).mean() >= 0.95
    assert (error <= width)[clearly].mean() >= 0.95
    assert np.median(width[clearly]) < 0.03  # wide enough, not merely wide


def test_half_widths_follow_the_formula() -> None:
    rng = np.random.default_rng(0)
    means = rng.random((CHAINS * BATCHES, 5))
    chains = means.reshape(CHAINS, BATCHES, 5).mean(axis=1)
    for i, width in enumerate(half_widths(means)):
        by_batch = 2.068657610419041 * stdev(means[:, i]) / sqrt(24)
        by_chain = 2.3646242510102993 * stdev(chains[:, i]) / sqrt(8)
        assert width == pytest.approx(WIDER * max(by_batch, by_chain))
    assert half_widths(np.ones((CHAINS * BATCHES, 1))) == pytest.approx(UNSEEN)


def test_same_seed_gives_same_answer() -> None:
    population = uncertain_population(7, animals=150)
    locus = population.loci[0].id
    first = solve(population, narrow=27.0).posterior_table(locus)[2]
    second = solve(population, narrow=27.0).posterior_table(locus)[2]
    assert np.array_equal(first, second)


def test_exact_only_says_so_before_starting() -> None:
    population = uncertain_population(1)
    with pytest.raises(BeyondExact, match="more than the limit of 10"):
        solve(population, limit=10.0, exact_only=True)


def test_answer_beyond_exact_is_marked() -> None:
    pedigree = generate(150, collections=1, loci=1, seed=3, uncertain="all")
    answer = answer_case(to_case(pedigree), limit=10.0)
    assert answer["exact"] is False
    assert answer["log_evidence"] is None
    open_ = {a for a, loci in answer["posterior"].items() if 0 < max(loci["g0"].values()) < 1}
    assert open_ <= set(answer["errors"])
    assert min(answer["errors"][a]["g0"] for a in open_) > 0


def test_exact_answer_is_not_marked() -> None:
    answer = answer_case(to_case(generate(60, collections=1, loci=1, seed=3)))
    assert "exact" not in answer


def test_notice_comes_before_sampling() -> None:
    population = uncertain_population(7, animals=150)
    told: list[str] = []
    solve(population, limit=10.0, notice=told.append)
    assert len(told) == 1
    assert told[0].endswith("more than the limit of 10; answering by sampling, with error bars")


def test_undecided_lines_beyond_exact_are_refused_in_words() -> None:
    case = to_case(generate(150, collections=1, loci=2, seed=3, uncertain="all"))
    case["same_locus"] = [{"loci": ["g0", "g1"], "prior": 0.5}]
    answer = answer_case(case, limit=10.0)
    assert answer["error"] == "beyond"
    assert "more than the limit of 10" in answer["message"]
