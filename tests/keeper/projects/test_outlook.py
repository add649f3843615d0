"""When a goal is reached, what would help, and whom to hold back."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from math import comb

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain import inference
from keeper.domain.animals.together import Together, change_together
from keeper.domain.book.writing import writing
from keeper.domain.inference import BreedingCourse
from keeper.domain.inference.plans.forecasts import clutch_sizes
from keeper.domain.projects import holdbacks, outlook
from keeper.domain.projects.offered import offer
from keeper.domain.projects.queries import members_here
from keeper.models import Account, Member, Project
from keeper.pages.projects.outlook import _points_down, _points_up
from tests.keeper.projects.planning import TODAY, TwoGenes, outlook_from, with_its_goal

COURSE = BreedingCourse(
    seasons=4, pairs=1, matings=1, places=None, eggs=8, hatch=1.0, lays=1.0, lives=1.0,
    mature_female=3, mature_male=3, runs=2_000,
)  # fmt: skip


@pytest.fixture
def book(owner: Account) -> TwoGenes:
    return TwoGenes(owner, sex_determination="ZW")


def double_hets(book: TwoGenes) -> tuple[m.Animal, m.Animal]:
    """A pair of grown brother and sister that carry both for certain."""
    dam, sire = book.visuals()
    clutch = book.clutch("C1", dam, sire)
    return book.hatchling("K1", clutch, "female"), book.hatchling("K2", clutch, "male")


def test_a_grown_pair_of_double_hets_in_closed_form(book: TwoGenes) -> None:
    # 1 in 16 each: after n clutches of eight 1 - (15/16)^(8n).
    pair = double_hets(book)
    found = outlook_from(book.project, dict.fromkeys(pair, 3), replace(COURSE, seasons=2))
    assert found.exact
    assert found.chances == pytest.approx([1 - (15 / 16) ** (8 * n) for n in (1, 2)])
    assert found.errors == (0.0, 0.0)


def test_clutches_are_binomial() -> None:
    sizes = dict(clutch_sizes(4, 0.5))
    assert sizes == pytest.approx({n: comb(4, n) / 16 for n in range(5)})
    assert clutch_sizes(3, 1.0) == ((3, 1.0),)


def test_visuals_take_a_generation(book: TwoGenes) -> None:
    pair = book.visuals()
    found = outlook_from(book.project, dict.fromkeys(pair, 3), replace(COURSE, seasons=5))
    # Their young hatch in the first season and breed in the fourth.
    assert found.chances[:3] == (0.0, 0.0, 0.0)
    assert found.chances[3] == pytest.approx(1 - (15 / 16) ** 8, abs=0.05)


def test_nobody_who_carries_it_never_gets_there(book: TwoGenes) -> None:
    animals = [book.founder("F1", "female", "visual"), book.founder("M1", "male")]
    found = outlook_from(book.project, dict.fromkeys(animals, 3), COURSE)
    assert found.chances == (0.0,) * 4 and found.exact and found.median is None


def test_a_bought_carrier_helps(book: TwoGenes) -> None:
    pair = book.visuals()
    ages = dict.fromkeys(pair, 3)
    plain = outlook_from(book.project, ages, COURSE)
    # A bought double het with a visual of one gene gives 1 in 4 of one look; with the other's
    # own young nobody meets both sooner than in the fourth season, so it helps there.
    helped = outlook_from(book.project, ages, COURSE, bought=offer(with_its_goal(book), "male"))
    assert helped.chances[3] >= plain.chances[3] - 0.05


def test_a_test_first_is_an_average_over_what_it_may_find(book: TwoGenes) -> None:
    dam, _ = double_hets(book)
    with_one = book.founder("M2", "male", "possible", "1/2", line=book.second)
    ages = {dam: 3, with_one: 3}
    part = with_its_goal(book).goal[1]  # type: ignore[attr-defined]
    course = replace(COURSE, seasons=1)
    plain = outlook_from(book.project, ages, course)
    tested = outlook_from(book.project, ages, course, tested=(with_one, part))
    # With one pair there is nothing to decide: knowing changes nothing.
    assert tested.chances == pytest.approx(plain.chances, abs=1e-9)


def test_gain_is_told_run_by_run(book: TwoGenes) -> None:
    pair = book.visuals()
    ages = dict.fromkeys(pair, 3)
    course = replace(COURSE, seasons=6)
    base = outlook_from(book.project, ages, course)
    more = outlook_from(book.project, ages, replace(course, pairs=3, matings=3))
    found = outlook.gain(base, more)
    assert base.median is not None and found.by == base.median
    apart = (base.errors[found.by - 1] ** 2 + more.errors[found.by - 1] ** 2) ** 0.5
    assert found.error <= apart * 1.05
    assert found.more == pytest.approx(
        more.chances[found.by - 1] - base.chances[found.by - 1], abs=1e-9
    )
    assert outlook.gain(base, base).more == 0 == outlook.gain(base, base).error


def test_outlook_is_kept_until_something_is_written(
    book: TwoGenes, monkeypatch: pytest.MonkeyPatch
) -> None:
    book.visuals()
    project = with_its_goal(book)
    members = list(members_here(project))
    first = outlook.outlook_of(project, members, COURSE, TODAY, "")
    calls: list[Project] = []
    gather = inference.basis

    def asked(
        project: Project, animals: Iterable[m.Animal], bought: inference.Guest | None
    ) -> inference.Basis:
        calls.append(project)
        return gather(project, animals, bought)

    monkeypatch.setattr(inference, "basis", asked)
    assert outlook.outlook_of(project, members, COURSE, TODAY, "") == first
    assert calls == []
    book.founder("Z", "male")
    assert outlook.outlook_of(project, members, COURSE, TODAY, "") == first
    assert len(calls) == 1
    with pytest.raises(KeyError):
        outlook.outlook_of(project, members, COURSE, TODAY, "nothing")


def test_who_carries_all_of_it_is_advised_before_who_does_not(book: TwoGenes) -> None:
    dam, sire = book.visuals()
    clutch = book.clutch("C1", dam, sire)
    for number, sex in enumerate(("female", "female", "male"), start=1):
        book.hatchling(f"K{number}", clutch, sex)
    other = book.clutch("C2", book.founder("F9", "female"), book.founder("M9", "male"))
    book.hatchling("N1", other, "female")
    course = replace(COURSE, seasons=5, runs=1_000)
    found = holdbacks.advice(with_its_goal(book), clutch, TODAY, course=course)
    assert found is not None
    kept = {one.code for one in found.keep}
    # One of either sex alone gains nothing: the two together gain a year on the next clutch.
    assert found.after > found.before + 0.1
    assert (kept, found.males_females) == ({"K1", "K3"}, "1.1")
    nothing = holdbacks.advice(with_its_goal(book), other, TODAY, course=course)
    assert nothing is not None and nothing.keep == ()
    assert not nothing.rows[0].shows


def test_how_much_sooner_is_counted_run_by_run_over_all_seasons() -> None:
    def looked_ahead(*reached: int) -> inference.Outlook:
        runs = len(reached)
        chances = tuple(sum(0 < one <= season for one in reached) / runs for season in range(1, 5))
        return inference.Outlook(chances, (0.1,) * 4, None, None, None, False, bytes(reached))

    # Four seasons: never counts as the fifth. Sooner by 5 - 2, 0, 0 and 5 - 5 seasons: 0.75 on
    # average; spread 9 × (1 - 1/4) / 3, and the error is the root of a quarter of it.
    base, other = looked_ahead(0, 3, 1, 0), looked_ahead(2, 3, 1, 0)
    found = outlook.sooner(base, other)
    assert found.seasons == pytest.approx(0.75) and found.error == pytest.approx(0.75)
    # What the seasons' chances say is the same, whatever the runs had in common.
    apart = outlook.sooner(replace(base, by_run=b""), replace(other, by_run=b""))
    assert apart.seasons == pytest.approx(0.75) and apart.error == pytest.approx(0.08**0.5)


def test_alike_hatchlings_are_weighed_once(book: TwoGenes) -> None:
    dam, sire = book.visuals()
    clutch = book.clutch("C1", dam, sire)
    young = [book.hatchling(f"K{n}", clutch, sex) for n, sex in enumerate(("female",) * 3)]
    groups = holdbacks.alike(with_its_goal(book), young)
    assert [len(group) for group in groups.values()] == [3]


def test_males_and_females_as_the_trade_writes_them() -> None:
    animals = tuple(m.Animal(sex=sex) for sex in ("male", "female", "female", "unknown"))
    found = holdbacks.Advice(Project(), 2027, 0.1, 0.2, (), animals, outlook.Sooner(1.0, 0.1))
    assert found.males_females == "1.2.1"


def test_pages(client: Client, book: TwoGenes) -> None:
    client.force_login(book.by)
    dam, sire = book.visuals()
    clutch = book.clutch("C1", dam, sire)
    m.Clutch.objects.filter(pk=clutch.pk).update(laid_on=date(2026, 5, 1))
    for number, sex in enumerate(("female", "male"), start=1):
        book.hatchling(f"K{number}", clutch, sex)
    address = reverse("projects-outlook", args=[book.project.pk])
    plain = client.get(address).content.decode()
    assert "Work it out" in plain and "What would help most" not in plain
    now = client.get(f"{address}?now=1&seasons=5&lays=100&lives=100").content.decode()
    assert "What would help most" in now and "One more pair a season" in now
    htmx = {"HX-Request": "true"}
    part = client.get(f"{address}?part=change&change=pair&seasons=5", headers=htmx)
    assert "<html" not in part.content.decode()
    assert client.get(f"{address}?change=nothing").status_code == 404
    assert client.get(f"{address}?seasons=99").context["form"].errors.keys() == {"seasons"}
    advice = client.get(reverse("projects-advice", args=[clutch.pk])).content.decode()
    assert "Keep " in advice and "Hold" in advice


def test_several_are_held_back_in_one_tap(client: Client, book: TwoGenes) -> None:
    client.force_login(book.by)
    dam, sire = book.visuals()
    clutch = book.clutch("C1", dam, sire)
    for number, sex in enumerate(("female", "male"), start=1):
        book.hatchling(f"K{number}", clutch, sex)
    page = client.get(reverse("projects-advice", args=[clutch.pk])).context["pages"][0]
    sent = {
        "project": page.advice.project.pk, "young": [one.pk for one in page.advice.keep],
        "reason": page.reason, "since": page.since, "review_on": page.review_on,
    }  # fmt: skip
    assert client.post(reverse("projects-hold-young", args=[clutch.pk]), sent).status_code == 302
    held = {one.animal.code for one in Member.objects.filter(holdback=True)}
    assert held == {one.code for one in page.advice.keep}


def simulated(chance: float, error: float) -> inference.Outlook:
    return inference.Outlook((chance,), (error,), None, None, None, not error, b"")


def test_what_was_simulated_is_never_called_certain() -> None:
    assert outlook.chance_said(simulated(1.0, 1e-5), 1) == "99 %"
    assert outlook.chance_said(simulated(0.0, 1e-5), 1) == "under 1 %"
    assert outlook.chance_said(simulated(1.0, 0.0), 1) == "100 %"
    assert outlook.chance_said(simulated(0.0, 0.0), 1) == "0 %"


def test_gains_round_down_and_losses_and_errors_up() -> None:
    assert [_points_down(share) for share in (0.0299, 0.179, 0.0004, 0.03)] == [
        "2.9 points",
        "17 points",
        "under 0.1 points",
        "3.0 points",
    ]
    assert [_points_up(share) for share in (0.0291, 0.171, 0.0004, 0.17)] == [
        "3.0 points",
        "18 points",
        "0.1 points",
        "17 points",
    ]


def test_families_are_gathered_once_for_all_that_are_weighed(
    book: TwoGenes, monkeypatch: pytest.MonkeyPatch
) -> None:
    dam, sire = book.visuals()
    clutch = book.clutch("C1", dam, sire)
    for number, sex in enumerate(("female", "male"), start=1):
        book.hatchling(f"K{number}", clutch, sex)
    gathered = []
    gather = inference.basis

    def asked(
        project: Project, animals: Iterable[m.Animal], bought: inference.Guest | None
    ) -> inference.Basis:
        gathered.append(list(animals))
        return gather(project, animals, bought)

    monkeypatch.setattr(inference, "basis", asked)
    course = replace(COURSE, seasons=5, runs=500)
    assert holdbacks.advice(with_its_goal(book), clutch, TODAY, course=course) is not None
    # Once for things as they are, once for everything that might be kept.
    assert [len(animals) for animals in gathered] == [2, 4]


def carriers(book: TwoGenes) -> tuple[m.Animal, m.Animal]:
    """Two grown members that carry one copy of both: 1 of 16 hatchlings meets the goal."""
    found = []
    for code, sex in (("F1", "female"), ("M1", "male")):
        animal = book.founder(code, sex, "carries")
        with writing(by=book.by, what="Said more") as entry:
            book.say(entry, animal, "carries", None, book.second)
        book.member(animal)
        found.append(animal)
    return found[0], found[1]


def test_who_has_laid_is_bred_again_in_the_next_season(book: TwoGenes) -> None:
    dam, sire = carriers(book)
    project = with_its_goal(book)
    course = replace(COURSE, seasons=2)
    clutch = book.clutch("C1", dam, sire)

    def chances(today: date) -> tuple[float, ...]:
        found = outlook.outlook_of(project, list(members_here(project)), course, today, "")
        assert found.exact
        return found.chances

    one, two = (1 - (15 / 16) ** (8 * n) for n in (1, 2))
    # Laid the year before, she lays in both seasons; laid in the first, in the second alone.
    for laid, today, expected in (
        (date(2025, 5, 1), date(2026, 8, 20), [one, two]),
        (date(2026, 5, 1), date(2026, 8, 20), [0, one]),
        (date(2026, 5, 2), date(2026, 10, 1), [one, two]),
    ):
        clutch.laid_on = laid
        with writing(by=book.by, what="Laid") as entry:
            entry.keep(clutch)
        assert chances(today) == pytest.approx(expected, abs=1e-12)


def test_who_died_or_was_sold_is_not_counted_on(client: Client, book: TwoGenes) -> None:
    client.force_login(book.by)
    dam, _ = carriers(book)
    one = reverse("projects-one", args=[book.project.pk])
    address = reverse("projects-outlook", args=[book.project.pk])
    asked = {"now": 1, "seasons": 1, "lays": 100, "lives": 100}

    def chance() -> str:
        found: str = client.get(address, asked).context["page"].rows[0].chance
        return found

    assert chance() not in {"0 %", "under 1 %"}
    assert client.get(one).context["page"].pairs_possible == 1
    for status in (m.Status.DIED, m.Status.SOLD):
        change_together(animals=[dam], to=Together(status=status), by=book.by)
        assert chance() == "0 %"
        page = client.get(one).context["page"]
        assert page.pairs_possible == 0
        # She stays a member until she is released, and is shown as gone.
        gone = {row.member.animal.code: row.gone for row in page.rows}
        assert gone == {"F1": status.label, "M1": ""}


def test_hatchlings_are_worth_what_no_clutch_of_their_own_year_makes_up_for(book: TwoGenes) -> None:
    # One of two females laid in 2026. Kept, her double hets breed in 2029; without them those of
    # 2027 do in 2030. By 2031 that is three clutches of eight at 1 in 16, or two: 78 or 64 %. The
    # other female can no longer give double hets of 2026 herself, though she laid nothing.
    dam, sire = book.visuals()
    book.member(book.founder("F2", "female", "visual"))
    clutch = book.clutch("C1", dam, sire)
    m.Clutch.objects.filter(pk=clutch.pk).update(laid_on=date(2026, 5, 1))
    clutch.refresh_from_db()
    for number, sex in enumerate(("female", "male"), start=1):
        book.hatchling(f"K{number}", clutch, sex)
    project, hatch_day = with_its_goal(book), date(2026, 8, 20)
    found = holdbacks.advice(project, clutch, hatch_day, course=replace(COURSE, seasons=6))
    assert found is not None
    assert {one.code for one in found.keep} == {"K1", "K2"}
    assert found.by == 2031
    assert found.before == pytest.approx(1 - (15 / 16) ** 16, abs=0.03)
    assert found.after == pytest.approx(1 - (15 / 16) ** 24, abs=0.03)


def test_a_hatchling_is_weighed_in_a_season_in_which_it_can_breed(book: TwoGenes) -> None:
    # A grown pair of double hets reaches it by 2028 as likely as not, when no hatchling of 2026
    # can breed. In 2029 a second female can: four clutches of eight at 1 in 16 by then, not three.
    carriers(book)
    dam = book.founder("F8", "female", "visual")
    clutch = book.clutch("C1", dam, book.founder("M8", "male", "visual", line=book.second))
    for number, sex in enumerate(("female", "male"), start=1):
        book.hatchling(f"K{number}", clutch, sex)
    course = replace(COURSE, seasons=5, pairs=4, matings=4)
    found = holdbacks.advice(with_its_goal(book), clutch, TODAY, course=course)
    assert found is not None and found.by == 2029
    assert [one.code for one in found.keep] == ["K1"]
    assert found.before == pytest.approx(1 - (15 / 16) ** 24, abs=0.03)
    assert found.after == pytest.approx(1 - (15 / 16) ** 32, abs=0.03)
