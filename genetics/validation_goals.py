"""Checks that questions share: of an animal that is asked about, its sex, and a goal."""

from __future__ import annotations

from collections.abc import Mapping

from genetics.checks import check_one, refuse, refuse_unknown, shown
from genetics.keys import SEXES, KnownSex
from genetics.population import Goal, Locus, Population
from genetics.validation_inheritance import check_genotype_lists

ROLES: dict[KnownSex, str] = {"female": "dam", "male": "sire"}


def check_animal(name: str, population: Population, place: str) -> None:
    """Check that an animal is recorded.

    Raises:
        MalformedCase: it is not; names the nearest.
    """
    if name not in population.animal_index:
        refuse_unknown(place, "animal", name, population.animal_index)


def check_of_sex(name: str, sex: KnownSex, population: Population, place: str) -> None:
    """Check that an animal is recorded, and as of that sex.

    Raises:
        MalformedCase: it is not.
    """
    check_animal(name, population, place)
    known = population.sexes[population.animal_index[name]]
    if known != sex:
        refuse(
            place,
            f"the sex of {shown(name)} is {known}; expected an animal recorded as {sex} or "
            f"named as a {ROLES[sex]}",
        )


def check_trait(name: str, population: Population, place: str) -> None:
    """Check that a trait is known.

    Raises:
        MalformedCase: it is not; names the nearest.
    """
    traits = dict.fromkeys(trait.id for trait in population.traits)
    if name not in traits:
        refuse_unknown(place, "trait", name, traits)


def check_goal(goal: Goal, population: Population, loci: Mapping[str, Locus], place: str) -> None:
    """Check that a goal names traits, loci, genotypes and a sex that there are.

    Raises:
        MalformedCase: it does not; names the place.
    """
    for trait in goal.shows:
        check_trait(trait, population, f"{place}.shows.{trait}")
    check_genotype_lists(goal.genotypes, population, loci, f"{place}.genotypes")
    if goal.sex is not None:
        check_one(goal.sex, SEXES, f"{place}.sex")
