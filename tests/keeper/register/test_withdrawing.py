"""What may leave the register, what goes with it, and how it comes back."""

import datetime as dt

import pytest

from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused
from keeper.domain.register.placing import Place, add_line, place_line
from keeper.domain.register.withdrawing import restore, withdraw
from keeper.domain.register.writes import Part, add_trait, keep_showing
from keeper.models import (
    Account,
    Line,
    Locus,
    Observation,
    OpenPair,
    Record,
    Showing,
    Statement,
    Trait,
)
from tests.factories import AnimalFactory, ContactFactory, LineFactory, SpeciesFactory


def reason_against(record: Record, by: Account) -> str:
    with pytest.raises(Refused) as caught:
        withdraw(record=record, by=by, reason="a slip")
    record.refresh_from_db()
    assert not record.is_withdrawn
    said, asked = str(caught.value).rsplit(". ", 1)
    assert asked == "Change or withdraw that first."
    return f"{said}."


@pytest.fixture
def trait(owner: Account) -> Trait:
    add_trait(
        trait=Trait(species=SpeciesFactory.create(name="Corn snake"), name="Saltgrass"),
        line=Line(code="HAR", name="Harvesk"),
        by=owner,
    )
    return Trait.objects.get()


def test_a_trait_goes_with_its_lines_and_loci_and_comes_back_with_them(
    owner: Account, trait: Trait
) -> None:
    har = Line.objects.get()
    add_line(
        line=Line(trait=trait, code="DUN", name="Dunsk"),
        place=Place(open_with={har: 0.5}),  # type: ignore[dict-item]
        by=owner,
    )
    withdraw(record=trait, by=owner, reason="never used")

    def live() -> list[int]:
        return [model.objects.live().count() for model in (Trait, Line, Locus, OpenPair)]

    assert live() == [0, 0, 0, 0]
    entry = restore(record=Trait.objects.get(), by=owner)
    assert entry.what == "Restored the trait Saltgrass"
    assert live() == [1, 2, 2, 1]
    undo(entry=entry, by=owner)
    assert live() == [0, 0, 0, 0]


def test_a_trait_in_use_stays_and_says_why(owner: Account, trait: Trait) -> None:
    animal = AnimalFactory.create(species=trait.species, code="F-1")
    Observation.objects.create(
        animal=animal, trait=trait, seen="yes", on=dt.date(2026, 5, 1), by=owner
    )
    Statement.objects.create(animal=animal, trait=trait, claim="carries")
    assert reason_against(trait, owner) == (
        "the trait Saltgrass is in use: 1 observation (Saltgrass seen on F-1); "
        "1 statement (F-1: 100 % het (one copy) Saltgrass line not known)."
    )


def test_a_base_stays_while_it_has_a_double_form(owner: Account) -> None:
    line = LineFactory.create(trait__name="Reed", trait__shown="single")
    Trait.objects.create(species=line.trait.species, name="Reedbed", shown="every", base=line.trait)
    assert reason_against(line.trait, owner) == (
        "the trait Reed is in use: 1 double form (Reedbed)."
    )


def test_a_line_named_by_a_statement_stays(owner: Account) -> None:
    line = LineFactory.create(code="HAR", trait__name="Saltgrass")
    LineFactory.create(code="PEL", trait=line.trait, locus=line.locus)
    animal = AnimalFactory.create(species=line.trait.species, code="F-1")
    Statement.objects.create(animal=animal, trait=line.trait, line=line, claim="carries")
    assert reason_against(line, owner) == (
        "the line Saltgrass HAR is in use: 1 statement (F-1: 100 % het (one copy) Saltgrass HAR)."
    )


def test_the_only_line_of_a_trait_stays(owner: Account, trait: Trait) -> None:
    assert reason_against(Line.objects.get(), owner) == (
        "the line Saltgrass HAR is in use: it is the only line of Saltgrass, "
        "which you can withdraw as a whole."
    )


def test_a_line_in_a_combination_of_another_trait_stays(owner: Account, trait: Trait) -> None:
    har = Line.objects.get()
    add_line(line=Line(trait=trait, code="DUN", name="Dunsk"), place=Place(), by=owner)
    compound = Trait.objects.create(species=trait.species, name="Saltmarsh", shown="rules")
    keep_showing(showing=Showing(trait=compound), parts=[Part("every", (har,))], by=owner)
    assert reason_against(har, owner) == (
        "the line Saltgrass HAR is in use: "
        "1 part of a combination (both copies (the only one where there is one) of Saltgrass HAR)."
    )


def test_a_line_restored_brings_back_a_locus_that_was_left_empty_since(
    owner: Account, trait: Trait
) -> None:
    har = Line.objects.get()
    pel = Line(trait=trait, code="PEL", name="Pelnaw")
    add_line(line=pel, place=Place(locus=har.locus), by=owner)
    withdraw(record=pel, by=owner, reason="not kept")
    other = Line(trait=trait, code="DUN", name="Dunsk")
    add_line(line=other, place=Place(), by=owner)
    place_line(line=har, place=Place(locus=other.locus), by=owner)
    pel = Line.objects.get(code="PEL")
    assert pel.locus.is_withdrawn
    restore(record=pel, by=owner)
    pel = Line.objects.get(code="PEL")
    assert (pel.is_withdrawn, pel.locus.is_withdrawn) == (False, False)


def test_a_line_of_a_withdrawn_trait_is_restored_with_it_only(owner: Account, trait: Trait) -> None:
    withdraw(record=trait, by=owner, reason="never used")
    with pytest.raises(Refused) as caught:
        restore(record=Line.objects.get(), by=owner)
    assert str(caught.value) == "First restore the trait Saltgrass, which is withdrawn."


def test_a_combination_goes_with_its_parts_and_comes_back(owner: Account, trait: Trait) -> None:
    har = Line.objects.get()
    compound = Trait.objects.create(species=trait.species, name="Saltmarsh", shown="rules")
    showing = Showing(trait=compound)
    keep_showing(showing=showing, parts=[Part("every", (har,))], by=owner)
    entry = withdraw(record=showing, by=owner, reason="a slip")
    assert entry.what == "Withdrew a combination that shows Saltmarsh"
    restore(record=showing, by=owner)
    assert [one.is_withdrawn for one in showing.conditions.all()] == [False]
    withdraw(record=showing, by=owner, reason="a slip")
    Trait.objects.filter(pk=compound.pk).update(shown="dominant")
    with pytest.raises(Refused) as caught:
        restore(record=Showing.objects.get(), by=owner)
    assert str(caught.value) == (
        "Saltmarsh is not shown by combinations any more. Change how it is shown first."
    )


def test_species_and_contacts_in_use_stay(owner: Account) -> None:
    contact = ContactFactory.create(name="Odile Brand")
    animal = AnimalFactory.create(code="F-1", species__name="Corn snake", source=contact)
    assert reason_against(animal.species, owner) == (
        "the species Corn snake is in use: 1 animal (F-1)."
    )
    assert reason_against(contact, owner) == ("the contact Odile Brand is in use: 1 animal (F-1).")


def test_a_contact_that_nothing_names_goes_and_comes_back(owner: Account) -> None:
    contact = ContactFactory.create()
    withdraw(record=contact, by=owner, reason="entered twice")
    assert (contact.is_withdrawn, contact.withdrawn_reason) == (True, "entered twice")
    restore(record=contact, by=owner)
    assert not contact.is_withdrawn
