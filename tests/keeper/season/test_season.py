"""The season: what pairs are worth, what is never made, what is kept and given up."""

from dataclasses import replace
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused, writing
from keeper.domain.projects import writes as projects
from keeper.domain.projects.writes import Requirement
from keeper.domain.season import queries
from keeper.domain.season import writes as domain
from keeper.domain.season.planning import HARM, KIN, MIX, SeasonPlan, Wishes, season_plan
from keeper.models import Account, Animal, Need, PlannedPairing, Project
from keeper.pages.season.page import shown_pairs
from tests.factories import LineFactory
from tests.keeper.books import Book

SEASON = 2027


@pytest.fixture
def book(owner: Account) -> Book:
    return Book(owner, sex_determination="ZW")


def project_of(book: Book, name: str = "Pale tide", need: Need = Need.SHOWS) -> Project:
    made = Project(species=book.species, name=name)
    parts = [Requirement(book.trait, book.line, need)]
    projects.start_project(project=made, parts=parts, by=book.by)
    return made


def wishes(*wanted: Project, **given: Any) -> Wishes:
    plain = Wishes(
        season=SEASON, eggs=6, matings=3, clutches=None, kinship=0.125, rest_after=None,
        mixed=False, rare=0, tests=0, weights={one.pk: 1 for one in wanted},
    )  # fmt: skip
    return replace(plain, **given)


def pairs_of(plan: SeasonPlan) -> set[tuple[str, str]]:
    return {(one.dam.code, one.sire.code) for one in plan.pairs}


def barred(plan: SeasonPlan, why: str) -> bool:
    return any(why in text for text in plan.barred)


def test_a_pair_is_worth_what_its_own_page_says(book: Book) -> None:
    females = [
        book.founder("F1", "female", "carries"),
        book.founder("F2", "female", "possible", "2/3"),
        book.founder("F3", "female"),
    ]
    males = [book.founder("M1", "male", "visual"), book.founder("M2", "male", "possible", "1/2")]
    wanted = project_of(book)
    found = inference.pair_gains(book.species, [wanted], females, males, 6)
    couples = [(dam, sire) for dam in females for sire in males]
    for (dam, sire), one in zip(
        couples, inference.pair_goals(wanted, couples, eggs=(6,)), strict=True
    ):
        row, column = females.index(dam), males.index(sire)
        told = found.goals[wanted.pk][row][column]
        assert told == pytest.approx(one.at_least_one[6], abs=1e-12)
    # By hand: a het with a visual gives one half each: 1 - (1/2)^6.
    assert found.goals[wanted.pk][0][0] == pytest.approx(1 - 0.5**6)
    # Young of a visual all carry; of two 2/3 and 1/2 hets 1 - (1/4) of two hets' do, and so on.
    assert found.nearer[wanted.pk][2][0] == 1.0


def test_the_best_pairs_within_the_limits(book: Book) -> None:
    for code, chance in (("F1", "99/100"), ("F2", "2/3"), ("F3", "1/2")):
        book.founder(code, "female", "possible", chance)
    book.founder("M1", "male", "visual")
    wanted = project_of(book)
    plan = season_plan(book.species, [wanted], wishes(wanted, matings=2))
    assert pairs_of(plan) == {("F1", "M1"), ("F2", "M1")}
    assert plan.pairs[0].reasons == ("Pale tide: 97 % that a clutch of 6 gives what it wants",)
    assert [one.code for one in plan.idle] == ["F3"]
    one = season_plan(book.species, [wanted], wishes(wanted, matings=2, clutches=1))
    assert pairs_of(one) == {("F1", "M1")}
    nothing = season_plan(book.species, [wanted], wishes(wanted, weights={wanted.pk: 0}))
    assert pairs_of(nothing) == set()


