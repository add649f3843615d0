"""A pairing in a sentence, and what stands against it."""

from datetime import date

import pytest

from keeper import models as m
from keeper.domain.pairing.summary import against
from keeper.pages.pairing.page import PairingPage, pairing_page
from tests.factories import AnimalFactory, SpeciesFactory
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 29)


def paired(dam: m.Animal, sire: m.Animal) -> PairingPage:
    """The page of two animals as they stand in the book."""
    return pairing_page(*(m.Animal.objects.get(pk=one.pk) for one in (dam, sire)), eggs=None)


def test_the_wait_is_the_least_number_that_makes_it_sure(owner: m.Account) -> None:
    book = Book(owner)
    dam = book.founder("F-1", "female", "carries")
    sire = book.founder("M-1", "male", "carries")
    found = paired(dam, sire).summary
    # 1 - (3/4)^10 = 94.4 %, with 11 it is 95.8 %.
    assert (found.chance, found.wait, found.harm) == ("25 %", "11 hatchlings for 95 %", "")


def test_where_no_number_is_enough_the_most_are_told(owner: m.Account) -> None:
    book = Book(owner)
    dam = book.founder("F-1", "female", "possible", "2/3")
    sire = book.founder("M-1", "male", "possible", "2/3")
    found = paired(dam, sire).summary
    # Both are hets with 4/9, and then 60 hatchlings show one but for (3/4)^60.
    assert found.wait == "60 hatchlings show one with 44 %"


def test_a_look_with_a_known_harm_is_not_the_best(owner: m.Account) -> None:
    book = Book(owner)
    book.trait.harm, book.trait.harm_source = "Misses when it strikes", "our own notes"
    book.trait.save()
    dam = book.founder("F-1", "female", "carries")
    sire = book.founder("M-1", "male", "carries")
    found = paired(dam, sire).summary
    assert (found.best, found.harm) == ("", "25 % would show a look with a known harm")


def test_kinship_of_half_sibs_needs_you_and_that_of_cousins_does_not(owner: m.Account) -> None:
    book = Book(owner)
    sire = book.founder("M-1", "male")
    dams = [book.founder(f"F-{n}", "female") for n in (1, 2)]
    young = [
        book.young(f"Y-{n}", book.clutch(f"C-{n}", dam, sire), sex=sex)
        for n, (dam, sex) in enumerate(zip(dams, ("female", "male"), strict=True))
    ]
    assert paired(young[0], young[1]).close_kin
    assert not paired(dams[0], young[1]).close_kin


def test_age_death_and_sale_stand_against_it() -> None:
    species = SpeciesFactory.create(female_mature_months=36, male_mature_months=18)
    young = AnimalFactory.create(
        species=species, code="F-1", sex="female", hatched_on=date(2026, 6, 1)
    )
    dead = AnimalFactory.create(species=species, code="M-1", sex="male", status="died")
    assert against((young, dead), TODAY) == [
        "F-1 is too young until May 2029: weight and health decide too.",
        "M-1 is dead.",
    ]
    of_age = AnimalFactory.create(species=species, code="M-2", sex="male", hatched_year=2025)
    unknown = AnimalFactory.create(species=species, code="F-2", sex="female")
    assert against((unknown, of_age), TODAY) == [] and against((unknown, None), TODAY) == []
