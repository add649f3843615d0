"""The collection's pages: the list, htmx, views with a name, files, paper."""

import csv
import re
from io import BytesIO, StringIO
from urllib.parse import urlencode

import pytest
from django.test import Client
from django.urls import reverse
from openpyxl import load_workbook
from pytest_django import DjangoAssertNumQueries
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from keeper.models import Account, Animal, CandidateSire, Line, SavedView, Word
from tests.factories import (
    AccountFactory,
    AnimalFactory,
    ClutchFactory,
    LineFactory,
    SpeciesFactory,
    TraitFactory,
)
from tests.keeper.collection.rows import dispute, standing

pytestmark = pytest.mark.django_db

ANIMALS = "/animals/"
HTMX = {"HX-Request": "true"}


@pytest.fixture
def harvesk() -> Line:
    species = SpeciesFactory.create(name="Royal python")
    return LineFactory.create(
        trait=TraitFactory.create(species=species, name="Saltgrass"), code="HAR", name="Harvesk"
    )


def full_animal(line: Line, code: str) -> Animal:
    """An animal with all that a row can show."""
    species = line.trait.species
    dam = AnimalFactory.create(species=species, sex="female", code=f"{code}-dam", status="sold")
    clutch = ClutchFactory.create(dam=dam)
    for number in (1, 2):
        sire = AnimalFactory.create(
            species=species, sex="male", code=f"{code}-sire{number}", status="sold"
        )
        CandidateSire.objects.create(clutch=clutch, sire=sire)
    animal = AnimalFactory.create(
        species=species, code=code, clutch=clutch, sex="male", place="R1-04", name="Marrow"
    )
    for gene in (line, line.trait):
        standing(animal, gene, 2 / 3, customary=2 / 3)
    return animal


def test_a_row_shows_all_of_an_animal(owner_client: Client, harvesk: Line) -> None:
    full_animal(harvesk, "H-001")
    page = owner_client.get(ANIMALS)
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", page.content.decode()))
    row = text[text.index("H-001 Marrow") :]
    assert row.startswith(
        "H-001 Marrow male Saltgrass HAR possible het 66 % "
        "H-001-dam × H-001-sire1 or H-001-sire2 R1-04 kept"
    )
    assertContains(page, '<strong class="figures">1.0.0</strong>')


def test_a_row_names_three_genes_and_how_many_more(owner_client: Client, harvesk: Line) -> None:
    animal = AnimalFactory.create(species=harvesk.trait.species)
    for number in range(5):
        standing(animal, TraitFactory.create(species=animal.species), 0.5 + number / 100)
    assertContains(owner_client.get(ANIMALS), "and 2 more")
    animal.standings.all()[0].delete()
    assertNotContains(owner_client.get(ANIMALS), "more</a>")


def test_a_row_shows_the_line_that_was_asked_for(owner_client: Client, harvesk: Line) -> None:
    animal = AnimalFactory.create(species=harvesk.trait.species)
    pelnaw = LineFactory.create(trait=harvesk.trait, code="PEL")
    standing(animal, harvesk, 0.5)
    standing(animal, pelnaw, 0.25)
    standing(animal, harvesk.trait, 0.625)
    plain = owner_client.get(ANIMALS)
    assertContains(plain, "possible het 62 %")
    assertContains(plain, "line not known")
    by_line = owner_client.get(ANIMALS, {"gene": f"{harvesk.trait.pk}-{pelnaw.pk}"})
    assertContains(by_line, "possible het 25 %")
    assertNotContains(by_line, "line not known")


