"""Pages of projects: list, goal, members in order, pairings, holding back, letting go."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from keeper.domain import inference
from keeper.domain.inference import GoalChance, Unanswerable
from keeper.domain.projects import writes as projects
from keeper.domain.projects.queries import shown_by
from keeper.domain.projects.writes import Requirement
from keeper.domain.saying.goals import goal_words
from keeper.models import (
    Account,
    Animal,
    CandidateSire,
    DaybookEntry,
    GoalPart,
    Line,
    Member,
    Need,
    Observation,
    Project,
    Standing,
    Trait,
)
from keeper.pages.projects.page import Standings, is_what_is_wanted
from keeper.pages.projects.pairs import one_in, pairs
from tests.factories import AnimalFactory, ClutchFactory, LineFactory, SpeciesFactory, TraitFactory

HTMX = {"HX-Request": "true"}


@pytest.fixture
def line(db: None) -> Line:
    return LineFactory.create(trait__name="Saltgrass", code="HAR", trait__species__name="python")


@pytest.fixture
def project(line: Line, owner: Account) -> Project:
    made = Project(species=line.trait.species, name="Pale tide", wanted=2, sex="female")
    projects.start_project(
        project=made, parts=[Requirement(line.trait, line, Need.SHOWS)], by=owner
    )
    return made


@pytest.fixture
def answers(monkeypatch: pytest.MonkeyPatch) -> dict[str, float]:
    """Chances by code, and by "dam × sire", as inference shall answer them."""
    given: dict[str, float] = {}

    def goal_chances(_: Project, animals: Iterable[Animal]) -> dict[int, float]:
        return {one.pk: given.get(one.code, 0.0) for one in animals}

    def pair_goal(_: Project, dam: Animal, sire: Animal, *, eggs: Sequence[int]) -> GoalChance:
        p = given.get(f"{dam.code} × {sire.code}", 0.0)
        if p < 0:
            raise Unanswerable("more than can be worked out")
        needed = next((n for n in range(1, 999) if 1 - (1 - p) ** n >= 0.95), None)
        return GoalChance(p, {n: 1 - (1 - p) ** n for n in eggs}, needed)

    monkeypatch.setattr(inference, "goal_chances", goal_chances)

    def pair_goals(
        project: Project, pairs: Iterable[tuple[Animal, Animal]], *, eggs: Sequence[int]
    ) -> list[GoalChance]:
        return [pair_goal(project, *pair, eggs=eggs) for pair in pairs]

    monkeypatch.setattr(inference, "pair_goal", pair_goal)
    monkeypatch.setattr(inference, "pair_goals", pair_goals)
    monkeypatch.setattr(inference, "kinships", lambda asked: [0.125] * len(asked))
    return given


def join(project: Project, by: Account, code: str, sex: str, **given: Any) -> Member:
    animal = AnimalFactory.create(species=project.species, code=code, sex=sex)
    values: dict[str, Any] = {"reason": "palest", "since": date(2026, 5, 1)}
    values |= {"review_on": timezone.localdate() + timedelta(days=9), **given}
    member = Member(project=project, animal=animal, **values)
    projects.join(member=member, by=by)
    return member


def stand(animal: Animal, line: Line, one: float, by: Account) -> None:
    entry = DaybookEntry.objects.create(by=by, what="computed")
    for of in (None, line):
        Standing.objects.create(
            animal=animal,
            trait=line.trait,
            line=of,
            two=0,
            one=one,
            none=1 - one,
            word="possible",
            entry=entry,
        )


def text_of(page: Any) -> str:
    return " ".join(page.content.decode().split())


def test_goal_is_said_in_words(project: Project, line: Line) -> None:
    parts = [
        GoalPart(trait=line.trait, line=line, need=Need.SHOWS),
        GoalPart(trait=line.trait, need=Need.CARRIES),
        GoalPart(trait=line.trait, need=Need.TWO),
    ]
    assert goal_words(project, parts) == (
        "2 females, each shows Saltgrass HAR, carries Saltgrass, any line "
        "and has two copies of Saltgrass, any line"
    )
    project.wanted, project.sex = 1, "unknown"
    assert goal_words(project, parts[:1]) == "One animal that shows Saltgrass HAR"


@pytest.mark.parametrize(
    ("chance", "n"), [(1 / 16, 16), (0.5, 2), (1 / 3, 3), (0.3, None), (0, None), (0.9, None)]
)
def test_one_in_is_said_only_where_it_is_so(chance: float, n: int | None) -> None:
    assert one_in(chance) == n


def test_empty_list_says_what_to_do_first(owner_client: Client) -> None:
    assert 'First <a href="/projects/new/">begin one</a>' in text_of(owner_client.get("/projects/"))


@pytest.mark.parametrize("address", ["/animals/new/", "/projects/new/"])
def test_a_species_comes_first(owner_client: Client, address: str) -> None:
    assert "First, a species." in text_of(owner_client.get(address))
    SpeciesFactory.create()
    assert "First, a species." not in text_of(owner_client.get(address))


def test_list_shows_goal_counts_and_reviews(
    owner_client: Client, owner: Account, project: Project
) -> None:
    join(project, owner, "K-1", "female", review_on=timezone.localdate())
    join(project, owner, "K-2", "male", holdback=False)
    text = text_of(owner_client.get("/projects/"))
    assert "2 females, each shows Saltgrass HAR." in text
    assert 'python · 2 animals in it · <span class="due">1 to look at now</span>' in text


@pytest.mark.parametrize("page", ["/projects/", "one"])
def test_pages_ask_the_same_number_of_queries_for_more(
    owner_client: Client,
    owner: Account,
    project: Project,
    line: Line,
    answers: dict[str, float],
    page: str,
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    address = reverse("projects-one", args=[project.pk]) if page == "one" else page

    def add(n: int) -> None:
        member = join(project, owner, f"F-{n}", "female")
        stand(member.animal, line, 0.5, owner)
        mate = join(project, owner, f"M-{n}", "male")
        gone = join(project, owner, f"R-{n}", "male")
        projects.release(member=gone, on=timezone.localdate(), reason="sold", by=owner)
        clutch = ClutchFactory.create(dam=member.animal, laid_on=date(2026, 5, n))
        CandidateSire.objects.create(clutch=clutch, sire=mate.animal)
        if page != "one":
            other = Project(species=project.species, name=f"Other {n}")
            projects.start_project(
                project=other, parts=[Requirement(line.trait, line, Need.SHOWS)], by=owner
            )

    owner_client.get(address)
    add(1)
    with CaptureQueriesContext(connection) as first:
        owner_client.get(address)
    add(2)
    add(3)
    with django_assert_num_queries(len(first)):
        owner_client.get(address)


def test_members_stand_in_the_order_of_their_chance(
    owner_client: Client,
    owner: Account,
    project: Project,
    line: Line,
    answers: dict[str, float],
) -> None:
    for code, chance in (("K-1", 0.25), ("K-2", 1.0), ("K-3", 0.0), ("K-4", 0.6666)):
        stand(join(project, owner, code, "female").animal, line, 2 / 3, owner)
        answers[code] = chance
    page = owner_client.get(reverse("projects-one", args=[project.pk]))
    rows = page.context["page"].rows
    assert [(row.member.animal.code, row.chance) for row in rows] == [
        ("K-2", "100 %"),
        ("K-4", "66 %"),
        ("K-1", "25 %"),
        ("K-3", "0 %"),
    ]
    assert "0 of 2 reached" in text_of(page)
    assert "possible het 66 %" in text_of(page)


@pytest.mark.parametrize(
    ("need", "of_line", "whole", "own", "sex", "reached"),
    [
        ("shows", True, ("visual", 1, 0), ("visual", 1, 0), "female", True),
        ("shows", True, ("visual", 1, 0), ("visual", 1, 0), "male", False),
        ("shows", True, ("visual", 1, 0), ("possible", 0, 1), "female", False),
        ("shows", False, ("visual", 1, 0), ("possible", 0, 0.5), "female", True),
        ("shows", False, ("parentage", 1, 0), ("parentage", 1, 0), "female", False),
        ("carries", True, ("proven", 0, 1), ("proven", 0, 1), "female", True),
        ("carries", True, ("proven", 0, 1), ("possible", 0, 0.99), "female", False),
        ("two", False, ("proven", 0, 1), ("proven", 0, 1), "female", False),
        ("two", False, ("parentage", 1, 0), ("parentage", 1, 0), "female", True),
    ],
)
def test_the_goal_is_reached_only_by_what_is_certain(
    owner: Account,
    project: Project,
    line: Line,
    need: str,
    of_line: bool,
    whole: tuple[str, float, float],
    own: tuple[str, float, float],
    sex: str,
    reached: bool,
) -> None:
    animal = AnimalFactory.create(species=project.species, sex=sex)
    part = GoalPart(trait=line.trait, line=line if of_line else None, need=need)
    rows: Standings = {}
    for of, (word, two, one) in ((None, whole), (line, own)):
        rows[animal.pk, line.trait_id, of.pk if of else None] = Standing(
            animal=animal,
            trait=line.trait,
            line=of,
            word=word,
            two=two,
            one=one,
            none=1 - two - one,
        )
    assert is_what_is_wanted(project, [part], animal, rows) is reached


def test_a_disputed_gene_does_not_reach_the_goal(
    owner: Account, project: Project, line: Line
) -> None:
    animal = AnimalFactory.create(species=project.species, sex="female")
    row = Standing(
        animal=animal, trait=line.trait, word="visual", two=1, one=0, none=0, dispute_id=1
    )
    part = GoalPart(trait=line.trait, need="shows")
    rows: Standings = {(animal.pk, line.trait_id, None): row}
    assert not is_what_is_wanted(project, [part], animal, rows)


def test_what_cannot_be_answered_does_not_break_the_page(
    owner_client: Client, owner: Account, project: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: Any) -> dict[int, float]:
        raise Unanswerable("More than can be worked out exactly.")

    monkeypatch.setattr(inference, "goal_chances", refuse)
    join(project, owner, "K-1", "female")
    text = text_of(owner_client.get(f"/projects/{project.pk}/"))
    assert "Members cannot be ranked." in text
    assert "<li>More than can be worked out exactly.</li>" in text


def test_reviews_that_are_due_stand_on_top(
    owner_client: Client, owner: Account, project: Project, answers: dict[str, float]
) -> None:
    today = timezone.localdate()
    join(project, owner, "K-1", "female", review_on=today)
    join(project, owner, "K-2", "female", review_on=today + timedelta(days=1))
    page = owner_client.get(f"/projects/{project.pk}/")
    assert [member.animal.code for member in page.context["page"].due] == ["K-1"]


def test_pairs_are_ranked_and_speak_plainly(
    owner: Account, project: Project, answers: dict[str, float]
) -> None:
    for code, sex in (("F-1", "female"), ("F-2", "female"), ("M-1", "male"), ("M-2", "male")):
        join(project, owner, code, sex)
    answers |= {"F-1 × M-1": 1 / 16, "F-2 × M-1": 1 / 4}
    best = pairs(project, everything=False)
    assert [
        (
            row.dam.code,
            row.sire.code,
            row.each,
            row.one_in,
            tuple(said for _, said in row.at_least_one),
            row.for_95,
        )
        for row in best.rows
    ] == [
        ("F-2", "M-1", "25 %", 4, ("68 %", "89 %", "98 %"), 11),
        ("F-1", "M-1", "6 %", 16, ("22 %", "40 %", "64 %"), 47),
    ]
    assert (best.left, best.hopeless, best.rows[1].kinship) == (2, 2, "0.125")
    assert best.rows[1].kinship_like == "as of half-sibs"
    assert len(pairs(project, everything=True).rows) == 4


def test_pairs_that_cannot_be_answered_are_shown_without_figures(
    owner: Account, project: Project, answers: dict[str, float]
) -> None:
    join(project, owner, "F-1", "female")
    join(project, owner, "M-1", "male")
    answers["F-1 × M-1"] = -1
    (row,) = pairs(project, everything=False).rows
    assert (row.each, row.at_least_one, row.hopeless) == ("", (), False)


def test_one_in_sixteen_is_not_to_be_expected_from_sixteen(
    owner: Account, project: Project, answers: dict[str, float]
) -> None:
    join(project, owner, "F-1", "female")
    join(project, owner, "M-1", "male")
    answers["F-1 × M-1"] = 1 / 16
    assert pairs(project, everything=False).not_expected == (
        "1 in 16 is not to be expected from 16 hatchlings: the chance of at least one among 16 "
        "is 64 %. For 95 % it takes 47."
    )


def test_only_the_best_twenty_pairs_until_more_are_asked_for(
    owner_client: Client, owner: Account, project: Project, answers: dict[str, float]
) -> None:
    for n in range(5):
        join(project, owner, f"F-{n}", "female")
        join(project, owner, f"M-{n}", "male")
    answers |= {f"F-{f} × M-{m}": (5 * f + m + 1) / 100 for f in range(5) for m in range(5)}
    address = f"/projects/{project.pk}/"
    part = owner_client.get(f"{address}?pairs=best", headers=HTMX)
    assert len(part.context["pairs"].rows) == 20
    assert "Show 5 more" in text_of(part)
    assert "<h1>" not in text_of(part)
    whole = owner_client.get(f"{address}?pairs=all")
    assert len(whole.context["pairs"].rows) == 25
    assert "<h1>Pale tide</h1>" in text_of(whole)


def test_pairs_wait_until_asked_for(
    owner_client: Client, owner: Account, project: Project, answers: dict[str, float]
) -> None:
    join(project, owner, "F-1", "female")
    address = f"/projects/{project.pk}/"
    assert "It takes a female and a male among the members." in text_of(owner_client.get(address))
    join(project, owner, "M-1", "male")
    assert f'href="{address}?pairs=best#pairings"' in text_of(owner_client.get(address))


def goal_rows(*rows: tuple[str, str]) -> dict[str, Any]:
    given: dict[str, Any] = {"goal-TOTAL_FORMS": len(rows), "goal-INITIAL_FORMS": 0}
    for n, (need, gene) in enumerate(rows):
        given |= {f"goal-{n}-need": need, f"goal-{n}-gene": gene}
    return given


def test_new_project_is_saved_with_its_goal(owner_client: Client, line: Line) -> None:
    given = {"name": "Ebb", "species": line.trait.species_id, "wanted": 1, "sex": "unknown"}
    rows = goal_rows(("shows", f"l{line.pk}"), ("carries", f"t{line.trait_id}"), ("two", ""))
    answer = owner_client.post("/projects/new/", given | rows)
    project = Project.objects.get()
    entry = DaybookEntry.objects.get()
    assert answer["Location"] == f"/projects/{project.pk}/?moved={entry.pk}"
    assert [(p.trait, p.line, p.need) for p in GoalPart.objects.all()] == [
        (line.trait, line, "shows"),
        (line.trait, None, "carries"),
    ]


def test_new_project_keeps_what_was_typed_when_refused(
    owner_client: Client, project: Project, line: Line
) -> None:
    given = {"name": "pale tide", "species": line.trait.species_id, "wanted": 3, "sex": "male"}
    page = owner_client.post("/projects/new/", given | goal_rows(("two", f"l{line.pk}")))
    assert "This name is in use already. Choose another." in text_of(page)
    assert 'value="pale tide"' in text_of(page)
    assert f'<option value="l{line.pk}" selected>' in text_of(page)
    assert Project.objects.count() == 1


def test_new_project_without_goal_is_told_so(owner_client: Client, line: Line) -> None:
    given = {"name": "Ebb", "species": line.trait.species_id, "wanted": 1, "sex": "unknown"}
    page = owner_client.post("/projects/new/", given | goal_rows(("shows", "")))
    assert "Say what the animal must show or carry: at least one part." in text_of(page)


def test_one_more_row_keeps_what_was_typed(owner_client: Client, line: Line) -> None:
    rows = goal_rows(("two", f"l{line.pk}"), ("shows", ""), ("shows", ""))
    page = owner_client.post("/projects/new/", {"name": "", "more": "1", "notes": "a note"} | rows)
    assert len(page.context["goal"].forms) == 4
    assert "a note" in text_of(page)
    assert f'<option value="l{line.pk}" selected>' in text_of(page)
    assert "errorlist" not in text_of(page)


def test_change_shows_and_keeps_the_goal(
    owner_client: Client, project: Project, line: Line
) -> None:
    address = f"/projects/{project.pk}/change/"
    assert f'<option value="l{line.pk}" selected>' in text_of(owner_client.get(address))
    given = {"name": "Pale tide", "wanted": 1, "sex": "unknown", "reason": "one will do"}
    owner_client.post(address, given | goal_rows(("shows", f"l{line.pk}")))
    project.refresh_from_db()
    assert (project.wanted, project.species) == (1, line.trait.species)
    assert GoalPart.objects.live().count() == GoalPart.objects.count() == 1


def hold_form(project: Project, code: str, **given: Any) -> dict[str, Any]:
    return {
        "code": code,
        "project": project.pk,
        "kind": "holdback",
        "reason": "palest",
        "since": "2026-05-01",
        "review_on": "2026-06-01",
    } | given


def test_hold_from_the_animals_page_offers_projects_of_its_species(
    owner_client: Client, owner: Account, project: Project
) -> None:
    other = LineFactory.create(trait__name="Ebb")
    elsewhere = Project(species=other.trait.species, name="Elsewhere")
    projects.start_project(
        project=elsewhere, parts=[Requirement(other.trait, None, Need.SHOWS)], by=owner
    )
    animal = AnimalFactory.create(species=project.species, code="K-7")
    page = owner_client.get(f"/projects/hold/?animal={animal.pk}")
    assert list(page.context["form"].fields["project"].queryset) == [project]
    assert 'value="K-7"' in text_of(page)


def test_hold_finds_the_code_however_it_is_typed(owner_client: Client, project: Project) -> None:
    animal = AnimalFactory.create(species=project.species, code="K-7")
    answer = owner_client.post("/projects/hold/", hold_form(project, " k-7 "))
    assert answer["Location"].startswith(f"/projects/{project.pk}/?moved=")
    member = Member.objects.get()
    assert (member.animal, member.holdback, member.reason) == (animal, True, "palest")


def test_a_breeder_is_taken_in_without_a_day(owner_client: Client, project: Project) -> None:
    AnimalFactory.create(species=project.species, code="K-7")
    given = hold_form(project, "K-7", kind="breeder", review_on="")
    assert owner_client.post("/projects/hold/", given).status_code == 302
    assert Member.objects.get().holdback is False


@pytest.mark.parametrize(
    ("code", "given", "said"),
    [
        ("K-8", {}, "No animal has the code “K-8”. Check it, or add the animal first."),
        ("K-7", {"review_on": ""}, "Say when to look at this holdback again."),
        ("K-7", {"reason": ""}, "This field is required."),
        ("K-6", {}, "K-6 is not here: sold. Choose one that is."),
        ("X-1", {}, "X-1 is a corn snake. Choose one of its species."),
    ],
)
def test_hold_says_what_is_wrong_and_keeps_what_was_typed(
    owner_client: Client, project: Project, code: str, given: dict[str, str], said: str
) -> None:
    AnimalFactory.create(species=project.species, code="K-7")
    AnimalFactory.create(species=project.species, code="K-6", status="sold")
    AnimalFactory.create(species__name="corn snake", code="X-1")
    page = owner_client.post("/projects/hold/", hold_form(project, code, **given))
    assert said in text_of(page)
    assert f'value="{code}"' in text_of(page)
    assert Member.objects.count() == 0


def test_hold_without_a_project_says_what_to_do_first(owner_client: Client) -> None:
    text = text_of(owner_client.get("/projects/hold/"))
    assert "There is no project to hold it back for" in text


def test_hold_of_an_animal_not_in_the_book_is_not_found(owner_client: Client) -> None:
    assert owner_client.get("/projects/hold/?animal=77").status_code == 404


def test_review_is_moved_with_a_reason(
    owner_client: Client, owner: Account, project: Project
) -> None:
    member = join(project, owner, "K-1", "female")
    address = f"/projects/members/{member.pk}/review/"
    page = owner_client.post(address, {"review_on": "2001-01-01", "reason": "later"})
    assert "That day is past. Choose today or a later day." in text_of(page)
    day = timezone.localdate() + timedelta(days=30)
    owner_client.post(address, {"review_on": day.isoformat(), "reason": "later"})
    member.refresh_from_db()
    assert member.review_on == day


def test_release_asks_for_a_reason_and_offers_undo(
    owner_client: Client, owner: Account, project: Project, answers: dict[str, float]
) -> None:
    member = join(project, owner, "K-1", "female")
    address = f"/projects/members/{member.pk}/release/"
    assert "This field is required." in text_of(
        owner_client.post(address, {"on": "2026-07-01", "reason": ""})
    )
    page = owner_client.post(address, {"on": "2026-07-01", "reason": "a male"}, follow=True)
    text = text_of(page)
    assert "Released K-1 from Pale tide." in text
    assert "on 1 July 2026: a male" in text
    assert f'action="{reverse("daybook-undo", args=[DaybookEntry.objects.first().pk])}"' in text  # type: ignore[union-attr]


def test_release_too_early_lands_at_its_field(
    owner_client: Client, owner: Account, project: Project
) -> None:
    member = join(project, owner, "K-1", "female")
    address = f"/projects/members/{member.pk}/release/"
    page = owner_client.post(address, {"on": "2026-04-01", "reason": "a male"})
    assert page.context["form"].errors == {
        "on": [("It came in on 1 May 2026. Choose that day or a later one.")]
    }


def test_close_and_reopen(owner_client: Client, project: Project) -> None:
    owner_client.post(f"/projects/{project.pk}/close/", {"reason": "reached"})
    assert "Pale tide" not in text_of(owner_client.get("/projects/"))
    assert "Pale tide" in text_of(owner_client.get("/projects/?closed=1"))
    page = owner_client.post(f"/projects/{project.pk}/close/", {"reason": "again"})
    assert "Pale tide was closed already. Reopen it to change it." in text_of(page)
    owner_client.post(f"/projects/{project.pk}/reopen/", {"reason": "one more"})
    project.refresh_from_db()
    assert project.closed_on is None


def test_what_hatched_for_it_is_counted(
    owner_client: Client,
    owner: Account,
    project: Project,
    line: Line,
    answers: dict[str, float],
) -> None:
    dam, sire = (join(project, owner, "F-1", "female"), join(project, owner, "M-1", "male"))
    clutch = ClutchFactory.create(dam=dam.animal, code="26-07")
    CandidateSire.objects.create(clutch=clutch, sire=sire.animal)
    clutch.hatch_rows.create(count=5)
    clutch.hatch_rows.create(count=2)
    held = AnimalFactory.create(species=project.species, clutch=clutch, code="26-07-1")
    projects.join(
        member=Member(
            project=project,
            animal=held,
            reason="pale",
            since=date(2026, 8, 1),
            review_on=date(2099, 1, 1),
        ),
        by=owner,
    )
    rows = owner_client.get(f"/projects/{project.pk}/").context["page"].clutches
    assert [(row.clutch, row.sires, row.hatched, row.kept_back) for row in rows] == [
        (clutch, "M-1", 7, 1)
    ]


def test_unused_trait_is_offered_with_its_lines(owner_client: Client, line: Line) -> None:
    assert Trait.objects.count() == 1
    text = text_of(owner_client.get("/projects/new/"))
    assert f'<option value="t{line.trait_id}">Saltgrass, any line</option>' in text
    assert f'<option value="l{line.pk}">Saltgrass HAR (' in text


def test_a_look_by_combination_is_met_by_what_was_seen(owner: Account, project: Project) -> None:
    trait = TraitFactory.create(species=project.species, name="Halftide", shown="rules")
    animal = AnimalFactory.create(species=project.species, sex="female")
    part = GoalPart(project=project, trait=trait, need="shows")
    latest = (("yes", True), ("no", False), ("unsure", False), ("yes", True))
    for day, (seen, met) in enumerate(latest, start=1):
        Observation.objects.create(
            animal=animal, trait=trait, seen=seen, on=date(2026, 5, day), by=owner
        )
        shown = shown_by([part], [animal.pk])
        assert is_what_is_wanted(project, [part], animal, {}, shown) is met
