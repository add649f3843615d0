"""The pages of what to prove: the list, one suspect, and where they are reached from."""

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.domain.projects import outlook
from keeper.domain.projects.queries import members_now, with_goal
from keeper.models import Account
from tests.keeper.counting import queries_of
from tests.keeper.projects.planning import TwoGenes

LIST = reverse("projects-proving")


@pytest.fixture
def book(owner: Account) -> TwoGenes:
    return TwoGenes(owner, sex_determination="ZW")


def with_visual(book: TwoGenes, chance: str) -> tuple[m.Animal, m.Animal]:
    """A possible carrier and a visual male."""
    dam = book.founder("F1", "female", "possible", chance)
    return dam, book.founder("M1", "male", "visual")


def page_of(client: Client, animal: m.Animal, trait: m.Trait, **query: str) -> str:
    address = reverse("projects-proving-one", args=[animal.pk, trait.pk], query=query)
    answer = client.get(address)
    assert answer.status_code == 200
    return str(answer.content.decode())


def test_the_list_says_with_whom_how_many_and_why(owner_client: Client, book: TwoGenes) -> None:
    dam, sire = (
        book.founder("F1", "female", "possible", "1/2"),
        book.founder("M1", "male", "visual"),
    )
    book.member(dam)
    page = owner_client.get(LIST).content.decode()
    assert "7 hatchlings settle it" in page
    assert "In Pale tide, which wants Saltgrass HAR" in page
    plan = reverse("projects-season-new", query={"dam": str(dam.pk), "sire": str(sire.pk)})
    assert plan.replace("&", "&amp;") in page
    pair = reverse("clutches-pairing", query={"dam": str(dam.pk), "sire": str(sire.pk)})
    assert pair.replace("&", "&amp;") in page
    assert reverse("projects-proving-one", args=[dam.pk, book.trait.pk]) in page


def test_a_part_of_the_list_for_htmx(owner_client: Client, book: TwoGenes) -> None:
    book.founder("F1", "female", "possible", "1/2")
    book.founder("M1", "male", "visual")
    part = owner_client.get(
        LIST, {"trait": book.trait.pk}, headers={"hx-request": "true"}
    ).content.decode()
    assert part.strip().startswith("<section") and "<html" not in part and "F1" in part


def test_what_the_address_cannot_mean_is_passed_over(owner_client: Client, book: TwoGenes) -> None:
    book.founder("F1", "female", "possible", "1/2")
    book.founder("M1", "male", "visual")
    answer = owner_client.get(LIST, {"project": "x", "trait": "9" * 30})
    assert answer.status_code == 200 and "F1" in answer.content.decode()
    odd = reverse("projects-proving-one", args=[1, 99999])
    assert owner_client.get(odd).status_code == 404


def test_a_list_of_nobody_says_what_to_do(owner_client: Client, book: TwoGenes) -> None:
    assert "Nothing here is only possible" in owner_client.get(LIST).content.decode()
    lonely = book.founder("F1", "female", "possible", "1/2")
    page = owner_client.get(LIST).content.decode()
    assert "without a mate that could tell" in page and "Nobody can be tested" in page
    assert "No mate that could tell" in page_of(owner_client, lonely, book.trait)
    narrowed = owner_client.get(LIST, {"trait": book.other.pk}).content.decode()
    assert "what you asked for" in narrowed


def test_when_to_stop_believing(owner_client: Client, book: TwoGenes) -> None:
    dam, sire = (
        book.founder("F1", "female", "possible", "2/3"),
        book.founder("M1", "male", "visual"),
    )
    book.founder("M2", "male", "possible", "1/2")
    page = page_of(owner_client, dam, book.trait)
    assert "after 8 clean hatchlings the chance is at most 1 %, from 66 % now" in page
    assert "7 hatchlings give a visual 99 times in 100" in page
    assert "no number up to 40 clears it" in page
    assert "One hatchling that shows Saltgrass proves that it carries Saltgrass." in page
    assert "M1</a>" in page and 'class="curve"' in page
    book.clutch("C1", dam, sire, normal=3)
    # 2/10, rounded up, is left of it; five more make the eight.
    page = page_of(owner_client, dam, book.trait)
    assert "after 5 more clean hatchlings the chance is at most 1 %, from 20 % now" in page
    assert "3 clean hatchlings so far" in page


