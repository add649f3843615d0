"""Goals of which no gene is called what is wanted: a double form, and what combinations show."""

from dataclasses import replace
from typing import Any

import pytest
from django.test import Client

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.projects import holdbacks, outlook, queries
from keeper.domain.projects import writes as projects
from keeper.domain.projects.offered import offer
from keeper.domain.projects.writes import Requirement
from keeper.domain.proving.cautions import cautions
from keeper.domain.proving.queries import stakes
from keeper.domain.sheets.writes import draft
from keeper.pages.mates.page import mates_page
from tests.factories import LineFactory, TraitFactory
from tests.keeper.books import Book
from tests.keeper.projects.planning import TODAY, outlook_from
from tests.keeper.projects.test_outlook import COURSE


class Combined(Book):
    """Blaze and Kelpwash at one locus; Superblaze is two of Blaze, Halftide one of each.

    Plainblaze is one of Blaze and none of Kelpwash.
    """

    def __init__(self, by: m.Account) -> None:
        super().__init__(by, name="royal python")
        self.blaze = TraitFactory.create(species=self.species, name="Blaze", shown="single")
        self.one = LineFactory.create(trait=self.blaze, code="BLA", name="")
        kelpwash = TraitFactory.create(species=self.species, name="Kelpwash", shown="single")
        self.other = LineFactory.create(trait=kelpwash, code="GAD", name="", locus=self.one.locus)
        self.double = TraitFactory.create(
            species=self.species, name="Superblaze", shown="every", base=self.blaze
        )
        self.both = self._shown_by("Halftide", "single")
        self.plain = self._shown_by("Plainblaze", "absent")

    def _shown_by(self, name: str, dose: str) -> m.Trait:
        """A look by one copy of Blaze and a dose of Kelpwash."""
        trait = TraitFactory.create(species=self.species, name=name, shown="rules")
        with writing(by=self.by, what=name) as book:
            showing = book.keep(m.Showing(trait=trait))
            book.keep(m.Condition(showing=showing, dose="single"), lines=[self.one])
            book.keep(m.Condition(showing=showing, dose=dose), lines=[self.other])
        return trait

    def project(self, trait: m.Trait, *members: m.Animal) -> m.Project:
        """A project for one that shows it, with these animals in it."""
        made = m.Project(species=self.species, name=f"To {trait}")
        goal = [Requirement(trait, None, m.Need.SHOWS)]
        projects.start_project(project=made, parts=goal, by=self.by)
        for animal in members:
            member = m.Member(
                project=made, animal=animal, holdback=False, reason="for it", since=TODAY
            )
            projects.join(member=member, by=self.by)
        found: m.Project = queries.with_goal(m.Project.objects.filter(pk=made.pk)).get()
        return found


@pytest.fixture
def book(owner: m.Account) -> Combined:
    return Combined(owner)


def test_what_must_not_be_there_is_no_step_to_a_goal(book: Combined) -> None:
    """By hand: a copy of Kelpwash alone makes nobody a Plainblaze; of Blaze it does."""
    with_one = book.founder("F1", "female", "visual", line=book.one)
    with_other = book.founder("F2", "female", "visual", line=book.other)
    may_have = book.founder("F3", "female", "possible", "1/2", line=book.one)
    found = inference.goal_chances(book.project(book.plain), [with_one, with_other, may_have])
    assert found == {with_one.pk: 1.0, with_other.pk: 0.0, may_have.pk: pytest.approx(1 / 2)}
    # Of a look that takes both, a copy of either serves.
    found = inference.goal_chances(book.project(book.both), [with_one, with_other, may_have])
    assert found == {with_one.pk: 1.0, with_other.pk: 1.0, may_have.pk: pytest.approx(1 / 2)}


def test_an_imagined_carrier_has_one_copy_of_what_a_combination_takes(book: Combined) -> None:
    """By hand: a quarter of the young of one copy, and of one copy of each, show the look."""
    dam = book.founder("F1", "female", "visual", line=book.one)
    course = replace(COURSE, seasons=1)
    for trait in (book.both, book.double):
        project = book.project(trait)
        assert outlook_from(project, {dam: 3}, course).chances == (0.0,)
        bought = outlook_from(project, {dam: 3}, course, bought=offer(project, "male"))
        # One clutch of eight.
        assert bought.chances[0] == pytest.approx(1 - (3 / 4) ** 8, abs=0.02)


