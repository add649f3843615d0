"""A book that grows record by record gives what a fresh solve of the whole gives."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from genetics.casefile import read_case
from genetics.errors import ImpossibleEvidence, MalformedCase
from genetics.population import (
    Animal,
    Clutch,
    Couple,
    Locus,
    Population,
    Sex,
    Sighting,
    TallyLine,
    Trait,
)
from genetics.solving import Solved, solve
from tests.benchmarks.pedigrees import generate, to_case


def book(animals: int = 400, seed: int = 5, loci: int = 2) -> Solved:
    pedigree = generate(animals, collections=2, loci=loci, seed=seed)
    return solve(read_case(to_case(pedigree)).population)


def new_clutch(
    population: Population, number: int, draw: random.Random
) -> tuple[Clutch, list[Animal]]:
    clutches = population.clutches
    dam = draw.choice(clutches).candidates[0].dam
    sire = draw.choice(clutches).candidates[0].sire
    plain = {trait.id: Sighting(False) for trait in population.traits}
    name = f"N{number}"
    clutch = Clutch(name, (Couple(dam, sire),), tally=(TallyLine(draw.randint(1, 6), shows=plain),))
    sexes: tuple[Sex, ...] = ("female", "male", "unknown")
    kids = [
        Animal(f"{name}-{i}", sex=draw.choice(sexes), clutch=name, shows=plain)
        for i in range(draw.randint(1, 3))
    ]
    return clutch, kids


def same(first: Solved, second: Solved) -> None:
    for locus in first.population.loci:
        ids, keys, table = first.posterior_table(locus.id)
        assert (ids, keys) == second.posterior_table(locus.id)[:2]
        assert np.abs(table - second.posterior_table(locus.id)[2]).max() < 1e-9
    assert first.log_evidence == pytest.approx(second.log_evidence, abs=1e-7)
    unknown = [a.id for a in first.population.animals if a.sex == "unknown"][:5]
    assert [first.sex(a) for a in unknown] == [second.sex(a) for a in unknown]


def background_book(seed: int) -> Population:
    """Nothing is known of any founder, so that all of them may carry, and nothing is certain."""
    pedigree = generate(120, collections=2, loci=1, seed=seed, uncertain="all")
    return read_case(to_case(pedigree)).population


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_additions_among_background_carriers_equal_a_fresh_solve(seed: int) -> None:
    """Bred animals, a founder of unknown papers, young of one recorded parent, a visual young."""
    draw = random.Random(seed)
    solved = solve(background_book(seed))
    (trait,) = solved.population.traits
    for number in range(6):
        clutch, kids = new_clutch(solved.population, number, draw)
        dam = clutch.candidates[0].dam
        kids += [
            Animal(f"F{number}", sex="male"),
            Animal(f"H{number}", dam=dam),
            Animal(f"V{number}", dam=dam, sire=f"F{number}", shows={trait.id: Sighting(True)}),
        ]
        whole = replace(
            solved.population,
            animals=(*solved.population.animals, *kids),
            clutches=(*solved.population.clutches, clutch),
        )
        try:
            fresh = solve(whole)
        except ImpossibleEvidence:
            with pytest.raises(ImpossibleEvidence):
                solved.changed(animals=kids, clutches=[clutch])
            continue
        before = solved.posterior(str(dam), "g0")
        solved = solved.changed(animals=kids, clutches=[clutch])
        same(solved, fresh)
        assert solved.posterior(str(dam), "g0") != before
    assert len(solved.population.animals) > 140


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_clutches_added_one_by_one_equal_a_fresh_solve(seed: int) -> None:
    draw = random.Random(seed)
    solved = book(seed=seed)
    grown = 0
    for number in range(40):
        clutch, kids = new_clutch(solved.population, number, draw)
        whole = replace(
            solved.population,
            animals=(*solved.population.animals, *kids),
            clutches=(*solved.population.clutches, clutch),
        )
        try:
            solved = solved.changed(animals=kids, clutches=[clutch])
        except ImpossibleEvidence:
            with pytest.raises(ImpossibleEvidence):
                solve(whole)
            continue
        grown += 1
        if grown in (1, 4, 8):
            same(solved, solve(whole))
        if grown == 8:
            return
    pytest.fail("too few possible clutches were drawn")


def test_older_book_is_unchanged_and_can_branch() -> None:
    draw = random.Random(9)
    base = book(seed=9)
    before = base.posterior_table("g0")[2].copy()
    branches = []
    for number in range(30):
        clutch, kids = new_clutch(base.population, number, draw)
        try:
            branches.append((base.changed(animals=kids, clutches=[clutch]), clutch, kids))
        except ImpossibleEvidence:
            continue
        if len(branches) == 2:
            break
    assert np.array_equal(base.posterior_table("g0")[2], before)
    for solved, clutch, kids in branches:
        population = base.population
        whole = replace(
            population,
            animals=(*population.animals, *kids),
            clutches=(*population.clutches, clutch),
        )
        same(solved, solve(whole))


def test_changed_record_replaces_the_old_one() -> None:
    base = book(animals=120)
    animal = next(a for a in base.population.animals if a.shows)
    blind = animal._replace(shows={})
    changed = base.changed(animals=[blind])
    animals = tuple(blind if a.id == animal.id else a for a in base.population.animals)
    same(changed, solve(replace(base.population, animals=animals)))
    same(changed.changed(animals=[animal]), base)


def test_record_taken_away_is_forgotten() -> None:
    base = book(animals=120)
    lone = Animal("lone")
    assert "lone" in base.changed(animals=[lone]).population.animal_index
    same(base.changed(animals=[lone]).changed(without=["lone"]), base)


def test_malformed_addition_names_its_place() -> None:
    with pytest.raises(MalformedCase, match="nobody"):
        book(animals=60).changed(animals=[Animal("K", dam="nobody")])


HIDDEN = Trait("Saltgrass", shown_by=({"l": ("m/m",)},))


def litter(*founders: Animal, dam: str | None) -> Population:
    """A clutch of X and Y whose sire nobody recorded, in a population where carriers are about."""
    return Population(
        loci=(Locus("l", ("+", "m")),),
        traits=(HIDDEN,),
        background={"l": {"m": 0.3}},
        animals=(
            *founders,
            Animal("X", sex="female", clutch="C"),
            Animal("Y", sex="male", clutch="C"),
            Animal("Z", sex="male", clutch="C", likelihood={"l": {"+/m": 1}}),
            Animal("M", sex="male", founder={"l": {"m/m": 1}}),
        ),
        clutches=(Clutch("C", (Couple(dam, None),)),),
    )


@pytest.mark.parametrize(
    "population",
    [litter(Animal("D", sex="female", founder={"l": {"+/m": 1}}), dam="D"), litter(dam=None)],
    ids=["one parent unrecorded", "both unrecorded"],
)
def test_sibs_learn_of_their_unrecorded_parent(population: Population) -> None:
    """A visual young of X tells of the sire that Y has too, though their dam is certain."""
    young = Animal("K", dam="X", sire="M", shows={"Saltgrass": Sighting(True)})
    solved = solve(population)
    changed = solved.changed(animals=[young])
    same(changed, solve(replace(population, animals=(*population.animals, young))))
    assert changed.posterior("Y", "l") != pytest.approx(solved.posterior("Y", "l"), abs=1e-3)


def test_addition_beyond_exact_is_marked() -> None:
    pedigree = generate(300, collections=1, loci=1, seed=1, uncertain="all")
    solved = solve(read_case(to_case(pedigree)).population)
    couples = [clutch.candidates[0] for clutch in solved.population.clutches]
    unsure = next(c for c in couples if 0.1 < solved.posterior(str(c.dam), "g0")["+/a"] < 0.9)
    plain = {solved.population.traits[0].id: Sighting(False)}
    clutch = Clutch("N", (unsure,), tally=(TallyLine(2, shows=plain),))
    assert solved.changed(clutches=[clutch]).exact
    solved.limit = 1.0
    assert not solved.changed(clutches=[clutch]).exact


def test_clutch_with_several_couples_and_nothing_recorded_leaves_kin_in_place() -> None:
    """Clutches after it keep their own parents."""
    base = litter(Animal("D", sex="female", founder={"l": {"+/m": 1}}), dam="D")
    empty = Clutch(
        "E", (Couple("D", "M", 0.5), Couple("D", "Z", 0.5)), "each", stated_candidates=True
    )
    population = replace(base, clutches=(empty, *base.clutches))
    young = Animal("K", dam="X", sire="M", shows={"Saltgrass": Sighting(True)})
    changed = solve(population).changed(animals=[young])
    same(changed, solve(replace(population, animals=(*population.animals, young))))