def test_pairs_are_fixed_and_forbidden(book: Book) -> None:
    females = [book.founder(code, "female", "carries") for code in ("F1", "F2")]
    male = book.founder("M1", "male", "visual")
    plain = book.founder("M2", "male")
    wanted = project_of(book)
    forbidden = frozenset({(females[0].pk, male.pk)})
    plan = season_plan(book.species, [wanted], wishes(wanted, forbidden=forbidden))
    assert ("F1", "M1") not in pairs_of(plan)
    fixed = frozenset({(females[0].pk, plain.pk)})
    plan = season_plan(book.species, [wanted], wishes(wanted, fixed=fixed))
    assert pairs_of(plan) == {("F1", "M2"), ("F2", "M1")}
    assert next(one for one in plan.pairs if one.sire.code == "M2").lost_without is None
    twice = frozenset({(females[0].pk, plain.pk), (females[0].pk, male.pk), (1, 2)})
    plan = season_plan(book.species, [wanted], wishes(wanted, fixed=twice))
    assert len(plan.refused) == 2


def test_near_kin_are_not_paired(book: Book) -> None:
    dam, sire = book.founder("F1", "female", "visual"), book.founder("M1", "male", "visual")
    clutch = book.clutch("C1", dam, sire)
    book.young("K1", clutch, seen=True, sex="female")
    book.young("K2", clutch, seen=True, sex="male")
    wanted = project_of(book)
    plan = season_plan(book.species, [wanted], wishes(wanted))
    assert pairs_of(plan) == {("F1", "M1")}
    assert barred(plan, KIN)
    plan = season_plan(book.species, [wanted], wishes(wanted, kinship=0.25))
    assert len(plan.pairs) == 2


def test_what_harms_is_not_bred(book: Book) -> None:
    book.founder("F1", "female", "carries")
    book.founder("M1", "male", "carries")
    book.trait.harm, book.trait.harm_source = "tremor", "a source"
    with writing(by=book.by, what="harm") as entry:
        entry.keep(book.trait)
    wanted = project_of(book, need=Need.CARRIES)
    plan = season_plan(book.species, [wanted], wishes(wanted))
    assert plan.pairs == [] and barred(plan, HARM)
    (dam, sire) = (Animal.objects.get(code=code) for code in ("F1", "M1"))
    fixed = season_plan(
        book.species, [wanted], wishes(wanted, fixed=frozenset({(dam.pk, sire.pk)}))
    )
    assert fixed.pairs[0].warnings == (f"{HARM}: 25 % of hatchlings",)


def test_two_genes_of_one_look_are_not_brought_together(book: Book) -> None:
    other = LineFactory.create(trait=book.trait, code="PEL")
    book.founder("F1", "female", "visual")
    book.founder("M1", "male", "visual", line=other)
    wanted = project_of(book, need=Need.CARRIES)
    plan = season_plan(book.species, [wanted], wishes(wanted))
    assert plan.pairs == [] and barred(plan, MIX)
    plan = season_plan(book.species, [wanted], wishes(wanted, mixed=True))
    assert pairs_of(plan) == {("F1", "M1")}


def test_the_young_and_the_tired_are_left_out(book: Book) -> None:
    tired = book.founder("F1", "female", "visual")
    with writing(by=book.by, what="young") as entry:
        entry.keep(Animal(species=book.species, code="F2", sex="female", hatched_year=SEASON - 1))
    clutch = book.clutch("C1", tired)
    m.Clutch.objects.filter(pk=clutch.pk).update(laid_on=f"{SEASON - 1}-05-01")
    found = queries.breeders(book.species, SEASON, rest_after=1)
    assert {one.animal.code: one.why for one in found.left} == {
        "F1": "rests: laid in 1 season running",
        "F2": "too young until 2028",
    }
    assert queries.breeders(book.species, SEASON, rest_after=2).females == [tired]


@pytest.fixture
def planned(book: Book) -> PlannedPairing:
    dam, sire = book.founder("F1", "female", "visual"), book.founder("M1", "male", "visual")
    pairing = PlannedPairing(season=SEASON, dam=dam, sire=sire, reason="both pale")
    domain.plan_pairings(pairings=[pairing], by=book.by)
    return pairing


