"""Posteriors against a general-purpose Bayesian-network library (pyAgrum, exact inference).

The plain network has a node an animal with its genotype; conditional tables are written here from
Mendel's law, not taken from the engine.
"""

from __future__ import annotations

import random
import warnings
from itertools import combinations_with_replacement, product
from typing import Any

import numpy as np
import pytest

from genetics.casefile import read_case
from genetics.population import Animal, Locus, Population, Sighting, Trait
from genetics.solve import solve
from tests.benchmarks.pedigrees import generate, to_case

with warnings.catch_warnings():
    # The library's compiled part warns while it loads, and cannot bear that to be an error.
    warnings.simplefilter("ignore")
    import pyagrum

gum: Any = pyagrum

Parents = list[tuple[int, int] | None]


def nasty_pedigree(animals: int, founders: int, draw: random.Random) -> tuple[Parents, list[str]]:
    """Few founders, one favourite sire, full sibs and parent-offspring matings throughout."""
    parents: Parents = [None] * founders
    sexes = ["male" if i % 4 == 0 else "female" for i in range(founders)]
    while len(parents) < animals:
        females = [i for i, sex in enumerate(sexes) if sex == "female"]
        males = [i for i, sex in enumerate(sexes) if sex == "male"]
        dam = draw.choice(females)
        sire = draw.choice(males)
        how = draw.random()
        if how < 0.4:
            sire = males[0]
        elif how < 0.6 and parents[dam] is not None:
            sire = parents[dam][1]  # type: ignore[index]
        elif how < 0.8:
            sibs = [i for i in males if parents[i] is not None and parents[i] == parents[dam]]
            sire = draw.choice(sibs) if sibs else sire
        for _ in range(draw.randint(1, 5)):
            parents.append((dam, sire))
            sexes.append(draw.choice(("female", "male")))
    return parents[:animals], sexes[:animals]


def keys_of(alleles: tuple[str, ...], lone: bool) -> list[tuple[str, ...]]:
    return [(a,) for a in alleles] if lone else list(combinations_with_replacement(alleles, 2))


def spelled(genotype: tuple[str, ...]) -> str:
    return f"{genotype[0]}/{genotype[1] if len(genotype) == 2 else 'Y'}"


def child_table(
    alleles: tuple[str, ...], dam: list[tuple[str, ...]], sire: list[tuple[str, ...]],
    child: list[tuple[str, ...]], x_linked: bool,
) -> Any:  # fmt: skip
    """P(child | dam, sire): one allele of each parent; a son's X comes from his dam alone."""
    table = np.zeros((len(dam), len(sire), len(child)))
    son = x_linked and len(child[0]) == 1
    for (i, mother), (j, father) in product(enumerate(dam), enumerate(sire)):
        for a in mother:
            for b in father:
                made = (a,) if son else tuple(sorted((a, b), key=alleles.index))
                table[i, j, child.index(made)] += 1 / len(mother) / len(father)
    return table


def reference(
    alleles: tuple[str, ...], x_linked: bool, parents: Parents, sexes: list[str],
    priors: list[dict[str, float]], likelihoods: list[dict[str, float]],
) -> list[dict[str, float]]:  # fmt: skip
    """All posteriors by the library's exact inference on the plain network."""
    net = gum.BayesNet()
    keys = [keys_of(alleles, x_linked and sex == "male") for sex in sexes]
    for i, own in enumerate(keys):
        net.add(gum.RangeVariable(f"a{i}", "", 0, len(own) - 1))
    for i, couple in enumerate(parents):
        if couple is None:
            net.cpt(i).fillWith([priors[i].get(spelled(k), 0.0) for k in keys[i]])
            continue
        for parent in couple:
            net.addArc(f"a{parent}", f"a{i}")
        dam, sire = couple
        table = child_table(alleles, keys[dam], keys[sire], keys[i], x_linked)
        for m, f in product(range(len(keys[dam])), range(len(keys[sire]))):
            net.cpt(i)[{f"a{dam}": m, f"a{sire}": f}] = table[m, f]
    engine = gum.ShaferShenoyInference(net)
    for i, likelihood in enumerate(likelihoods):
        if likelihood:
            engine.addEvidence(i, [likelihood.get(spelled(k), 0.0) for k in keys[i]])
    engine.makeInference()
    return [
        dict(zip(map(spelled, own), engine.posterior(i).toarray(), strict=True))
        for i, own in enumerate(keys)
    ]


