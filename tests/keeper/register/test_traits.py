"""Traits with their first line, changes of them, and the combinations that show them."""

from fractions import Fraction

import pytest
from django.core.exceptions import ValidationError

from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused
from keeper.domain.register.placing import Place
from keeper.domain.register.writes import (
    Part,
    add_trait,
    change_trait,
    keep_contact,
    keep_showing,
    keep_species,
)
from keeper.models import Account, Condition, Contact, Line, Showing, Species, Trait
from tests.factories import LineFactory, LocusFactory, SpeciesFactory, TraitFactory


def test_a_trait_is_added_with_its_first_line_at_a_locus_of_its_own(owner: Account) -> None:
    species = SpeciesFactory.create()
    entry = add_trait(
        trait=Trait(species=species, name="Saltgrass"),
        line=Line(code="HAR", name="Harvesk", origin="Harvesk, 2019"),
        place=Place(),
        by=owner,
    )
    line = Line.objects.get()
    assert (str(line), line.locus.name, line.locus.chromosome) == (
        "Saltgrass HAR",
        "Saltgrass HAR",
        "autosome",
    )
    assert entry.what == "Added the trait Saltgrass"
    assert entry.subject_id == line.trait_id


def test_a_first_line_may_sit_with_lines_of_another_look(owner: Account) -> None:
    other = LineFactory.create(code="PEL")
    add_trait(
        trait=Trait(species=other.trait.species, name="Quillwort", shown="single"),
        line=Line(code="DUN", name="Dunsk"),
        place=Place(locus=other.locus),
        by=owner,
    )
    assert Line.objects.get(code="DUN").locus == other.locus


def test_a_line_with_the_code_of_one_at_the_same_locus_is_refused(owner: Account) -> None:
    other = LineFactory.create(code="PEL", trait__name="Saltgrass")
    with pytest.raises(ValidationError) as caught:
        add_trait(
            trait=Trait(species=other.trait.species, name="Quillwort"),
            line=Line(code="PEL", name="Pelnaw"),
            place=Place(locus=other.locus),
            by=owner,
        )
    assert caught.value.message_dict == {
        "code": ["Saltgrass PEL has this code at the same locus already. Choose another."]
    }
    assert not Trait.objects.filter(name="Quillwort").exists()


def test_a_sex_linked_first_line_keeps_its_crossovers(owner: Account) -> None:
    species = SpeciesFactory.create()
    add_trait(
        trait=Trait(species=species, name="Marrowglass", shown="single"),
        line=Line(code="MK", name="Marl"),
        place=Place(chromosome="both", recombination=Fraction(1, 20)),
        by=owner,
    )
    locus = Line.objects.get().locus
    assert (locus.chromosome, locus.recombination) == ("both", Fraction(1, 20))


def test_a_species_without_sex_chromosomes_has_no_place_for_it(owner: Account) -> None:
    species = SpeciesFactory.create(name="Corn snake", sex_determination="none")
    with pytest.raises(ValidationError) as caught:
        add_trait(
            trait=Trait(species=species, name="Marrowglass"),
            line=Line(code="MK", name="Marl"),
            place=Place(chromosome="one"),
            by=owner,
        )
    assert caught.value.message_dict == {
        "chromosome": ["Corn snake has no sex chromosomes in this book. Choose an ordinary one."]
    }
    assert Trait.objects.count() == 0


@pytest.mark.parametrize("shown", ["recessive", "dominant", "single"])
def test_a_trait_without_a_line_is_refused(owner: Account, shown: str) -> None:
    with pytest.raises(ValidationError) as caught:
        add_trait(trait=Trait(species=SpeciesFactory.create(), name="Reed", shown=shown), by=owner)
    assert caught.value.message_dict == {
        "code": ["Name its first line: every such gene in the book has one."]
    }


def test_a_double_form_needs_its_base_and_no_line(owner: Account) -> None:
    base = LineFactory.create(trait__shown="single").trait
    with pytest.raises(ValidationError) as caught:
        add_trait(trait=Trait(species=base.species, name="Twice", shown="every"), by=owner)
    assert caught.value.message_dict == {"base": ["Say of which trait this is the double form."]}
    add_trait(trait=Trait(species=base.species, name="Twice", shown="every", base=base), by=owner)
    assert Trait.objects.get(name="Twice").lines.count() == 0


def test_a_base_stays_incomplete_dominant_while_it_has_a_double_form(owner: Account) -> None:
    base = LineFactory.create(trait__shown="single").trait
    TraitFactory.create(species=base.species, name="Twice", shown="every", base=base)
    base.shown = "dominant"
    with pytest.raises(ValidationError) as caught:
        change_trait(trait=base, hides=[], by=owner)
    assert caught.value.message_dict == {
        "shown": ["Twice is its double form: change that one first."]
    }


def test_a_change_keeps_who_and_why_and_can_be_undone(owner: Account) -> None:
    trait = LineFactory.create(trait__name="Saltgrass").trait
    hidden = TraitFactory.create(species=trait.species)
    gone = TraitFactory.create(species=trait.species)
    trait.hides.set([gone])
    trait.name, trait.penetrance = "Saltmarsh", Fraction(9, 10)
    entry = change_trait(trait=trait, hides=[hidden], by=owner, reason="two names were one")
    kept = Trait.objects.get(pk=trait.pk)
    assert (kept.name, kept.penetrance, [*kept.hides.all()]) == (
        "Saltmarsh",
        Fraction(9, 10),
        [hidden],
    )
    assert (entry.by, entry.reason) == (owner, "two names were one")
    undo(entry=entry, by=owner)
    kept = Trait.objects.get(pk=trait.pk)
    assert (kept.name, kept.penetrance, [*kept.hides.all()]) == ("Saltgrass", 1, [gone])


