"""The page of genetic health: its figures, its scopes, its empty states and its files."""

import re
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.domain.diversity.seasons import Trend, Year
from keeper.domain.projects import writes as projects
from keeper.domain.projects.writes import Requirement
from keeper.pages.diversity.page import trend_words
from keeper.pages.diversity.yearplot import year_plot
from tests.keeper.books import Book
from tests.keeper.counting import queries_of

ADDRESS = "/collection/diversity/"


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner, name="python")


@pytest.fixture
def kin(book: Book) -> m.Project:
    """Two founders, their two young and a project of these; she is gravid by her brother."""
    dam, sire = book.founder("F1", "female"), book.founder("M1", "male", "visual")
    with writing(by=book.by, what="Hatched C1") as entry:
        clutch = entry.keep(
            m.Clutch(species=book.species, code="C1", dam=dam, hatched_on=date(2024, 7, 1))
        )
        entry.keep(m.CandidateSire(clutch=clutch, sire=sire))
    daughter = book.young("K1", clutch, sex="female")
    son = book.young("K2", clutch, sex="male")
    book.clutch("C2", daughter, son)
    project = m.Project(species=book.species, name="Pale tide")
    projects.start_project(
        project=project, parts=[Requirement(book.trait, book.line, m.Need.SHOWS)], by=book.by
    )
    for animal in (daughter, son):
        member = m.Member(
            project=project, animal=animal, holdback=False, reason="bred", since=date(2026, 1, 1)
        )
        projects.join(member=member, by=book.by)
    return project


def text(client: Client, query: str = "") -> str:
    """The words of the page, without its marks."""
    answer = client.get(ADDRESS + query)
    assert answer.status_code == 200
    main = answer.content.decode().partition("<main")[2]
    return " ".join(re.sub(r"<[^>]+>", " ", main).split())


def test_page_says_what_the_animals_here_go_back_to(owner_client: Client, kin: m.Project) -> None:
    words = text(owner_client)
    assert "python: 4 animals here." in words
    assert "Founders 2 have descendants here, or are here themselves." in words
    assert "f e 2.0 giving equal parts" in words
    # Four selves 1/2; a young with each parent and its sib 1/4, five pairs twice: 4.5 of 16.
    assert "Mean kinship 0.2813 among the animals here: 71 % of the variety of" in words
    assert "f g 1.7 unrelated animals" in words
    assert "All 3 that certainly carry it go back to one animal: M1 ." in words
    assert "Clutch C2 K1 × K2 0.25 as of full sibs, or a parent and its young" in words
    assert "2024 1 0 0" in words
    assert "Lacy 1989, Zoo Biology 8" in words and "Falconer and Mackay 1996" in words


def test_page_of_a_project_is_of_its_members(owner_client: Client, kin: m.Project) -> None:
    words = text(owner_client, f"?project={kin.pk}")
    assert "Pale tide: 2 members here." in words
    # Two selves 1/2 and 1/4 twice: 1.5 of 4.
    assert "Mean kinship 0.375 among the members, and 0.3125 with all python here" in words
    assert "Both that certainly carry it go back to one animal: M1 ." in words
    assert "No clutch of two members has hatched yet." in words
    assert "Pale tide (this page) 2 1.3 0.375 1 0.25 0.25 0.25" in words


def test_lists_lead_here(owner_client: Client, kin: m.Project) -> None:
    assert f'href="{ADDRESS}"' in owner_client.get("/animals/").content.decode()
    one = owner_client.get(reverse("projects-one", args=[kin.pk])).content.decode()
    assert f'href="{ADDRESS}?project={kin.pk}"' in one


def test_species_are_told_apart(owner_client: Client, owner: m.Account, kin: m.Project) -> None:
    other = Book(owner, name="boa")
    other.founder("B1", "female")
    words = text(owner_client)
    assert "python: 4 animals here." in words
    assert "boa 1 1 1.0 1.0 0.5" in words
    of_other = text(owner_client, f"?species={other.species.pk}")
    assert "boa: 1 animal here." in of_other
    assert "By project" not in of_other


def test_a_book_without_animals_says_what_to_do(owner_client: Client, book: Book) -> None:
    assert "No animals yet" in text(owner_client)
    assert "None is here" in text(owner_client, f"?species={book.species.pk}")


def test_a_book_without_a_pedigree_says_so(owner_client: Client, book: Book) -> None:
    book.founder("F1", "female")
    book.founder("M1", "male")
    words = text(owner_client)
    assert "Nothing tells kin from strangers here." in words
    assert "No clutch has hatched yet." in words


