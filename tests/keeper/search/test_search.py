"""The search of the whole book."""

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from keeper.domain.search.queries import found
from keeper.models import Account, Line, Project
from tests.factories import (
    AnimalFactory,
    ClutchFactory,
    ContactFactory,
    LineFactory,
    TraitFactory,
)
from tests.keeper.counting import queries_of

pytestmark = pytest.mark.django_db
SEARCH = "/search/"


@pytest.fixture
def saltgrass() -> Line:
    trait = TraitFactory.create(name="Saltgrass")
    return LineFactory.create(trait=trait, code="HAR", name="Harvesk")


def titles(text: str) -> dict[str, list[str]]:
    return {one.title: [str(row) for row in one.records] for one in found(text, most=10)}


def test_each_kind_is_found_by_code_name_or_word() -> None:
    trait = TraitFactory.create(name="Quillwort", notes="narrow dark rings")
    line = LineFactory.create(trait=trait, code="TAR", name="Tarnsey")
    animal = AnimalFactory.create(species=trait.species, code="F-014", notes="eats at dusk")
    ClutchFactory.create(species=trait.species, dam=animal, code="24-06")
    ContactFactory.create(name="Corin Askrell")
    Project.objects.create(species=trait.species, name="Ebbsallow", wanted=2)
    assert titles("f-01") == {"Animals": ["F-014"]}
    assert titles("24-") == {"Clutches": ["24-06"]}
    assert titles("quill") == {"Traits": ["Quillwort"], "Lines": [str(line)]}
    assert titles("tar") == {"Lines": [str(line)]}
    assert titles("askr") == {"Sources": ["Corin Askrell"]}
    assert titles("ebbs") == {"Projects": ["Ebbsallow"]}
    assert titles("dusk") == {"Animals": ["F-014"]}
    assert titles("rings") == {"Traits": ["Quillwort"]}
    assert titles("   ") == {} and titles("no such thing") == {}


def test_what_begins_with_it_comes_first_and_what_is_left_out_is_said() -> None:
    for code in ("X-21", "21-03", "Y-21", "21-01"):
        AnimalFactory.create(code=code)
    (group,) = found("21", most=3)
    assert [str(one) for one in group.records] == ["21-01", "21-03", "X-21"]
    assert group.more


def test_what_was_withdrawn_is_not_found(owner: Account) -> None:
    from keeper.domain.book.writing import writing

    animal = AnimalFactory.create(code="F-014")
    with writing(by=owner, what="Withdrew it") as book:
        book.withdraw(animal, reason="Entered twice")
    assert titles("f-014") == {}


def test_page_leads_to_what_was_found(owner_client: Client, saltgrass: Line) -> None:
    page = owner_client.get(SEARCH, {"q": "salt"})
    assertContains(page, reverse("register-trait", args=[saltgrass.trait_id]))
    assertContains(page, reverse("register-line", args=[saltgrass.pk]))
    assertContains(owner_client.get(SEARCH, {"q": "zz"}), "Nothing in the book has “zz”")
    assertNotContains(owner_client.get(SEARCH), "Nothing in the book")
    assert owner_client.get(SEARCH, {"q": "a\0b"}).status_code == 200


def test_a_code_leads_straight_to_its_animal(owner_client: Client) -> None:
    animal = AnimalFactory.create(code="F-014")
    answer = owner_client.get(SEARCH, {"q": "f-014", "go": "1"})
    assertRedirects(answer, reverse("animals-one", args=[animal.pk]))


def test_while_somebody_types_a_part_is_sent(owner_client: Client) -> None:
    AnimalFactory.create(code="F-014")
    part = owner_client.get(SEARCH, {"q": "f-014", "go": "1"}, headers={"hx-request": "true"})
    assertContains(part, "F-014")
    assertNotContains(part, "<html")


def test_it_costs_the_same_however_much_is_found(owner_client: Client, saltgrass: Line) -> None:
    AnimalFactory.create(code="S-1", species=saltgrass.trait.species)
    owner_client.get(SEARCH, {"q": "s"})
    first = queries_of(lambda: owner_client.get(SEARCH, {"q": "s"}))
    for n in range(5):
        AnimalFactory.create(code=f"S-1{n}", species=saltgrass.trait.species)
        LineFactory.create(trait=saltgrass.trait, code=f"SS{n}", name=f"Some {n}")
    assert queries_of(lambda: owner_client.get(SEARCH, {"q": "s"})) == first