def test_a_trait_does_not_hide_itself(owner: Account) -> None:
    trait = LineFactory.create().trait
    with pytest.raises(ValidationError) as caught:
        change_trait(trait=trait, hides=[trait], by=owner)
    assert caught.value.message_dict == {"hides": ["A trait does not hide itself. Take it out."]}


def test_a_compound_is_a_combination_of_single_copies_at_one_locus(owner: Account) -> None:
    one = LineFactory.create(code="HAR")
    other = LineFactory.create(code="PEL", trait=one.trait, locus=one.locus)
    trait = TraitFactory.create(species=one.trait.species, shown="rules")
    keep_showing(
        showing=Showing(trait=trait),
        parts=[Part("single", (one,)), Part("single", (other,))],
        by=owner,
    )
    conditions = Condition.objects.order_by("pk")
    assert [(each.dose, [*each.lines.all()]) for each in conditions] == [
        ("single", [one]),
        ("single", [other]),
    ]


def test_a_combination_is_changed_in_its_parts_and_undone(owner: Account) -> None:
    one = LineFactory.create(code="HAR")
    far = LineFactory.create(code="DUN", trait=one.trait, locus__species=one.trait.species)
    trait = TraitFactory.create(species=one.trait.species, shown="rules")
    showing = Showing(trait=trait)
    keep_showing(showing=showing, parts=[Part("single", (one,)), Part("absent", (far,))], by=owner)
    entry = keep_showing(showing=showing, parts=[Part("every", (one,))], by=owner)
    live = Condition.objects.live()
    assert [(each.dose, [*each.lines.all()]) for each in live] == [("every", [one])]
    undo(entry=entry, by=owner)
    assert [(each.dose, [*each.lines.all()]) for each in live.all().order_by("pk")] == [
        ("single", [one]),
        ("absent", [far]),
    ]


def refused_parts(owner: Account, trait: Trait, *parts: Part) -> list[str]:
    with pytest.raises(ValidationError) as caught:
        keep_showing(showing=Showing(trait=trait), parts=parts, by=owner)
    return list(caught.value.messages)


def test_combinations_that_mean_nothing_are_refused(owner: Account) -> None:
    one = LineFactory.create(code="HAR", trait__name="Saltgrass")
    other = LineFactory.create(code="PEL", trait=one.trait, locus=one.locus)
    far = LineFactory.create(code="DUN", trait=one.trait, locus__species=one.trait.species)
    foreign = LineFactory.create(code="FOR")
    rules = TraitFactory.create(species=one.trait.species, shown="rules")
    assert refused_parts(owner, rules) == ["Name at least one copy of a line that must be there."]
    assert refused_parts(owner, rules, Part("absent", (one,))) == [
        "Name at least one copy of a line that must be there."
    ]
    assert refused_parts(owner, rules, Part("any", ())) == ["Part 1 names no line."]
    assert refused_parts(owner, rules, Part("any", (one, far))) == [
        "Part 1 names lines of several loci: one part each."
    ]
    assert refused_parts(owner, rules, Part("any", (foreign,))) == [
        "Part 1 names a line of another species. Choose one of this species."
    ]
    assert refused_parts(owner, rules, Part("every", (one,)), Part("any", (other,))) == [
        (
            "No animal can meet these parts at once: Saltgrass HAR and Saltgrass PEL. "
            "Change one of them."
        )
    ]


def test_only_a_trait_by_combinations_takes_them(owner: Account) -> None:
    line = LineFactory.create(trait__name="Saltgrass")
    with pytest.raises(Refused) as caught:
        keep_showing(showing=Showing(trait=line.trait), parts=[Part("any", (line,))], by=owner)
    assert str(caught.value) == (
        "Saltgrass is not shown by combinations. Change how it is shown first."
    )


def test_a_trait_shown_in_another_way_lets_its_combinations_go(owner: Account) -> None:
    line = LineFactory.create(trait__shown="rules")
    keep_showing(showing=Showing(trait=line.trait), parts=[Part("any", (line,))], by=owner)
    line.trait.shown = "dominant"
    entry = change_trait(trait=line.trait, hides=[], by=owner)
    assert (Showing.objects.live().count(), Condition.objects.live().count()) == (0, 0)
    undo(entry=entry, by=owner)
    assert (Showing.objects.live().count(), Condition.objects.live().count()) == (1, 1)
    assert Trait.objects.get().shown == "rules"


def test_a_species_keeps_its_sex_chromosomes_while_loci_sit_there(owner: Account) -> None:
    locus = LocusFactory.create(name="marl", chromosome="one")
    locus.species.sex_determination = "none"
    with pytest.raises(ValidationError) as caught:
        keep_species(species=locus.species, by=owner)
    assert caught.value.message_dict == {
        "sex_determination": ["The locus marl sits on a sex chromosome here. Move it first."]
    }
    assert Species.objects.get().sex_determination == "XY"


def test_contacts_are_added_and_changed(owner: Account) -> None:
    keep_contact(contact=Contact(name="Odile Brand"), by=owner)
    contact = Contact.objects.get()
    contact.reliability = Fraction(4, 5)
    entry = keep_contact(contact=contact, by=owner, reason="was wrong twice")
    assert entry.what == "Changed the contact Odile Brand"
    assert Contact.objects.get().reliability == Fraction(4, 5)
