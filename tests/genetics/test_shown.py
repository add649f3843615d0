"""Looks of several traits: their chances against a sum over every joint genotype."""

from fractions import Fraction
from itertools import product

import pytest
from hypothesis import assume, given, reject, settings
from hypothesis import strategies as st

from genetics.casefile import read_case
from genetics.couple import joint
from genetics.errors import ImpossibleEvidence
from genetics.population import (
    Animal,
    Clutch,
    Couple,
    Locus,
    Population,
    SameLocus,
    Sighting,
    Trait,
)
from genetics.shown import LookAsked, ShownPart, can_be_seen, look_chances
from genetics.solving import solve
from tests.genetics.cases import candidate_cases, masking_cases
from tests.genetics.twin_genome import Case

SG = Trait("Saltgrass", recessive_at=("sg",))
BL = Trait("Blaze", shown_by=({"bl": ("+/b",)},))
SUPER = Trait("Superblaze", shown_by=({"bl": ("b/b",)},), hides=("Saltgrass",))
LOCI = (Locus("sg", ("+", "s", "t")), Locus("bl", ("+", "b")))
BOTH = {"sg": {"+/s": 1}, "bl": {"+/b": 1}}


def family(*animals: Animal, clutches: tuple[Clutch, ...] = ()) -> Population:
    parents = (Animal("D", "female", founder=BOTH), Animal("S", "male", founder=BOTH))
    return Population(
        loci=LOCI, traits=(SG, BL, SUPER), animals=(*parents, *animals), clutches=clutches
    )


def chances(population: Population, *parts: str | ShownPart) -> dict[str, float]:
    asked = tuple(part if isinstance(part, ShownPart) else ShownPart(part) for part in parts)
    everyone = tuple(population.animal_index)
    return {
        row.animal: row.chance
        for row in look_chances(solve(population), [LookAsked("look", everyone, asked)])
    }


def test_a_look_that_something_hides_is_a_sum_over_both_loci() -> None:
    population = family(Animal("K", dam="D", sire="S"))
    # A quarter has the recessive; three quarters of these do not have what hides it.
    assert chances(population, "Saltgrass") == {"K": pytest.approx(3 / 16)}
    assert chances(population, "Saltgrass", "Blaze") == {"K": pytest.approx(1 / 8)}
    assert chances(population, "Saltgrass", "Superblaze") == {}
    assert chances(population, "Blaze") == {"D": 1, "S": 1, "K": pytest.approx(1 / 2)}


def test_what_was_seen_makes_a_look_certain() -> None:
    seen = {"Saltgrass": Sighting(seen=True), "Blaze": Sighting(seen=True)}
    population = family(Animal("K", dam="D", sire="S", shows=seen))
    assert chances(population, "Saltgrass", "Blaze")["K"] == 1


def test_a_part_by_some_alleles_leaves_the_others_out() -> None:
    of_t = Trait("of t", shown_by=({"sg": ("t/t",)},))
    population = family(Animal("A", founder={"sg": {"s/t": Fraction(1, 2), "t/t": Fraction(1, 2)}}))
    assert chances(population, ShownPart("Saltgrass", of_t)) == {"A": pytest.approx(1 / 2)}
    assert chances(population, "Saltgrass") == {"A": 1}


def test_young_of_a_dam_alone_show_what_two_copies_of_hers_show() -> None:
    """A half has two copies of the recessive, a half of Superblaze, which hides it."""
    population = family(Animal("K", dam="D", sire="none"), Animal("L", dam="D", sire="S"))
    assert chances(population, "Saltgrass")["K"] == pytest.approx(1 / 4)
    assert chances(population, "Superblaze")["K"] == pytest.approx(1 / 2)
    assert chances(population, "Saltgrass")["L"] == pytest.approx(3 / 16)


def test_two_possible_sires_tie_what_is_at_two_loci() -> None:
    full = {"sg": {"s/s": 1}, "bl": {"b/b": 1}}
    animals = (
        Animal("F", "female", founder={"sg": {"s/s": 1}}),
        Animal("M", "male", founder=full),
        Animal("N", "male"),
        Animal("K", clutch="C"),
    )
    clutch = Clutch(
        "C",
        (Couple("F", "M", Fraction(1, 2)), Couple("F", "N", Fraction(1, 2))),
        stated_candidates=True,
    )
    assert chances(family(*animals, clutches=(clutch,)), "Saltgrass", "Blaze")["K"] == (
        pytest.approx(1 / 2)
    )


def test_lines_that_may_be_one_locus_are_averaged() -> None:
    pale = Trait("Pale", recessive_at=("pa", "pb"))
    population = Population(
        loci=(Locus("pa", ("+", "p")), Locus("pb", ("+", "q"))),
        traits=(pale,),
        same_locus=(SameLocus(("pa", "pb"), Fraction(3, 10)),),
        animals=(Animal("A", founder={"pa": {"+/p": 1}, "pb": {"+/q": 1}}),),
    )
    assert chances(population, "Pale") == {"A": pytest.approx(3 / 10)}


def test_it_is_said_at_once_what_nobody_can_show() -> None:
    population = family()
    parts = [ShownPart("Saltgrass"), ShownPart("Blaze"), ShownPart("Superblaze")]
    assert can_be_seen(population, parts[:2])
    assert not can_be_seen(population, [parts[0], parts[2]])
    assert not can_be_seen(population, parts[1:])


def by_enumeration(population: Population, animal: str, parts: list[str]) -> float:
    """The twin: every choice of a genotype at each locus, weighed by its joint chance."""
    names = [locus.id for locus in population.loci]
    solved = solve(population, queries=[tuple((animal, name) for name in names)])
    keys = [solved.posterior_table(name)[1] for name in names]
    total = 0.0
    for choice in product(*keys):
        genotype = dict(zip(names, choice, strict=True))
        if all(_visible(population, part, genotype) for part in parts):
            total += joint(solved, animal, {name: [key] for name, key in genotype.items()})
    return total


def _visible(population: Population, name: str, genotype: dict[str, str]) -> bool:
    by_name = {trait.id: trait for trait in population.traits}
    hiders = [
        one
        for one in population.traits
        if one.id != name and ("*" in one.hides or name in one.hides)
    ]
    return _expressed(population, by_name[name], genotype) and not any(
        _expressed(population, one, genotype) for one in hiders
    )


def _expressed(population: Population, trait: Trait, genotype: dict[str, str]) -> bool:
    if any(all(genotype[at] in keys for at, keys in one.items()) for one in trait.shown_by):
        return True
    wild = {locus.id: locus.alleles[0] for locus in population.loci}
    return any(
        wild[at] not in genotype[at].replace("|", "/").split("/") for at in trait.recessive_at
    )


@settings(max_examples=60, deadline=None, derandomize=True)
@given(case=st.one_of(masking_cases(), candidate_cases()), data=st.data())
def test_the_chance_of_a_look_is_that_of_enumeration(case: Case, data: st.DataObject) -> None:
    population = read_case(case).population
    assume(population.traits)
    try:
        solve(population)
    except ImpossibleEvidence:
        reject()
    names = [trait.id for trait in population.traits]
    parts = sorted(data.draw(st.sets(st.sampled_from(names), min_size=1, max_size=3)))
    found = chances(population, *parts)
    for animal in population.animal_index:
        expected = by_enumeration(population, animal, parts)
        assert found.get(animal, 0.0) == pytest.approx(expected, abs=1e-9)