def test_the_list_costs_as_many_queries_for_three_as_for_one(
    owner_client: Client, harvesk: Line, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    query = f"?status=all&gene={harvesk.trait.pk}-{harvesk.pk}&least=50&sort=-carries"
    full_animal(harvesk, "H-001")
    owner_client.get(ANIMALS + query)
    with django_assert_num_queries(13) as one:
        assertContains(owner_client.get(ANIMALS + query), "H-001")
    full_animal(harvesk, "H-002")
    full_animal(harvesk, "H-003")
    with django_assert_num_queries(len(one)):
        assertContains(owner_client.get(ANIMALS + query), "H-003")


def test_htmx_gets_the_list_alone_and_the_plain_address(
    owner_client: Client, harvesk: Line
) -> None:
    AnimalFactory.create(code="A-1", sex="female")
    typed = {"q": "", "sex": "female", "status": "", "sort": "code", "least": ""}
    part = owner_client.get(ANIMALS, typed, headers=HTMX)
    assertContains(part, 'id="found"')
    assertNotContains(part, "<html")
    assert part.headers["HX-Push-Url"] == "/animals/?sex=female"
    assertContains(owner_client.get(ANIMALS, typed), "A-1")


def test_going_back_gets_the_whole_page(owner_client: Client) -> None:
    headers = {**HTMX, "HX-History-Restore-Request": "true"}
    assertContains(owner_client.get(ANIMALS, headers=headers), "<html")


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_what_means_nothing_is_said_above_the_list(
    owner_client: Client, headers: dict[str, str]
) -> None:
    AnimalFactory.create(code="A-1")
    page = owner_client.get(ANIMALS, {"year": "26"}, headers=headers)
    assertContains(page, "Write a year like 2026")
    assertContains(page, "A-1")


def test_the_list_comes_in_pages(owner_client: Client) -> None:
    species = SpeciesFactory.create()
    for number in range(52):
        AnimalFactory.create(code=f"P-{number:03}", species=species)
    first = owner_client.get(ANIMALS)
    assertContains(first, "1 to 34 of 52")
    assertNotContains(first, "P-034")
    second = owner_client.get(ANIMALS, {"page": "2", "sex": "unknown"})
    assertContains(second, "P-051")
    assertContains(second, 'href="/animals/?sex=unknown&amp;page=1"')
    assertContains(owner_client.get(ANIMALS, {"page": "99"}), "P-051")


def test_an_empty_list_says_what_to_do(owner_client: Client) -> None:
    assertContains(owner_client.get(ANIMALS), "No animals yet")
    AnimalFactory.create()
    assertContains(owner_client.get(ANIMALS, {"q": "none"}), "No animal is like that")


def test_disputed_figures_are_said_to_be_left_out(owner_client: Client, harvesk: Line) -> None:
    animal = AnimalFactory.create(species=harvesk.trait.species, code="D-1")
    standing(animal, harvesk, 0.75, dispute=dispute(animal))
    standing(animal, harvesk.trait, 0.75, dispute=animal.standings.get().dispute)
    page = owner_client.get(ANIMALS, {"gene": str(harvesk.trait.pk), "least": "50"})
    assertContains(page, "1 more</a> would be here if its figures were not disputed")
    disputed = owner_client.get(ANIMALS, {"disputed": "on"})
    assertContains(disputed, "disputed; before that: possible het 75 %")


def test_a_search_for_one_code_opens_its_page(owner_client: Client) -> None:
    animal = AnimalFactory.create(code="F-014")
    found = owner_client.get(ANIMALS, {"q": "f-014", "go": "1"})
    assertRedirects(found, reverse("animals-one", args=[animal.pk]), fetch_redirect_response=False)
    assertContains(owner_client.get(ANIMALS, {"q": "f-0", "go": "1"}), "F-014")
    assertContains(owner_client.get(ANIMALS, {"q": "F-014"}), "F-014")


def test_columns_sort_both_ways(owner_client: Client) -> None:
    AnimalFactory.create()
    page = owner_client.get(ANIMALS, {"sort": "-year", "sex": "unknown"})
    assertContains(page, '<th scope="col" class="by-year" aria-sort="descending">')
    assertContains(page, 'href="/animals/?sex=unknown&amp;sort=year"')
    assertContains(page, 'href="/animals/?sex=unknown&amp;sort=-carries"')
    assertContains(page, 'href="/animals/?sex=unknown"')


# --- views with a name -----------------------------------------------------------------------


def keep_view(client: Client, name: str = "Breeders", **filters: str) -> SavedView:
    client.post("/animals/views/new/", {"name": name, **filters})
    return SavedView.objects.get(name=name)


def test_a_view_is_kept_opened_renamed_and_removed(owner_client: Client, owner: Account) -> None:
    AnimalFactory.create(code="A-1", sex="female")
    answer = owner_client.post(
        "/animals/views/new/", {"name": " Breeders ", "sex": "female", "status": "", "page": "2"}
    )
    assertRedirects(answer, "/animals/?sex=female")
    view = SavedView.objects.get()
    assert (view.account, view.name, view.query) == (owner, "Breeders", "sex=female")
    page = owner_client.get("/animals/?sex=female")
    assertContains(page, '<a href="/animals/?sex=female" aria-current="true">Breeders</a>')

    renamed = owner_client.post(
        f"/animals/views/{view.pk}/name/", {f"view-{view.pk}-name": "Females"}
    )
    assertRedirects(renamed, "/animals/views/")
    assertContains(owner_client.get("/animals/views/"), "Females")
    removed = owner_client.post(f"/animals/views/{view.pk}/remove/", follow=True)
    assertContains(removed, "The view Females is gone.")
    assert (SavedView.objects.count(), Animal.objects.count()) == (0, 1)


def test_views_with_one_name_are_refused_and_what_was_typed_stays(owner_client: Client) -> None:
    first, second = keep_view(owner_client), keep_view(owner_client, "Males", sex="male")
    again = owner_client.post("/animals/views/new/", {"name": "breeders", "sex": "male"})
    assertContains(again, "You have a view called breeders already.")
    assertContains(again, '<input type="hidden" name="sex" value="male">')
    assertContains(again, 'value="breeders"')
    renamed = owner_client.post(
        f"/animals/views/{second.pk}/name/", {f"view-{second.pk}-name": first.name}
    )
    assertContains(renamed, "You have a view called Breeders already.")
    empty = owner_client.post("/animals/views/new/", {"name": " "})
    assertContains(empty, "This field is required.")
    assert list(SavedView.objects.values_list("name", flat=True)) == ["Breeders", "Males"]


def test_views_belong_to_one_account(owner_client: Client, helper_client: Client) -> None:
    view = keep_view(owner_client)
    assertNotContains(helper_client.get(ANIMALS), "Breeders")
    assert helper_client.post(f"/animals/views/{view.pk}/remove/").status_code == 404
    assert helper_client.post(f"/animals/views/{view.pk}/name/").status_code == 404
    helper_client.post("/animals/views/new/", {"name": "Breeders"})
    assert SavedView.objects.filter(name="Breeders").count() == 2


# --- files and paper -------------------------------------------------------------------------


def csv_of(client: Client, **filters: str) -> list[dict[str, str]]:
    answer = client.get(f"/animals/export.csv?{urlencode(filters)}")
    assert answer.headers["Content-Type"] == "text/csv"
    text = b"".join(answer.streaming_content).decode("utf-8-sig")  # type: ignore[attr-defined]
    return list(csv.DictReader(StringIO(text)))


def test_csv_holds_what_is_shown_with_words_and_unrounded_chances(
    owner_client: Client, harvesk: Line
) -> None:
    full_animal(harvesk, "H-001")
    AnimalFactory.create(code="X-001", species=harvesk.trait.species)
    rows = csv_of(owner_client, q="H-001")
    assert [row["Code"] for row in rows] == ["H-001"]
    wanted = ("Species", "Sex", "Dam", "Sire", "Place", "Status")
    assert {name: rows[0][name] for name in wanted} == {
        "Species": "Royal python",
        "Sex": "male",
        "Dam": "H-001-dam",
        "Sire": "H-001-sire1 or H-001-sire2",
        "Place": "R1-04",
        "Status": "kept",
    }
    assert rows[0]["Saltgrass HAR"] == "possible het 66 %"
    assert float(rows[0]["Saltgrass HAR: chance, not rounded"]) == 2 / 3


def test_files_hold_all_pages(owner_client: Client) -> None:
    species = SpeciesFactory.create()
    for _ in range(60):
        AnimalFactory.create(species=species)
    assert len(csv_of(owner_client, page="2")) == 60


@pytest.mark.parametrize("name", ["=1+2", "+1", "-1", "@SUM(A1)", "\t=1", " =1"])
def test_what_looks_like_a_formula_stays_text(owner_client: Client, name: str) -> None:
    AnimalFactory.create(code="A-1", name=name)
    assert csv_of(owner_client)[0]["Name"] == f"'{name}"
    sheet = load_workbook(BytesIO(owner_client.get("/animals/export.xlsx").content))["Animals"]
    assert (sheet["B2"].value, sheet["B2"].data_type) == (name, "s")


def test_the_spreadsheet_has_animals_and_every_number(owner_client: Client, harvesk: Line) -> None:
    full_animal(harvesk, "H-001")
    standing(full_animal(harvesk, "H-002"), TraitFactory.create(name="Absent"), 0, Word.ABSENT)
    book = load_workbook(BytesIO(owner_client.get("/animals/export.xlsx").content))
    assert book.sheetnames == ["Animals", "Standings"]
    animals = list(book["Animals"].values)
    assert [row[0] for row in animals] == ["Code", "H-001", "H-002"]
    standings = list(book["Standings"].values)
    assert standings[0][:3] == ("Code", "Trait", "Line")
    assert standings[2] == (
        *("H-001", "Saltgrass", "HAR", "possible het 66 %", "66 %"),
        *(2 / 3, 0, 2 / 3, pytest.approx(1 / 3), 0, 2 / 3, 0, None, None),
    )
    assert standings[3][:2] == ("H-002", "Absent")


def test_files_cost_as_many_queries_for_three_as_for_one(
    owner_client: Client, harvesk: Line, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    full_animal(harvesk, "H-001")
    csv_of(owner_client)
    with django_assert_num_queries(11) as one:
        csv_of(owner_client)
    full_animal(harvesk, "H-002")
    full_animal(harvesk, "H-003")
    with django_assert_num_queries(len(one)):
        assert len(csv_of(owner_client)) == 3


def test_paper_names_every_gene_and_says_what_it_lists(owner_client: Client, harvesk: Line) -> None:
    animal = full_animal(harvesk, "H-001")
    for _ in range(4):
        standing(animal, TraitFactory.create(species=animal.species), 0.5)
    page = owner_client.get("/animals/paper/", {"sex": "male"})
    assertContains(page, "males · here")
    assertContains(page, "Saltgrass HAR: possible het 66 %")
    assertContains(page, "possible het 50 %", count=4)


def test_the_list_says_in_words_what_it_shows(owner_client: Client, harvesk: Line) -> None:
    query = {
        "q": "H-",
        "species": str(harvesk.trait.species.pk),
        "sex": "female",
        "status": "sold",
        "year": "2024-2025",
        "place": "R1",
        "gene": f"{harvesk.trait.pk}-{harvesk.pk}",
        "least": "50",
        "gene2": str(harvesk.trait.pk),
        "has2": "proven",
        "least2": "100",
        "disputed": "on",
    }
    assertContains(
        owner_client.get(ANIMALS, query),
        "“H-” · Royal python · females · sold · in R1… · hatched 2024 to 2025 · "
        "carries Saltgrass HAR, at least 50 % · Saltgrass: proven, for certain · disputed only",
    )


def test_helpers_use_the_collection_as_the_owner_does(helper_client: Client) -> None:
    AccountFactory.create(name="Mara", role="owner")
    for address in (ANIMALS, "/animals/paper/", "/animals/views/", "/animals/export.csv"):
        assert helper_client.get(address).status_code == 200