def test_one_animal_has_nobody_to_be_kin_of(owner_client: Client, kin: m.Project) -> None:
    for one in m.Animal.objects.exclude(code="K1"):
        with writing(by=m.Account.objects.get(), what="Sold") as entry:
            one.status = m.Status.SOLD
            entry.keep(one)
    words = text(owner_client)
    assert "One animal has no mates to be kin of" in words
    assert "All of them" in words


def test_a_project_with_nobody_here(owner_client: Client, book: Book) -> None:
    project = m.Project(species=book.species, name="Empty")
    projects.start_project(
        project=project, parts=[Requirement(book.trait, book.line, m.Need.SHOWS)], by=book.by
    )
    assert "No animal of this project is here" in text(owner_client, f"?project={project.pk}")


@pytest.mark.parametrize(
    "query", ["?species=0", "?species=x", "?project=²", "?project=", "?species=9" + "9" * 20]
)
def test_what_is_not_there_is_not_found(owner_client: Client, book: Book, query: str) -> None:
    assert owner_client.get(ADDRESS + query).status_code == 404


def csv(client: Client, kind: str, query: str = "") -> list[str]:
    answer = client.get(f"{ADDRESS}{kind}.csv{query}")
    assert answer.status_code == 200 and answer["Content-Type"] == "text/csv"
    content = b"".join(answer.streaming_content)  # type: ignore[attr-defined]
    return content.decode("utf-8-sig").splitlines()


def test_tables_as_files(owner_client: Client, kin: m.Project) -> None:
    assert csv(owner_client, "animals") == [
        "Code,Name,Sex,Mean kinship with all here,Inbreeding",
        "F1,,female,0.25,0.0",
        "K1,,female,0.3125,0.0",
        "K2,,male,0.3125,0.0",
        "M1,,male,0.25,0.0",
    ]
    assert csv(owner_client, "founders", f"?project={kin.pk}")[1:] == [
        "F1,0.5",
        "M1,0.5",
        "others with a record,0.0",
        "parents not recorded,0",
    ]
    (line,) = csv(owner_client, "lines")[1:]
    assert line.startswith("Saltgrass,HAR,3,0,1,1,M1,1,0.33333333")
    assert csv(owner_client, "years")[1:] == ["2024,1,0.0,0.0"]


def test_no_file_of_another_name_or_of_no_animals(owner_client: Client, book: Book) -> None:
    assert owner_client.get(f"{ADDRESS}lines.csv").status_code == 404
    book.founder("F1", "female")
    assert owner_client.get(f"{ADDRESS}none.csv").status_code == 404


def test_queries_do_not_grow(owner_client: Client, book: Book, kin: m.Project) -> None:
    few = queries_of(lambda: owner_client.get(ADDRESS))
    kept = queries_of(lambda: owner_client.get(ADDRESS))
    clutch = m.Clutch.objects.get(code="C1")
    for number in range(3):
        book.young(f"Y{number}", clutch, sex="female")
        book.founder(f"S{number}", "male", "carries")
    assert queries_of(lambda: owner_client.get(ADDRESS)) == few
    assert queries_of(lambda: owner_client.get(ADDRESS)) == kept
    assert kept < few


def test_trend_in_words() -> None:
    assert trend_words(None, 0) == ""
    assert trend_words(None, 2).startswith("A trend takes 3 years")
    assert trend_words(Trend(None, 3.0, 8, 4), 4) == (
        "Over the 8 clutches of 4 years inbreeding did not rise."
    )
    assert "as in a closed group of 5.7 breeding animals" in trend_words(Trend(5.79, 3.0, 8, 4), 4)


def test_plot_has_a_point_a_year() -> None:
    plot = year_plot([Year(2020, 2, 0.0, 0.0), Year(2022, 1, 0.125, 0.125)])
    assert plot is not None
    assert [(one.at, one.mean) for one in plot.points] == [
        (plot.left, plot.bottom),
        (plot.right, 14.0),
    ]
    assert [mark.text for mark in plot.up] == ["0", "0.0625", "0.125"]
    assert [mark.text for mark in plot.across] == ["2020", "2021", "2022"]
    assert year_plot([Year(2020, 2, 0.0, 0.0)]) is None
    level = year_plot([Year(2020 + n, 1, 0.0, 0.0) for n in range(40)])
    assert level is not None and len(level.across) < 8
