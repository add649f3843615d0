"""The engine against a general-purpose library's exact inference on pedigrees with loops."""

from __future__ import annotations

import numpy as np
import pytest

from genetics.casefile import read_case
from genetics.solving import solve
from tests.benchmarks import engine
from tests.benchmarks.measure import Spec
from tests.benchmarks.pedigrees import generate, locus_id, to_case
from tests.benchmarks.rivals import MarkovField, PlainNetwork
from tests.genetics.reference_network import Kind, Tangle, closed_pool, one_sire

TOLERANCE = 1e-9
KINDS: tuple[Kind, ...] = ("recessive", "three alleles", "X")

BRED = [
    Spec(50, 1, 1, 1, "all"),
    Spec(120, 3, 2, 2, "all"),
    Spec(400, 1, 1, 3, "all"),
    Spec(1_000, 1, 1, 1, "carriers"),
    Spec(1_000, 1, 1, 5, "all"),
    Spec(1_000, 2, 3, 6, "carriers"),
]


@pytest.mark.parametrize("spec", BRED, ids=lambda s: f"{s.animals}-{s.collections}-{s.uncertain}")
def test_posteriors_agree_on_breeding_pedigrees(spec: Spec) -> None:
    pedigree = spec.pedigree()
    solved = solve(read_case(to_case(pedigree)).population)
    assert solved.exact
    for locus in range(pedigree.loci):
        expected = PlainNetwork(pedigree, locus, tallies="nodes").posteriors()
        _, keys, found = solved.posterior_table(locus_id(locus))
        assert keys == ("+/+", "+/a", "a/a")
        np.testing.assert_allclose(found, expected, rtol=0, atol=TOLERANCE)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("animals", "pool", "seed"), [(50, 2, 1), (150, 3, 2), (300, 5, 4), (1_000, 2, 5)]
)
def test_posteriors_agree_within_closed_pools(
    kind: Kind, animals: int, pool: int, seed: int
) -> None:
    _check(closed_pool(kind, animals, pool, seed))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", [1, 2])
def test_posteriors_agree_with_one_sire_over_forty_dams(kind: Kind, seed: int) -> None:
    _check(one_sire(kind, 40, seed))


def _check(tangle: Tangle) -> None:
    """Every posterior, the chance of each unknown sex and the evidence agree."""
    expected, log_evidence = tangle.reference()
    solved = solve(read_case(tangle.case()).population)
    assert solved.exact
    assert solved.log_evidence == pytest.approx(log_evidence, rel=TOLERANCE)
    for one in tangle.individuals:
        if one.name is None:
            continue
        assert solved.posterior(one.name, "g") == pytest.approx(expected[one.name], abs=TOLERANCE)
        if one.sex == "unknown":
            female = sum(p for key, p in expected[one.name].items() if "Y" not in key)
            told = female if tangle.kind == "X" else 0.5
            assert solved.sex(one.name) == pytest.approx(told, abs=TOLERANCE)


def test_second_rival_agrees_on_the_reduced_network() -> None:
    book = engine.population(engine.records(generate(300, seed=4, uncertain="all")))
    network = engine.reduced(book)
    animals, states = engine.reduced_variables(network)
    assert len(animals) > 20
    found = engine.solve_reduced(network, 2.0**20)
    expected = MarkovField(*engine.as_factors(network)).posteriors()
    for animal, kept, marginal in zip(animals, states, expected, strict=True):
        np.testing.assert_allclose(found[animal][kept], marginal, rtol=0, atol=TOLERANCE)


def test_rival_gives_the_same_for_tally_lines_as_for_single_hatchlings() -> None:
    pedigree = generate(300, seed=7, uncertain="all")
    assert pedigree.tally_count.sum() > len(pedigree.tally_count) > 0
    lines = PlainNetwork(pedigree).posteriors()
    single = PlainNetwork(pedigree, tallies="nodes").posteriors()
    np.testing.assert_allclose(lines, single, rtol=0, atol=TOLERANCE)


def test_records_in_memory_are_the_case_that_is_written() -> None:
    for pedigree in (generate(100, loci=2, seed=3), generate(100, seed=3, uncertain="all")):
        assert read_case(to_case(pedigree)).population == engine.population(
            engine.records(pedigree)
        )
