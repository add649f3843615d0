"""A trait's only line may go without a name; a second one asks for both, and whose it is."""

from datetime import date

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused, writing
from keeper.domain.register.placing import Place, add_line
from keeper.domain.register.second_lines import (
    FIRST,
    SECOND,
    UNKNOWN,
    Key,
    add_second_line,
    earlier_words,
    key_of,
)
from keeper.domain.register.writes import add_trait
from keeper.models import (
    Account,
    Animal,
    DaybookEntry,
    Laboratory,
    LabTest,
    Line,
    Species,
    Standing,
    Statement,
    Trait,
)
from tests.factories import LineFactory, SpeciesFactory, TraitFactory
from tests.keeper.sent import fields_in, filled, hidden_in


@pytest.fixture
def species(db: None) -> Species:
    return SpeciesFactory.create(name="royal python")


@pytest.fixture
def trait(species: Species, owner: Account) -> Trait:
    """Saltgrass, whose line nobody named."""
    add_trait(trait=Trait(species=species, name="Saltgrass"), line=Line(), by=owner)
    return Trait.objects.get(name="Saltgrass")


def said_of(trait: Trait, by: Account, *codes: str) -> list[Statement]:
    """Founders said to be hets of the one line."""
    line = Line.objects.get(trait=trait)
    found = []
    with writing(by=by, what="Bought") as book:
        for code in codes:
            animal = book.keep(Animal(species=trait.species, code=code))
            found.append(
                book.keep(Statement(animal=animal, trait=trait, line=line, claim="carries"))
            )
    return found


def second(
    trait: Trait, by: Account, of: dict[Key, str], first: tuple[str, str] = ("HAR", "Harvesk")
) -> DaybookEntry:
    line = Line(trait=trait, code="PEL", name="Pelnaw")
    return add_second_line(line=line, place=Place(), first=first, of=of, by=by)


def test_the_first_line_takes_a_code_of_the_traits_letters(trait: Trait) -> None:
    line = Line.objects.get()
    assert (line.code, line.name, str(line), line.label) == (
        "SAL",
        "",
        "Saltgrass",
        "line not named",
    )
    assert line.locus.name == "Saltgrass locus"


def test_a_code_that_is_taken_at_the_locus_is_not_made_up_again(owner: Account) -> None:
    other = LineFactory.create(code="SAL", trait__name="Thrift")
    add_trait(
        trait=Trait(species=other.trait.species, name="Saltgrass"),
        line=Line(),
        place=Place(locus=other.locus),
        by=owner,
    )
    assert Line.objects.get(trait__name="Saltgrass").code == "SAT"


def test_a_name_in_other_letters_gives_a_code_as_well(species: Species, owner: Account) -> None:
    add_trait(trait=Trait(species=species, name="Öl 9"), line=Line(), by=owner)
    add_trait(trait=Trait(species=species, name="雪"), line=Line(), by=owner)
    assert [one.code for one in Line.objects.order_by("pk")] == ["AAA", "AAA"]


def test_no_second_line_comes_beside_one_without_a_name(trait: Trait, owner: Account) -> None:
    with pytest.raises(ValidationError) as caught:
        add_line(line=Line(trait=trait, code="PEL", name="Pelnaw"), place=Place(), by=owner)
    assert caught.value.message_dict == {
        "name": ["The line that Saltgrass has is not named. Name that one first."]
    }


def test_a_named_line_does_not_lose_its_name_beside_another(owner: Account) -> None:
    trait = TraitFactory.create(name="Saltgrass")
    LineFactory.create(trait=trait, code="HAR")
    line = LineFactory.create(trait=trait, code="PEL")
    line.name = ""
    with pytest.raises(ValidationError) as caught:
        line.full_clean()
    assert caught.value.message_dict == {"name": ["Saltgrass has another line: name this one too."]}


