"""Evidence that spans more than a float holds is weighed in logarithms, not called impossible."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from math import exp, log

import numpy as np
import pytest

from genetics.errors import ImpossibleEvidence
from genetics.individuals import lay_out
from genetics.kernels import tree
from genetics.logspace import redo
from genetics.model import build
from genetics.network import Network, build_network
from genetics.planning import Run, outputs, plan
from genetics.population import (
    Animal,
    Clutch,
    Couple,
    Locus,
    Population,
    Sighting,
    TallyLine,
    Trait,
)
from genetics.solving import solve
from genetics.space_list import make_spaces
from tests.benchmarks.engine import population, records
from tests.benchmarks.pedigrees import generate

KEYS = ("+/+", "+/m", "m/m")
ERROR = 0.01
SCORES = (("D1", 2_000, 2_000), ("D2", 4_000, 0), ("D3", 900, 2_700), ("K", 3_000, 1_000))
"""Mates of the sire, their clean and their showing hatchlings."""
PRIORS = {
    "S": (0.3, 0.4, 0.3),
    "D1": (0.1, 0.2, 0.7),
    "D2": (0.0, 0.5, 0.5),
    "D3": (0.2, 0.5, 0.3),
}


def scored(clean: int, showing: int, error: float = ERROR) -> tuple[TallyLine, ...]:
    return tuple(
        TallyLine(
            count, shows={"Quillwort": Sighting(seen, false_negative=error, false_positive=error)}
        )
        for count, seen in ((clean, False), (showing, True))
        if count
    )


def book(scores: tuple[tuple[str, int, int], ...]) -> Population:
    """One sire over all the dams; K is his daughter by D1, L a young of K that nobody scored."""
    founders = tuple(
        Animal(
            name,
            sex="male" if name == "S" else "female",
            founder={"l": dict(zip(KEYS, prior, strict=True))},
        )
        for name, prior in PRIORS.items()
    )
    young = (Animal("K", sex="female", dam="D1", sire="S"), Animal("L", dam="K", sire="S"))
    return Population(
        loci=(Locus("l", ("+", "m")),),
        traits=(Trait("Quillwort", recessive_at=("l",)),),
        animals=founders + young,
        clutches=tuple(
            Clutch(f"C{dam}", (Couple(dam, "S"),), tally=scored(clean, showing))
            for dam, clean, showing in scores
        ),
    )


def passes(dam: int, sire: int) -> tuple[float, float, float]:
    """Genotypes of a young by number of mutant copies."""
    a, b = dam / 2, sire / 2
    return (1 - a) * (1 - b), a * (1 - b) + b * (1 - a), a * b


def states(scores: tuple[tuple[str, int, int], ...]) -> Iterator[tuple[tuple[int, ...], float]]:
    """Genotypes of S, D1, D2, D3 and K with the logarithm of their joint probability."""
    names = (*PRIORS, "K")
    for genotypes in product(range(3), repeat=5):
        of = dict(zip(names, genotypes, strict=True))
        chance = passes(of["D1"], of["S"])[of["K"]]
        for name, prior in PRIORS.items():
            chance *= prior[of[name]]
        if chance <= 0:
            continue
        total = log(chance) + log(0.5)  # K's sex
        for dam, clean, showing in scores:
            visual = passes(of[dam], of["S"])[2]
            seen = visual * (1 - ERROR) + (1 - visual) * ERROR
            total += clean * log(1 - seen) + showing * log(seen)
        yield genotypes, total


def test_contradicting_scores_of_several_couples_are_weighed() -> None:
    """The chance of each single couple's hatchlings is below the smallest float."""
    solved = solve(book(SCORES))
    found = list(states(SCORES))
    most = max(total for _, total in found)
    mass = sum(exp(total - most) for _, total in found)
    assert solved.log_evidence == pytest.approx(most + log(mass), rel=1e-12)
    for position, name in enumerate((*PRIORS, "K")):
        for copies, key in enumerate(KEYS):
            chance = sum(exp(t - most) for g, t in found if g[position] == copies) / mass
            assert solved.posterior(name, "l")[key] == pytest.approx(chance, abs=1e-11)


def test_balance_of_huge_scores_is_kept() -> None:
    """Two couples speak as loudly for and against: what is left are the prior odds."""
    tell = log((1 - ERROR) / 0.5)
    against = log(0.5 / ERROR)
    clean, showing = 2_000, 2_000
    other = round((against - tell) * showing / tell)
    population = book((("D1", clean, showing), ("D2", other, 0)))
    certain = tuple(
        a._replace(founder={"l": {"m/m": 1}}) if a.id in ("D1", "D2") else a
        for a in population.animals
    )
    sure = Population(
        loci=population.loci, traits=population.traits, animals=certain,
        clutches=population.clutches,
    )  # fmt: skip
    odds = log(0.4 / 0.3) + showing * against - (clean + other) * tell
    chance = solve(sure).posterior("S", "l")
    assert chance["m/m"] == 0.0
    assert log(chance["+/m"] / chance["+/+"]) == pytest.approx(odds, abs=1e-9)


def test_impossible_stays_impossible_among_huge_scores() -> None:
    population = book(SCORES)
    clean = TallyLine(1, shows={"Quillwort": Sighting(False)})
    visual = Animal("V", sex="female", founder={"l": {"m/m": 1}})
    mate = Animal("W", sex="male", founder={"l": {"m/m": 1}})
    with pytest.raises(ImpossibleEvidence):
        solve(
            Population(
                loci=population.loci, traits=population.traits,
                animals=(*population.animals, visual, mate),
                clutches=(*population.clutches, Clutch("X", (Couple("V", "W"),), tally=(clean,))),
            )
        )  # fmt: skip


def network(seed: int) -> Network:
    written = population(records(generate(120, seed=seed, uncertain="all")))
    people = lay_out(written)
    model = build(people, make_spaces(written, (), {}))
    return build_network(model, (0,), model.factors, ())


@pytest.mark.parametrize("seed", range(4))
def test_logarithms_agree_with_floats(seed: int) -> None:
    net = network(seed)
    made, wanted = plan(net, 2.0**20), outputs(net)
    run = Run(net, made, wanted)
    out = np.zeros(wanted.data[-1])
    scales, flaw = run.propagate(net.data, out, np.full(net.size, -1, dtype=np.int64))
    assert (flaw == tree.SOUND).all()
    again, logs = out + 0.5, np.zeros(len(scales))
    flaw[:] = tree.LOST
    redo(run, wanted, again, logs, flaw)
    np.testing.assert_allclose(again, out, atol=1e-12)
    assert logs.sum() == pytest.approx(np.log(scales).sum(), rel=1e-12)