def test_a_pairing_is_planned_once_and_anew(planned: PlannedPairing, book: Book) -> None:
    again = PlannedPairing(season=SEASON, dam=planned.dam, sire=planned.sire, reason="again")
    with pytest.raises(Refused):
        domain.plan_pairings(pairings=[again], by=book.by)
    other = book.founder("M2", "male")
    new = PlannedPairing(season=SEASON, dam=planned.dam, sire=other, reason="another male")
    entry = domain.plan_pairings(pairings=[new], by=book.by)
    assert [one.sire.code for one in queries.planned(SEASON)] == ["M2"]
    undo(entry=entry, by=book.by)
    assert [one.sire.code for one in queries.planned(SEASON)] == ["M1"]


def test_a_planned_pairing_finds_its_clutch(planned: PlannedPairing, book: Book) -> None:
    assert queries.clutches_of([planned]) == {}
    clutch = book.clutch("C1", planned.dam, planned.sire)
    m.Clutch.objects.filter(pk=clutch.pk).update(laid_on=f"{SEASON}-05-01")
    assert queries.clutches_of([planned]) == {planned.pk: clutch}


def test_who_is_planned_is_not_withdrawn(planned: PlannedPairing, book: Book) -> None:
    from keeper.domain.animals.writes import withdraw_animal

    with pytest.raises(Refused) as error:
        withdraw_animal(animal=planned.dam, by=book.by, reason="typed twice")
    assert "it is planned for F1 × M1 in 2027" in str(error.value)


def test_who_is_not_here_is_not_planned(book: Book) -> None:
    dam, sire = book.founder("F1", "female"), book.founder("M1", "male")
    Animal.objects.filter(pk=dam.pk).update(status=m.Status.SOLD)
    pairing = PlannedPairing(season=SEASON, dam=dam, sire=sire, reason="both pale")
    with pytest.raises(Refused):
        domain.plan_pairings(pairings=[pairing], by=book.by)
    wrong = PlannedPairing(season=SEASON, dam=sire, sire=sire, reason="both pale")
    with pytest.raises(ValidationError):
        domain.plan_pairings(pairings=[wrong], by=book.by)


@pytest.fixture
def asked(book: Book) -> str:
    book.founder("F1", "female", "carries")
    book.founder("M1", "male", "visual")
    project_of(book)
    return f"{reverse('projects-season')}?go=1&season={SEASON}&species={book.species.pk}"


def test_page_keeps_what_it_showed(client: Client, book: Book, asked: str) -> None:
    client.force_login(book.by)
    page = client.get(asked)
    assert "98 % that a clutch of" not in page.content.decode()  # six times four fifths: five
    assert "96 % that a clutch of 5 gives what it wants" in page.content.decode()
    shown = page.context["page"].shown
    assert client.post(asked, {"shown": shown}).status_code == 302
    kept = PlannedPairing.objects.get()
    assert (kept.dam.code, kept.sire.code, kept.season) == ("F1", "M1", SEASON)
    assert kept.reason == "Pale tide: 96 % that a clutch of 5 gives what it wants"
    again = client.post(asked, {"shown": shown})
    assert "planned for 2027 already" in again.content.decode()


def test_page_shows_the_new_best_where_the_book_changed(
    client: Client, book: Book, asked: str
) -> None:
    client.force_login(book.by)
    shown = client.get(asked).context["page"].shown
    book.founder("F2", "female", "visual")
    page = client.post(asked, {"shown": shown})
    assert "The book has changed since" in page.content.decode()
    assert PlannedPairing.objects.count() == 0
    assert len(page.context["page"].rows) == 2


@pytest.mark.parametrize("odd", ["season=x", "season=99999", "matings=0", "kinship=7", "eggs="])
def test_what_cannot_be_asked_is_said(client: Client, book: Book, asked: str, odd: str) -> None:
    client.force_login(book.by)
    name = odd.partition("=")[0]
    page = client.get(f"{asked.replace('season=2027', '')}&{odd}&fix=1-2&not=x&fix=9-{10**30}")
    assert page.status_code == 200
    assert page.context["form"].errors.keys() == {name}