def test_earlier_words_go_where_they_are_said_to_belong(trait: Trait, owner: Account) -> None:
    stays, goes, open_ = said_of(trait, owner, "F-1", "F-2", "F-3")
    entry = second(
        trait, owner, {key_of(stays): FIRST, key_of(goes): SECOND, key_of(open_): UNKNOWN}
    )
    lines = {one.code: one for one in Line.objects.all()}
    assert {code: one.name for code, one in lines.items()} == {"HAR": "Harvesk", "PEL": "Pelnaw"}
    assert list(Statement.objects.order_by("pk").values_list("line__code", flat=True)) == [
        "HAR",
        "PEL",
        None,
    ]
    # A het carries one copy of the line named and none of the other, which is another gene; of
    # one whose line is not known each of the two is as likely as the other (common practice: the
    # parts of the lines are equal until the keeper sets them).
    carries = {
        (one.animal.code, one.line.code): one.carries
        for one in Standing.objects.exclude(line=None).select_related("animal", "line")
        if one.line
    }
    assert carries["F-1", "HAR"] == 1 and carries.get(("F-1", "PEL"), 0) == 0
    assert carries["F-2", "PEL"] == 1 and carries.get(("F-2", "HAR"), 0) == 0
    assert carries["F-3", "HAR"] == carries["F-3", "PEL"] == pytest.approx(0.5)
    assert entry.subject_id == lines["PEL"].pk


def test_it_is_taken_back_whole(trait: Trait, owner: Account) -> None:
    stays, goes = said_of(trait, owner, "F-1", "F-2")
    undo(entry=second(trait, owner, {key_of(stays): FIRST, key_of(goes): UNKNOWN}), by=owner)
    line = Line.objects.live().get()
    assert (line.code, line.name) == ("SAL", "")
    assert set(Statement.objects.values_list("line", flat=True)) == {line.pk}


def test_what_was_written_meanwhile_is_asked_about_too(trait: Trait, owner: Account) -> None:
    (one,) = said_of(trait, owner, "F-1")
    said_of(trait, owner, "F-2")
    with pytest.raises(Refused, match="Something was written of Saltgrass meanwhile"):
        second(trait, owner, {key_of(one): FIRST})
    assert Line.objects.count() == 1


def test_a_line_that_was_named_meanwhile_is_not_named_over(trait: Trait, owner: Account) -> None:
    second(trait, owner, {})
    with pytest.raises(Refused, match="was named meanwhile"):
        second(trait, owner, {})
    assert Line.objects.count() == 2


def test_what_a_laboratory_found_is_asked_about(trait: Trait, owner: Account) -> None:
    (said,) = said_of(trait, owner, "F-1")
    line = Line.objects.get()
    with writing(by=owner, what="Tested") as book:
        laboratory = book.keep(Laboratory(name="Corran"))
        test = book.keep(
            LabTest(
                animal=said.animal,
                laboratory=laboratory,
                line=line,
                found="one",
                on=date(2026, 5, 1),
            )
        )
    assert earlier_words(line) == [said, test]
    second(trait, owner, {key_of(said): FIRST, key_of(test): SECOND})
    assert LabTest.objects.get().line.code == "PEL"


def test_the_form_asks_for_neither_code_nor_name(owner_client: Client, species: Species) -> None:
    address = reverse("register-trait-template", args=[species.pk, "recessive"])
    typed = filled(owner_client, address) | {"name": "Saltgrass"}
    answer = owner_client.post(address, typed)
    assert answer.status_code == 302
    page = owner_client.get(answer["Location"]).content.decode()
    assert "line not named" in page and "SAL" not in page.replace("SALT", "")


def test_the_form_of_a_second_line_asks_of_every_animal(
    owner_client: Client, owner: Account, trait: Trait
) -> None:
    stays, goes = said_of(trait, owner, "F-1", "F-2")
    address = reverse("register-line-new", args=[trait.pk])
    page = owner_client.get(address).content.decode()
    assert "F-1: 100 % het" in page and "F-2: 100 % het" in page
    typed = fields_in(page) | {
        "first-code": "har",
        "first-name": "Harvesk",
        "code": "pel",
        "name": "Pelnaw",
        "place-place": "own",
        "place-chromosome": "autosome",
    }
    again = owner_client.post(address, typed)
    assert again.status_code == 200 and Line.objects.count() == 1
    assert 'value="Harvesk"' in again.content.decode()
    typed |= {"first-every": "each", f"first-{key_of(goes)}": SECOND}
    shown = owner_client.post(address, typed).content.decode()
    assert hidden_in(shown)["seen"] and Line.objects.count() == 1
    typed |= hidden_in(shown)
    assert owner_client.post(address, typed).status_code == 302
    assert Statement.objects.get(pk=stays.pk).line == Line.objects.get(code="HAR")
    assert Statement.objects.get(pk=goes.pk).line == Line.objects.get(code="PEL")
