"""Every change alone and two together, compared on their page and by command."""

import re
from dataclasses import replace
from datetime import date
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from keeper.domain import inference
from keeper.domain.inference import BreedingCourse
from keeper.domain.projects import comparing, outlook
from keeper.domain.projects.queries import members_now
from keeper.models import Account
from tests.keeper.projects.planning import TODAY, TwoGenes, with_its_goal

COURSE = BreedingCourse(
    seasons=5, pairs=1, matings=2, places=6, eggs=6, hatch=1.0, lays=1.0, lives=1.0,
    mature_female=2, mature_male=2, runs=300,
)  # fmt: skip


@pytest.fixture
def book(owner: Account) -> TwoGenes:
    """Two visuals, and two held back of whom it is open what they carry."""
    book = TwoGenes(owner, sex_determination="ZW")
    book.visuals()
    unknown = book.founder("M2", "male", "possible", chance="66%")
    clutch = book.clutch("C1", book.founder("F2", "female", "visual"), unknown)
    for code, sex in (("K1", "female"), ("K2", "male")):
        book.member(book.hatchling(code, clutch, sex), review=date(2027, 1, 1))
    return book


def test_what_can_be_done_together(book: TwoGenes) -> None:
    project = with_its_goal(book)
    members = list(members_now(project))
    changes = comparing.together(project, members, COURSE)
    alone = [one.key for one in changes if outlook.AND not in one.key]
    both = [set(one.key.split(outlook.AND)) for one in changes if outlook.AND in one.key]
    assert {"pair", "places"} in both
    assert len({one.key for one in changes}) == len(changes)
    kinds = {key.partition("-")[0] for key in alone}
    assert {"pair", "places", "without"} <= kinds
    for keys in both:
        bought = [key for key in keys if key.partition("-")[0] in {"female", "male", "prospect"}]
        assert len(bought) < 2 and len([key for key in keys if key.startswith("test")]) < 2
    words = next(one.words for one in changes if set(one.key.split("+")) == {"pair", "places"})
    assert words == (
        "One more pair a season, 2 in all; and two more places, 8 in all: hold back two more"
    )


def test_two_together_are_both_made(book: TwoGenes) -> None:
    project = with_its_goal(book)
    members = list(members_now(project))
    both = outlook.outlook_of(project, members, COURSE, TODAY, "pair+places")
    more = replace(COURSE, pairs=COURSE.pairs + 1, places=8)
    assert both == outlook.outlook_of(project, members, more, TODAY, "")
    for key in ("nothing", "pair+nothing", "test-0-0"):
        with pytest.raises(KeyError):
            outlook.outlook_of(project, members, COURSE, TODAY, key)


def test_most_is_first_and_equals_what_the_page_of_one_says(book: TwoGenes) -> None:
    project = with_its_goal(book)
    members = list(members_now(project))
    changes = comparing.together(project, members, COURSE)[:6]
    told: list[tuple[int, int]] = []
    found = comparing.compare(
        project, members, COURSE, TODAY, changes, told=lambda *one: told.append(one)
    )
    assert told[-1] == (7, 7)
    gains = [one.gain.more for one in found if one.gain is not None]
    assert gains == sorted(gains, reverse=True) and len(gains) == 6
    base = outlook.outlook_of(project, members, COURSE, TODAY, "")
    for one in found:
        other = outlook.outlook_of(project, members, COURSE, TODAY, one.change.key)
        assert one.outlook == other and one.gain == outlook.gain(base, other)


@pytest.mark.sockets
def test_workers_say_the_same_to_the_last_bit(book: TwoGenes) -> None:
    project = with_its_goal(book)
    members = list(members_now(project))
    changes = comparing.together(project, members, COURSE)[:9]
    here = comparing.compare(project, members, COURSE, TODAY, changes)
    with inference.workers_here(1) as workers:
        there = comparing.compare(project, members, COURSE, TODAY, changes, workers=workers)
    assert here == there


def test_page_goes_on_until_all_are_compared(
    client: Client, book: TwoGenes, monkeypatch: pytest.MonkeyPatch
) -> None:
    client.force_login(book.by)
    monkeypatch.setattr("keeper.pages.projects.together._SECONDS", 0)
    monkeypatch.setattr("keeper.pages.projects.together.course_of", lambda *_: COURSE)
    every = comparing.together
    monkeypatch.setattr(comparing, "together", lambda *asked: every(*asked)[:5])
    address, htmx = reverse("projects-together", args=[book.project.pk]), {"HX-Request": "true"}
    asked = "seasons=2&eggs=1&places=4"
    plain = client.get(f"{address}?{asked}").content.decode()
    assert "Compare them" in plain and "<progress" not in plain
    of, done, parts = client.get(f"{address}?{asked}").context["of"], 0, 0
    while done < of:
        part = client.get(f"{address}?{asked}&done={done}", headers=htmx).content.decode()
        assert "<html" not in part
        said = re.search(r"(\d+) of (\d+) compared", part)
        assert said is not None and int(said[2]) == of and int(said[1]) > done
        done, parts = int(said[1]), parts + 1
    assert parts > 1 and "hx-trigger" not in part
    assert part.count("<li>") == min(of, 25)
    assert client.get(f"{address}?done=99999{'9' * 40}").status_code == 200
    refused = client.get(f"{address}?seasons=99")
    assert refused.status_code == 302 and "seasons=99" in refused["Location"]


def test_command(book: TwoGenes, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("keeper.management.commands.compare.course_of", lambda *_: COURSE)
    monkeypatch.setattr(comparing, "together", lambda *_: [outlook.Change("pair", "One more pair")])
    out = StringIO()
    call_command("compare", "pale tide", stdout=out)
    (line,) = out.getvalue().splitlines()
    assert line.endswith("One more pair") and "±" in line
    with pytest.raises(CommandError, match="There is no project 'Ebb'"):
        call_command("compare", "Ebb")


def test_command_says_what_is_missing(owner: Account) -> None:
    TwoGenes(owner)
    with pytest.raises(CommandError, match="No animal is in Pale tide yet"):
        call_command("compare", "Pale tide")
