"""Answers beyond exact inference: their error bars must cover the exact values."""

from __future__ import annotations

from math import sqrt
from random import Random
from statistics import stdev
from typing import Any

import numpy as np
import pytest

from genetics.casefile import answer_case, read_case
from genetics.errors import BeyondExact
from genetics.population import (
    Animal,
    Interval,
    Linkage,
    Locus,
    Population,
    Sighting,
    Trait,
)
from genetics.sampling import (
    BATCHES,
    CHAINS,
    UNSEEN,
    WIDER,
    WIDER_LINKED,
    half_widths,
)
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


def test_bars_of_chains_that_have_not_met_say_that_nothing_is_known() -> None:
    rng = np.random.default_rng(0)
    apart = np.repeat(rng.random((CHAINS, 1)) > 0.5, BATCHES, axis=0).astype(float)
    assert half_widths(apart).tolist() == [1.0]
    near = 0.3 + 0.01 * rng.random((CHAINS * BATCHES, 1))
    assert half_widths(near, WIDER_LINKED) == pytest.approx(
        half_widths(near) * WIDER_LINKED / WIDER
    )


def linked_family(seed: int) -> Population:
    """Twenty-four animals with two linked recessives; half of all looks were noted.

    The looks are those of gametes dropped from drawn founders, so that they can be.
    """
    draw = Random(seed)
    rate = Interval(draw.choice((0, 0.02, 0.1)), draw.choice((0, 0.02, 0.1)))
    papers = {"+/+": 0.36, "+/m": 0.48, "m/m": 0.16}
    truth: list[tuple[tuple[str, str], tuple[str, str]]] = []
    animals = []
    for i in range(24):
        parents: dict[str, Any] = {}
        if i < 6:
            alleles = ["m" if draw.random() < 0.4 else "+" for _ in range(4)]
            truth.append(((alleles[0], alleles[1]), (alleles[2], alleles[3])))
            parents["founder"] = {"a": papers, "b": papers}
        else:
            dam, sire = (draw.randrange(max(0, i - 10) // 2, i // 2) * 2 + x for x in (0, 1))
            egg = gamete(draw, truth[dam], float(rate.female))
            truth.append((egg, gamete(draw, truth[sire], float(rate.male))))
            parents |= {"dam": f"A{dam}", "sire": f"A{sire}"}
        one, other = truth[i]
        seen = {f"T{x}": Sighting(one[x] == other[x] == "m") for x in (0, 1) if draw.random() < 0.5}
        animals.append(Animal(f"A{i}", ("female", "male")[i % 2], shows=seen, **parents))
    return Population(
        (Locus("a", ("+", "m")), Locus("b", ("+", "m"))), tuple(animals),
        traits=(Trait("T0", recessive_at=("a",)), Trait("T1", recessive_at=("b",))),
        linkage=(Linkage(("a", "b"), (rate,)),),
    )  # fmt: skip


def gamete(draw: Random, parent: tuple[tuple[str, str], tuple[str, str]], r: float) -> Any:
    strand = draw.randint(0, 1)
    other = 1 - strand if draw.random() < r else strand
    return parent[strand][0], parent[other][1]


def test_bars_of_starved_linked_loci_cover_exact_values() -> None:
    """Cliques of 20 cells, where 36 states meet: the worst of room that sampling may have."""
    errors, widths = [], []
    for seed in range(12):
        population = linked_family(seed)
        exact, sampled = solve(population, exact_only=True), solve(population, narrow=20.0)
        for locus in population.loci:
            truth = exact.posterior_table(locus.id)[2]
            found = sampled.posterior_table(locus.id)[2]
            errors.append(np.abs(truth - found).max(axis=1))
            widths.append([sampled.error(a.id, locus.id) for a in population.animals])
    error, width = np.concatenate(errors), np.concatenate(widths)
    clearly = error > 0.001
    assert clearly.sum() > 300
    assert (error <= width)[clearly].mean() >= 0.99
    assert (error - width).max() < 0.05
    assert np.median(width[clearly]) < 0.2  # wide enough, not merely wide


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
