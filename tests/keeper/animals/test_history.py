"""The history of records in words, and formulas that are safe to print."""

from typing import Any

import pytest

from keeper.domain.animals.writes import restore, withdraw_animal
from keeper.domain.book.history import changes_of, history_of
from keeper.domain.book.writing import writing
from keeper.models import Account, Animal, Trait
from keeper.pages.animals.mathml import safe_mathml
from tests.factories import ContactFactory, SpeciesFactory, TraitFactory
from tests.keeper.counting import queries_of


def kept(by: Account, **values: Any) -> Animal:
    with writing(by=by, what="Added") as book:
        return book.keep(Animal(**values))


def test_changes_are_told_newest_first_with_who_and_why(owner: Account) -> None:
    python = SpeciesFactory.create(name="royal python")
    animal = kept(owner, species=python, code="F-014")
    animal.sex = "female"
    animal.source = ContactFactory.create(name="Ines Varga")
    with writing(by=owner, what="Changed", reason="probed again") as book:
        book.keep(animal)
    withdraw_animal(animal=animal, by=owner, reason="entered twice")
    restore(record=animal, by=owner)
    revisions = changes_of(animal)
    assert [(one.kind, one.reason) for one in revisions] == [
        ("restored", ""),
        ("withdrawn", "entered twice"),
        ("changed", "probed again"),
        ("entered", ""),
    ]
    assert [(one.label, one.before, one.after) for one in revisions[2].fields] == [
        ("sex", "not known", "female"),
        ("source", "–", "Ines Varga"),
    ]
    assert {one.by for one in revisions} == {owner}
    assert ("species", "–", "royal python") in [
        (one.label, one.before, one.after) for one in revisions[3].fields
    ]


def test_changes_tell_chances_and_sets_of_records(owner: Account) -> None:
    other = TraitFactory.create(name="Quillwort")
    with writing(by=owner, what="Added") as book:
        trait = book.keep(Trait(species=other.species, name="Saltgrass", penetrance="9/10"))
    with writing(by=owner, what="Changed") as book:
        trait.penetrance = "2/3"
        book.keep(trait, hides=[other])
    changed, entered = changes_of(trait)
    assert [(one.label, one.before, one.after) for one in changed.fields] == [
        ("penetrance", "90 %", "2/3"),
        ("hides", "–", "Quillwort"),
    ]
    assert entered.kind == "entered"


def test_history_costs_the_same_for_one_record_and_for_three(owner: Account) -> None:
    python = SpeciesFactory.create()
    animals = [kept(owner, species=python, code=f"F-{n}") for n in range(3)]
    assert queries_of(lambda: history_of(animals)) == queries_of(lambda: history_of(animals[:1]))


def test_formula_is_printed_without_namespace_and_attributes() -> None:
    text = (
        '<math xmlns="http://www.w3.org/1998/Math/MathML" display="block"><mrow>'
        '<mi class="x">p</mi><mo>=</mo><mfrac><mn>2</mn><mn>3</mn></mfrac></mrow></math>'
    )
    assert safe_mathml(text) == (
        '<math display="block"><mrow><mi>p</mi><mo>=</mo>'
        "<mfrac><mn>2</mn><mn>3</mn></mfrac></mrow></math>"
    )


@pytest.mark.parametrize(
    "text", ["<math><script>x</script></math>", "<svg/>", "no formula", "<math>&bad;</math>"]
)
def test_what_is_no_formula_is_not_printed(text: str) -> None:
    assert safe_mathml(text) == ""