def dropped(
    alleles: tuple[str, ...], x_linked: bool, parents: Parents, sexes: list[str],
    prior: dict[str, float], draw: random.Random,
) -> list[tuple[str, ...]]:  # fmt: skip
    """A simulated truth, so that the evidence is possible."""
    truth: list[tuple[str, ...]] = []
    for couple, sex in zip(parents, sexes, strict=True):
        lone = x_linked and sex == "male"
        if couple is None:
            own = keys_of(alleles, lone)
            truth.append(draw.choices(own, [prior.get(spelled(k), 0.0) for k in own])[0])
        elif lone:
            truth.append((draw.choice(truth[couple[0]]),))
        else:
            pair = (draw.choice(truth[couple[0]]), draw.choice(truth[couple[1]]))
            truth.append(tuple(sorted(pair, key=alleles.index)))
    return truth


CASES = {
    "recessive": (("+", "m"), False, {"+/+": 0.6, "+/m": 0.3, "m/m": 0.1}),
    "three alleles": (
        ("+", "p", "q"),
        False,
        {"+/+": 0.5, "+/p": 0.2, "+/q": 0.15, "p/q": 0.1, "p/p": 0.05},
    ),
    "on X": (("+", "m"), True, {"+/+": 0.6, "+/m": 0.3, "m/m": 0.1, "+/Y": 0.7, "m/Y": 0.3}),
}


@pytest.mark.parametrize("animals", [50, 120, 250])
@pytest.mark.parametrize("kind", CASES)
def test_inbred_pedigrees_agree_with_the_library(kind: str, animals: int) -> None:
    alleles, x_linked, prior = CASES[kind]
    draw = random.Random(f"{kind}{animals}")
    parents, sexes = nasty_pedigree(animals, 10, draw)
    truth = dropped(alleles, x_linked, parents, sexes, prior, draw)
    priors, likelihoods, rows = [], [], []
    for i, (couple, sex) in enumerate(zip(parents, sexes, strict=True)):
        own = [spelled(k) for k in keys_of(alleles, x_linked and sex == "male")]
        priors.append({key: prior[key] for key in own if key in prior})
        likelihood = {}
        if draw.random() < 0.5:
            likelihood = {key: round(draw.uniform(0.05, 0.5), 3) for key in own}
            likelihood[spelled(truth[i])] = 1.0
        likelihoods.append(likelihood)
        total = sum(priors[i].values())
        rows.append(
            Animal(
                f"a{i}",
                sex=sex,  # type: ignore[arg-type]
                dam=None if couple is None else f"a{couple[0]}",
                sire=None if couple is None else f"a{couple[1]}",
                founder={} if couple else {"l": {k: p / total for k, p in priors[i].items()}},
                likelihood={"l": likelihood} if likelihood else {},
            )
        )
        priors[i] = {key: p / total for key, p in priors[i].items()}
    locus = Locus("l", alleles, "X" if x_linked else "autosome")
    solved = solve(Population(loci=(locus,), animals=tuple(rows), sex_determination="XY"))
    expected = reference(alleles, x_linked, parents, sexes, priors, likelihoods)
    for i, wanted in enumerate(expected):
        assert solved.posterior(f"a{i}", "l") == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize(("animals", "seed"), [(300, 1), (1_000, 2)])
def test_breeding_pedigrees_agree_with_the_library(animals: int, seed: int) -> None:
    pedigree = generate(animals, collections=1, loci=1, seed=seed)
    population = read_case(to_case(pedigree)).population
    trait: Trait = population.traits[0]
    index = population.animal_index
    couples = {c.id: c.candidates[0] for c in population.clutches}
    parents: Parents = []
    priors: list[dict[str, float]] = []
    likelihoods: list[dict[str, float]] = []
    seen = {True: {"a/a": 1.0}, False: {"+/+": 1.0, "+/a": 1.0}}
    for animal in population.animals:
        names = couples[animal.clutch] if animal.clutch else animal
        lone = names.dam is None or names.sire is None
        parents.append(None if lone else (index[names.dam], index[names.sire]))  # type: ignore[index]
        stated = animal.founder.get("g0", {"+/+": 1.0})
        priors.append({key: float(p) for key, p in stated.items()})
        sighting: Sighting | None = animal.shows.get(trait.id)
        likelihoods.append({} if sighting is None else seen[sighting.seen])
    sexes = ["none"] * len(parents)
    for clutch in population.clutches:
        for line in clutch.tally:
            for _ in range(line.count):
                parents.append((index[clutch.candidates[0].dam], index[clutch.candidates[0].sire]))  # type: ignore[index]
                sexes.append("none")
                priors.append({})
                likelihoods.append(seen[line.shows[trait.id].seen])
    expected = reference(("+", "a"), False, parents, sexes, priors, likelihoods)
    solved = solve(population)
    for i, animal in enumerate(population.animals):
        assert solved.posterior(animal.id, "g0") == pytest.approx(expected[i], abs=1e-9)
