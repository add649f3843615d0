"""Goals by combinations and double forms, held against enumeration and against simulation.

The twin draws nothing from the engine: genotypes at one locus are pairs of letters, a founder is
what is said of it, a young takes a letter of each parent, and what was seen leaves some out.
"""

import random
from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import product
from math import sqrt

import pytest

from keeper import models as m
from keeper.domain import inference
from tests.keeper.projects.test_combined import Combined

Genotype = tuple[str, str]
Looks = tuple[bool, ...]


# B: Blaze, K: Kelpwash, +: neither.
def blaze(one: Genotype) -> bool:
    """Whether it looks like one copy; two are the double form, another look."""
    return one.count("B") == 1


SHOWS: dict[str, Callable[[Genotype], bool]] = {
    "Superblaze": lambda one: one.count("B") == 2,
    "Halftide": lambda one: set(one) == {"B", "K"},
    "Plainblaze": lambda one: blaze(one) and "K" not in one,
}
CHANCE = {"dam": Fraction(1, 2), "sire": Fraction(1, 3)}


def founder(allele: str, chance: Fraction) -> list[tuple[Genotype, Fraction]]:
    """One that may have one copy."""
    return [((allele, "+"), chance), (("+", "+"), 1 - chance)]


def bred(dam: Genotype, sire: Genotype) -> list[Genotype]:
    """The four equally likely young."""
    return list(product(dam, sire))


def enumerated(sire_has: str, looks: Looks, shows: Callable[[Genotype], bool]) -> Fraction:
    """The chance that the next egg shows it, after young on which Blaze was seen or not."""
    whole = met = Fraction(0)
    for (dam, p), (sire, q) in product(
        founder("B", CHANCE["dam"]), founder(sire_has, CHANCE["sire"])
    ):
        young = bred(dam, sire)
        weight = p * q
        for seen in looks:
            weight *= Fraction(sum(blaze(one) == seen for one in young), len(young))
        whole += weight
        met += weight * Fraction(sum(map(shows, young)), len(young))
    return met / whole


def simulated(
    sire_has: str, looks: Looks, shows: Callable[[Genotype], bool], draw: random.Random
) -> Iterator[bool]:
    """Whether one more egg showed it, each time that the drawn young looked as recorded."""
    for _ in range(40_000):
        dam: Genotype = ("B" if draw.random() < CHANCE["dam"] else "+", "+")
        sire: Genotype = (sire_has if draw.random() < CHANCE["sire"] else "+", "+")
        *young, next_one = ((draw.choice(dam), draw.choice(sire)) for _ in range(len(looks) + 1))
        if all(blaze(one) == seen for one, seen in zip(young, looks, strict=True)):
            yield shows(next_one)


@pytest.mark.parametrize("looks", [(), (False,), (False, False, False), (False, True)], ids=str)
@pytest.mark.parametrize(
    ("name", "sire_has"), [("Superblaze", "B"), ("Halftide", "K"), ("Plainblaze", "K")]
)
def test_a_pair_meets_the_goal_as_often_as_enumerated_and_as_drawn(
    owner: m.Account, name: str, sire_has: str, looks: Looks
) -> None:
    book = Combined(owner)
    book.trait = book.blaze  # which the young are looked at for
    line = {"B": book.one, "K": book.other}[sire_has]
    dam = book.founder("F1", "female", "possible", str(CHANCE["dam"]), line=book.one)
    sire = book.founder("M1", "male", "possible", str(CHANCE["sire"]), line=line)
    clutch = book.clutch("C1", dam, sire)
    for number, seen in enumerate(looks):
        book.young(f"K{number}", clutch, seen=seen)
    project = book.project(m.Trait.objects.get(name=name), dam, sire)
    (found,) = inference.pair_goals(project, [(dam, sire)], eggs=(1, 8))
    exact = enumerated(sire_has, looks, SHOWS[name])
    assert found.each == pytest.approx(float(exact), abs=1e-12)
    assert found.at_least_one[1] == pytest.approx(float(exact), abs=1e-12)
    drawn = list(simulated(sire_has, looks, SHOWS[name], random.Random(f"{name} {looks}")))
    # Five standard errors.
    off = 5 * sqrt(float(exact * (1 - exact)) / len(drawn))
    assert sum(drawn) / len(drawn) == pytest.approx(found.each, abs=off)