def test_one_line_of_a_trait(owner_client: Client, book: TwoGenes) -> None:
    dam = book.founder("F1", "female", "possible", "1/2")
    book.founder("M1", "male", "visual")
    assert "HAR" in page_of(owner_client, dam, book.trait, line=str(book.line.pk))
    address = reverse("projects-proving-one", args=[dam.pk, book.trait.pk])
    for line in (str(book.second.pk), "x", "9" * 30):
        assert owner_client.get(address, {"line": line}).status_code == 404


def test_nothing_is_open(owner_client: Client, book: TwoGenes) -> None:
    sire = book.founder("M1", "male", "visual")
    assert "needs no test" in page_of(owner_client, sire, book.trait)
    assert "Nothing in the book" in page_of(owner_client, sire, book.other)


def test_one_too_young_is_told_so_with_its_mates(owner_client: Client, book: TwoGenes) -> None:
    dam = book.founder("F1", "female", "possible", "1/2")
    book.founder("M1", "male", "visual")
    with writing(by=book.by, what="Dated F1") as entry:
        dam.hatched_year = 2199
        entry.keep(dam)
    page = page_of(owner_client, dam, book.trait)
    assert "too young until" in page and "M1</a>" in page


def test_the_grounds_lead_there_where_it_is_open(owner_client: Client, book: TwoGenes) -> None:
    dam, sire = (
        book.founder("F1", "female", "possible", "1/2"),
        book.founder("M1", "male", "visual"),
    )
    there = reverse("projects-proving-one", args=[dam.pk, book.trait.pk])
    grounds = owner_client.get(reverse("animals-grounds", args=[dam.pk, book.trait.pk]))
    assert there in grounds.content.decode()
    grounds = owner_client.get(reverse("animals-grounds", args=[sire.pk, book.trait.pk]))
    assert "projects/proving" not in grounds.content.decode()


def test_what_it_changes_for_a_project_is_asked_of_its_outlook(
    owner_client: Client, book: TwoGenes
) -> None:
    parents = book.founder("F1", "female", "carries"), book.founder("M1", "male", "carries")
    clutch = book.clutch("C1", *parents)
    young = [book.hatchling(f"K{n}", clutch, "female") for n in range(5)]
    for one in young:
        book.member(one)
    page = page_of(owner_client, young[-1], book.trait)
    project = with_goal(m.Project.objects.filter(pk=book.project.pk)).get()
    members = list(members_now(project))
    change = outlook.test_of(project, members, young[-1], book.trait.pk)
    assert change is not None
    # It is the fifth test of as open a question: the outlook's own list is shorter.
    listed = outlook.changes(project, members, outlook.course_of(project, members))
    assert change not in listed and len(outlook.tests(project, members)) == 5
    part = f"{reverse('projects-outlook', args=[project.pk])}?part=change&change={change.key}"
    assert part.replace("&", "&amp;") in page
    answer = owner_client.get(part, headers={"hx-request": "true"})
    assert answer.status_code == 200 and answer.content.strip()


def test_as_many_queries_for_many_rows_as_for_one(owner_client: Client, book: TwoGenes) -> None:
    dam = book.founder("F0", "female", "possible", "1/2")
    book.founder("M0", "male", "visual")
    one = reverse("projects-proving-one", args=[dam.pk, book.trait.pk])
    owner_client.get(LIST)
    before = [queries_of(lambda: owner_client.get(page)) for page in (LIST, one)]  # noqa: B023
    for number in range(1, 4):
        book.founder(f"F{number}", "female", "possible", "1/2")
        book.founder(f"M{number}", "male", "carries")
        book.founder(f"N{number}", "female", "possible", "1/2", line=book.second)
    after = [queries_of(lambda: owner_client.get(page)) for page in (LIST, one)]  # noqa: B023
    assert after == before
