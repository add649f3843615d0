"""The pages of an animal: what is on them, and that they cost the same however much there is."""

from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.models import Account, Animal, CandidateSire, Dispute, Line, Observation, Statement
from tests.factories import (
    AnimalFactory,
    ClutchFactory,
    ContactFactory,
    LineFactory,
    TraitFactory,
)
from tests.keeper.animals.rows import hatch, het, saltgrass_har, visual
from tests.keeper.counting import queries_of
from tests.keeper.looking import observe


@pytest.fixture
def saltgrass(db: None) -> Line:
    return saltgrass_har()


def test_page_says_first_what_is_proven(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    dam, sire = het(saltgrass, owner), visual(saltgrass, owner, "M-003")
    page = owner_client.get(reverse("animals-one", args=[dam.pk])).content.decode()
    assert "nothing yet" in page
    assert "stated possible het 66 % by Ines Varga, not tested here" in page

    hatch(dam, sire, saltgrass, shown=1, plain=2, by=owner)
    page = owner_client.get(reverse("animals-one", args=[dam.pk])).content.decode()
    proven = page.partition("<dt>Proven</dt>")[2].partition("</div>")[0]
    assert "Saltgrass" in proven and "HAR" in proven
    assert '<span class="said">proven by 1 hatchling</span>' in page


def test_page_shows_parents_young_and_clutches(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    dam, sire = het(saltgrass, owner), visual(saltgrass, owner, "M-003")
    clutch = hatch(dam, sire, saltgrass, shown=1, plain=2, by=owner)
    with writing(by=owner, what="Recorded one") as book:
        young = book.keep(
            Animal(species=dam.species, code="24-01", clutch=clutch, hatched_on=date(2024, 6, 1))
        )
    page = owner_client.get(reverse("animals-one", args=[dam.pk])).content.decode()
    assert "3 hatched · 1 Saltgrass" in page
    assert reverse("animals-one", args=[young.pk]) in page
    page = owner_client.get(reverse("animals-one", args=[young.pk])).content.decode()
    assert "Dam" in page and reverse("animals-one", args=[dam.pk]) in page
    assert "carries it by parentage; 50 % has two copies" in page


def test_page_costs_the_same_with_one_and_with_three_of_everything(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    animal = het(saltgrass, owner)
    address = reverse("animals-one", args=[animal.pk])

    def more(number: int) -> None:
        trait = TraitFactory.create(species=animal.species, name=f"Quillwort {number}")
        line = LineFactory.create(trait=trait)
        source = ContactFactory.create()
        with writing(by=owner, what="More") as book:
            said = Statement(animal=animal, trait=trait, line=line, claim="carries", source=source)
            book.keep(said)
            on = date(2024, 1, 1)
            book.keep(Observation(animal=animal, trait=trait, seen="no", on=on, by=owner))
        sire = AnimalFactory.create(species=animal.species, sex="male")
        clutch = ClutchFactory.create(dam=animal, species=animal.species)
        CandidateSire.objects.create(clutch=clutch, sire=sire)
        AnimalFactory.create(species=animal.species, clutch=clutch)

    more(0)
    owner_client.get(address)  # whatever is read once and kept
    first = queries_of(lambda: owner_client.get(address))
    more(1)
    more(2)
    assert queries_of(lambda: owner_client.get(address)) == first


def test_page_of_an_animal_nobody_said_anything_of_says_what_to_do(
    owner_client: Client, saltgrass: Line
) -> None:
    animal = AnimalFactory.create(species=saltgrass.trait.species)
    page = owner_client.get(reverse("animals-one", args=[animal.pk])).content.decode()
    assert "Nothing in the book makes this animal a carrier" in page
    assert "hatch date not known" in page


def test_pages_need_a_log_in(client: Client, owner: Account, saltgrass: Line) -> None:
    animal = het(saltgrass, owner)
    for name in ("animals-one", "animals-edit", "animals-history", "animals-case"):
        answer = client.get(reverse(name, args=[animal.pk]))
        assert (answer.status_code, answer["Location"].split("?")[0]) == (302, "/log-in/")


def disputed(line: Line, by: Account) -> Animal:
    """A dam that is no carrier by birth, of which a hatchling shows the trait."""
    trait, species = line.trait, line.trait.species
    granny = AnimalFactory.create(species=species, code="F-001", sex="female")
    grandsire = AnimalFactory.create(species=species, code="M-001", sex="male")
    with writing(by=by, what="Added F-050") as book:
        dam = book.keep(
            Animal(species=species, code="F-050", sex="female", dam=granny, sire=grandsire)
        )
    sire = visual(line, by, "M-050")
    hatch(dam, sire, line, shown=1, plain=0, by=by)
    assert trait.pk
    return dam


def test_page_lists_the_records_that_cannot_all_be_true(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    animal = disputed(saltgrass, owner)
    assert Dispute.objects.filter(closed=None).count() == 1
    page = owner_client.get(reverse("animals-one", args=[animal.pk])).content.decode()
    assert "These records contradict each other" in page
    assert "1 hatchling of C-F-050" in page
    assert "<dt>Proven</dt>" not in page


def test_grounds_open_under_the_strip_and_as_a_page(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    dam, sire = het(saltgrass, owner), visual(saltgrass, owner)
    hatch(dam, sire, saltgrass, shown=1, plain=2, by=owner)
    address = reverse("animals-grounds", args=[dam.pk, saltgrass.trait.pk])
    whole = owner_client.get(address, {"line": saltgrass.pk}).content.decode()
    part = owner_client.get(
        address, {"line": saltgrass.pk}, headers={"HX-Request": "true"}
    ).content.decode()
    assert "<html" in whole and "<html" not in part
    for page in (whole, part):
        assert "What it rests on" in page
        assert "1 of 3 showed Saltgrass" in page
        assert "stated by the source, not tested here, 66 %" in page
        assert "How it moved" in page


@pytest.mark.parametrize("refused", [False, True])
def test_grounds_name_the_records_that_cannot_all_be_true(
    owner_client: Client,
    owner: Account,
    saltgrass: Line,
    monkeypatch: pytest.MonkeyPatch,
    refused: bool,
) -> None:
    animal = visual(saltgrass, owner)

    def answer(*_: Any) -> inference.Grounds:
        if refused:
            raise inference.Unanswerable("Nothing possible is left.")
        return inference.Grounds((), (), conflict=("clutch 26-05", "Saltgrass seen on M-003"))

    monkeypatch.setattr(inference, "grounds", answer)
    page = owner_client.get(reverse("animals-grounds", args=[animal.pk, saltgrass.trait.pk]))
    text = page.content.decode()
    lead = "These records contradict each other; the newest is left out here:"
    told = [lead in text, "<li>clutch 26-05</li>" in text, "Nothing possible is left." in text]
    assert told == [not refused, not refused, refused]


def test_grounds_of_what_the_book_says_nothing_of_say_so(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    animal = AnimalFactory.create(species=saltgrass.trait.species)
    address = reverse("animals-grounds", args=[animal.pk, saltgrass.trait.pk])
    page = owner_client.get(address)
    assert "Nothing in the book makes" in page.content.decode()
    assert owner_client.get(address, {"line": 987654}).status_code == 404


def test_history_tells_every_save_of_the_animal_and_its_records(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    animal = het(saltgrass, owner)
    observe(animal=animal, trait=saltgrass.trait, seen="no", on=date(2024, 1, 1), by=owner)
    address = reverse("animals-history", args=[animal.pk])
    page = owner_client.get(address).content.decode()
    assert "Saltgrass not seen on F-014" in page and "entered" in page and "Mara" in page
    part = owner_client.get(address, headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in part and "Saltgrass not seen" in part


def test_case_file_is_handed_out_as_a_file(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    animal = het(saltgrass, owner)
    answer = owner_client.get(reverse("animals-case", args=[animal.pk]))
    assert answer["Content-Disposition"] == 'attachment; filename="F-014-case.json"'
    assert answer.json() == inference.case_file(animal)