def test_every_change_of_such_a_project_opens(owner_client: Client, book: Combined) -> None:
    dam = book.founder("F1", "female", "possible", "1/2", line=book.one)
    sire = book.founder("M1", "male", "visual", line=book.other)
    for trait in (book.both, book.double, book.plain):
        project = book.project(trait, dam, sire)
        members = list(queries.members_here(project))
        course = outlook.course_of(project, members)
        changes = outlook.changes(project, members, course)
        assert {"male", "female"} <= {one.key for one in changes}
        for one in changes:
            page = owner_client.get(f"/projects/{project.pk}/outlook/", {"change": one.key})
            assert page.status_code == 200


def test_every_page_about_such_a_project_opens(owner_client: Client, book: Combined) -> None:
    dam = book.founder("F1", "female", "possible", "1/2", line=book.one)
    sire = book.founder("M1", "male", "visual", line=book.other)
    clutch = book.clutch("C1", dam, sire)
    book.young("K1", clutch, sex="female")
    for trait in (book.both, book.double, book.plain):
        pk = book.project(trait, dam, sire).pk
        pages: list[tuple[str, dict[str, str]]] = [
            (f"/projects/{pk}/", {"pairs": "all"}),
            (f"/projects/{pk}/ways/", {}),
            (f"/projects/{pk}/ways/", {"animals": str(dam.pk), "bought": "male"}),
            (f"/projects/{pk}/outlook/together/", {}),
            (f"/projects/hold/advice/{clutch.pk}/", {"project": str(pk)}),
            (f"/animals/{dam.pk}/mates/", {"project": str(pk)}),
            ("/mates/", {"species": str(book.species.pk), "says": "1.0 visual Kelpwash"}),
            ("/projects/season/", {"worth": str(pk)}),
            ("/projects/proving/", {}),
            ("/collection/diversity/", {"project": str(pk)}),
        ]
        for address, asked in pages:
            assert owner_client.get(address, asked).status_code == 200, (str(trait), address)


def test_a_test_of_a_double_form_is_one_of_its_base(book: Combined) -> None:
    dam = book.founder("F1", "female", "possible", "1/2", line=book.one)
    sire = book.founder("M1", "male", "visual", line=book.one)
    project = book.project(book.double, dam, sire)
    (found,) = outlook.tests(project, list(queries.members_here(project)))
    assert found.words == "A test of F1 for Blaze first, whatever it finds"
    # Of several genes there is no saying which to test first.
    project = book.project(book.both, dam, sire)
    assert outlook.tests(project, list(queries.members_here(project))) == []


@pytest.mark.parametrize("goal", ["double", "both"])
def test_hatchlings_with_and_without_a_gene_of_the_goal_are_not_alike(
    book: Combined, goal: str
) -> None:
    dam = book.founder("F1", "female", "visual", line=book.one)
    sire = book.founder("M1", "male", "visual", line=book.one)
    clutch = book.clutch("C1", dam, sire)
    young = []
    with writing(by=book.by, what="Looked") as entry:
        for n, seen in enumerate(("yes", "yes", "no")):
            one = entry.keep(
                m.Animal(species=book.species, code=f"K{n}", clutch=clutch, sex="female")
            )
            entry.keep(m.Observation(animal=one, trait=book.blaze, seen=seen, on=TODAY, by=book.by))
            young.append(one)
    project = book.project(getattr(book, goal))
    found = holdbacks.alike(project, young).values()
    groups = sorted(sorted(one.code for one in group) for group in found)
    assert groups == [["K0", "K1"], ["K2"]]


def test_a_mate_is_told_with_the_genes_that_a_combination_takes(book: Combined) -> None:
    dam = book.founder("F1", "female", "visual", line=book.one)
    sire = book.founder("M1", "male", "visual", line=book.other)
    said = "line not named (stated visual by a source not named, not tested here)"
    whole = f"M1 has Kelpwash {said}; F1 has Blaze {said}."
    subject = m.Animal.objects.select_related("species").get(pk=dam.pk)

    def reason() -> str:
        ((row,),) = (side.rows for side in mates_page(subject, TODAY, everything=True).sides)
        return row.reason

    # Without a project it is the best look of their young that is told of.
    assert reason() == f"No open project asks for it. {whole}"
    book.project(book.both, dam, sire)
    assert reason() == f"Toward the project To Halftide, {whole}"