def test_pairing_is_planned_by_hand_and_given_up(client: Client, book: Book) -> None:
    client.force_login(book.by)
    dam, sire = book.founder("F1", "female"), book.founder("M1", "male")
    page = client.get(f"{reverse('projects-season-new')}?dam={dam.pk}&sire={sire.pk}")
    assert page.context["form"]["dam_code"].value() == "F1"
    given = {"dam_code": "F1", "sire_code": "F1", "season": SEASON, "reason": "both calm"}
    assert client.post(reverse("projects-season-new"), given).status_code == 200
    given["sire_code"] = "M1"
    assert client.post(reverse("projects-season-new"), given).status_code == 302
    pairing = PlannedPairing.objects.get()
    one = reverse("projects-season-pairing", args=[pairing.pk])
    assert "both calm" in client.get(one).content.decode()
    assert client.post(one, {"reason": "she does not eat"}).status_code == 302
    assert "It was given up: she does not eat" in client.get(one).content.decode()
    assert list(queries.planned()) == []


def test_queries_do_not_grow_with_the_animals(client: Client, book: Book, asked: str) -> None:
    client.force_login(book.by)

    def count() -> int:
        with CaptureQueriesContext(
            connection,
        ) as found:
            assert client.get(asked).status_code == 200
        return len(found)

    few = count()
    for number in range(2, 9):
        book.founder(f"F{number}", "female", "possible", "1/2")
        book.founder(f"M{number}", "male", "possible", "1/2")
    assert count() == few


def test_an_empty_book_says_what_comes_first(client: Client, owner: Account) -> None:
    client.force_login(owner)
    page = client.get(reverse("projects-season"))
    assert "There is no species in the book yet" in page.content.decode()


def test_names_of_pairs_are_those_shown(book: Book) -> None:
    dam, sire = book.founder("F1", "female", "visual"), book.founder("M1", "male", "visual")
    wanted = project_of(book)
    plan = season_plan(book.species, [wanted], wishes(wanted))
    assert shown_pairs(plan) == f"{dam.pk}-{sire.pk}"


def test_parents_with_few_kin_count_where_it_is_wished(book: Book) -> None:
    # Two sons of one pair and a male without kin, all alike in the gene.
    dam, sire = book.founder("F1", "female", "visual"), book.founder("M1", "male", "visual")
    clutch = book.clutch("C1", dam, sire)
    for code in ("K1", "K2"):
        book.young(code, clutch, seen=True, sex="male")
    book.founder("F2", "female", "visual")
    book.founder("M2", "male", "visual")
    wanted = project_of(book)
    plan = season_plan(book.species, [wanted], wishes(wanted, matings=1, clutches=1, rare=5))
    assert pairs_of(plan) == {("F2", "M2")}
    plain = season_plan(book.species, [wanted], wishes(wanted, matings=1, clutches=1))
    # With nothing asked every visual pair is worth the same, 1 and a quarter.
    assert plain.worth == pytest.approx(1.25)
    assert plan.worth > 1.25


def test_what_a_pair_would_prove_counts_where_it_is_wished(book: Book) -> None:
    # A possible het with a visual tells; with a normal male nothing can show.
    book.founder("F1", "female", "possible", "1/2")
    book.founder("M1", "male", "visual")
    book.founder("M2", "male")
    plan = season_plan(book.species, [], wishes(tests=5, eggs=1))
    assert pairs_of(plan) == {("F1", "M1")}
    # One hatchling: 0.311 bits, by hand in `test_couple_goals`; five steps of a tenth.
    assert plan.worth == pytest.approx(0.5 * 0.31127812445913283)
    assert plan.pairs[0].reasons == (
        "its hatchlings would tell what the two carry: 0.3 even chances",
    )
    assert season_plan(book.species, [], wishes(eggs=1)).pairs == []


def test_no_number_of_hatchlings_makes_certain_what_one_is_not(book: Book) -> None:
    # A het with a visual: 1 - (1/2)^60 is 1 to a float, and yet not certain.
    dam, sire = book.founder("F1", "female", "carries"), book.founder("M1", "male", "visual")
    other = book.founder("F2", "female", "visual")
    wanted = project_of(book)
    found = inference.pair_gains(book.species, [wanted], [dam, other], [sire], 60)
    assert found.goals[wanted.pk][0][0] < 1.0
    assert found.goals[wanted.pk][1][0] == 1.0