@pytest.mark.parametrize("need", ["carries", "two"])
def test_what_nobody_has_copies_of_cannot_be_asked_to_be_carried(
    owner_client: Client, book: Combined, need: str
) -> None:
    for trait in (book.both, book.double):
        sent = {
            "name": "Pale tide", "species": book.species.pk, "wanted": "1", "sex": "unknown",
            "goal-TOTAL_FORMS": "1", "goal-INITIAL_FORMS": "0",
            "goal-0-need": need, "goal-0-gene": f"t{trait.pk}",
        }  # fmt: skip
        page = owner_client.post("/projects/new/", sent).content.decode()
        assert f"{trait} is seen, not carried: choose “shows it”." in page
        assert not m.Project.objects.exists()


def test_page_says_of_which_gene_a_member_has_copies(owner_client: Client, book: Combined) -> None:
    dam = book.founder("F1", "female", "visual", line=book.one)
    none = book.founder("F2", "female")
    for trait in (book.double, book.both):
        project = book.project(trait, dam, none)
        page = owner_client.get(f"/projects/{project.pk}/")
        rows = {row.member.animal.code: row.parts[0] for row in page.context["page"].rows}
        told = {
            code: [(one.words, one.standing.word) for one in part.genes if one.standing]
            for code, part in rows.items()
        }
        assert told == {"F1": [("Blaze", m.Word.STATED)], "F2": []}
        shown = page.content.decode()
        assert shown.count("nothing speaks for it") == 1
        table: Any = owner_client.get(f"/projects/{project.pk}/", {"file": "csv"})
        text = b"".join(table.streaming_content).decode("utf-8-sig")
        assert "Blaze: stated by the source" in text and "nothing speaks for it" in text


def test_what_a_combination_takes_is_worth_proving(book: Combined) -> None:
    dam = book.founder("F1", "female", "possible", "1/2", line=book.one)
    project = book.project(book.both, dam)
    standing = m.Standing.objects.select_related("animal").get(animal=dam, line=None)
    (stake,) = stakes([standing])[dam.pk, book.blaze.pk]
    assert (stake.project, stake.part.trait, stake.member) == (project, book.both, True)


def harmed(book: Combined) -> None:
    with writing(by=book.by, what="Noted a harm") as entry:
        for trait in (book.both, book.plain):
            trait.harm, trait.harm_source = "cannot right itself", "own records"
            entry.keep(trait)


def test_a_sheet_tells_of_a_harm_that_a_combination_does(book: Combined) -> None:
    dam = book.founder("F1", "female", "visual", line=book.one)
    none = book.founder("F2", "female")
    sire = book.founder("M1", "male", "visual", line=book.other)
    one = book.young("K1", book.clutch("C1", dam, sire), seen=None)
    harmed(book)

    def told(animal: m.Animal) -> dict[str, str]:
        return {row["trait"]: row["applies"] for row in draft(animal, by=book.by)["harm"]}

    both = "It concerns young that show it, by copies of Blaze and Kelpwash."
    # Blaze for certain, and nothing of Kelpwash: a Plainblaze.
    assert told(dam) == {"Halftide": both, "Plainblaze": "This animal shows it."}
    assert told(sire) == {"Halftide": both}
    assert told(none) == {}
    # By hand: half of the young have Blaze of their dam, half of these Kelpwash of their sire.
    assert told(one) == {
        "Halftide": "This animal may show it: 25 %.",
        "Plainblaze": "This animal may show it: 25 %.",
    }


def test_a_test_pairing_is_warned_of_a_harm_that_a_combination_does(book: Combined) -> None:
    dam = book.founder("F1", "female", "visual", line=book.one)
    sire = book.founder("M1", "male", "visual", line=book.other)
    like = book.founder("M2", "male", "visual", line=book.one)
    plain = book.founder("M3", "male")
    book.plain = book.both  # only the look that takes both is harmful here
    harmed(book)
    found = cautions([(dam, sire), (dam, like), (dam, plain), (sire, plain)])
    assert {pair: said for pair, said in found.items() if said} == {
        (dam.pk, sire.pk): ("young may show Halftide, which harms",)
    }
