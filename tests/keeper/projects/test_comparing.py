"""Every change alone and two together, compared on their page and by command."""

from dataclasses import replace
from datetime import date
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keeper.domain import inference
from keeper.domain.background import working
from keeper.domain.inference import BreedingCourse
from keeper.domain.projects import comparing, outlook
from keeper.domain.projects.queries import members_now, with_goal
from keeper.domain.season.writes import season_of
from keeper.models import Account, Job, JobState, Project
from keeper.pages.projects.outlook import gain_said
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


@pytest.fixture
def opened(client: Client, book: TwoGenes, monkeypatch: pytest.MonkeyPatch) -> str:
    """The page of a project with five changes, opened by whoever keeps the book."""
    client.force_login(book.by)
    monkeypatch.setattr("keeper.pages.projects.together.course_of", lambda *_: COURSE)
    every = comparing.together
    monkeypatch.setattr(comparing, "together", lambda *asked: every(*asked)[:5])
    return reverse("projects-together", args=[book.project.pk])


def test_page_begins_a_comparison_that_goes_on_without_it(
    client: Client, opened: str, book: TwoGenes, monkeypatch: pytest.MonkeyPatch
) -> None:
    htmx, asked = {"HX-Request": "true"}, "seasons=2&eggs=1&places=4"
    plain = client.get(f"{opened}?{asked}").content.decode()
    assert "Compare them" in plain and "<progress" not in plain
    assert not Job.objects.exists()
    waits = client.get(f"{opened}?{asked}&done=1").content.decode()
    assert "0 of 5 compared" in waits and "It waits for its turn" in waits
    assert "every 1s" in waits
    # Opened again, or elsewhere, it is the same one.
    client.get(f"{opened}?{asked}&done=1")
    job = Job.objects.get()
    told: list[int] = []
    done = comparing.work(job.given, lambda doing, done=0, of=0, found=None: told.append(done))
    assert told == [0, 1, 2, 3, 4]
    working.perform(job.pk)
    part = client.get(f"{opened}?{asked}&done=1", headers=htmx).content.decode()
    assert "<html" not in part and "every 1s" not in part
    assert "5 of 5 compared" in part and part.count("<li>") == 5
    assert comparing.SoFar.of(done).as_json() == done
    # It stands there without being asked for again, until something is written.
    assert "5 of 5 compared" in client.get(f"{opened}?{asked}").content.decode()
    book.founder("Z-1", "male")
    assert "<progress" not in client.get(f"{opened}?{asked}").content.decode()
    refused = client.get(f"{opened}?seasons=99")
    assert refused.status_code == 302 and "seasons=99" in refused["Location"]


def test_page_says_the_same_as_is_compared_at_once(
    client: Client, opened: str, book: TwoGenes
) -> None:
    asked = "seasons=2&eggs=1&places=4"
    client.get(f"{opened}?{asked}&done=1")
    working.perform(Job.objects.get().pk)
    rows = client.get(f"{opened}?{asked}").context["rows"]
    project: Project = with_goal(Project.objects.live()).get()
    course = replace(COURSE, seasons=2, eggs=1, places=4)
    members = list(members_now(project))
    changes = comparing.together(project, members, course)
    base = outlook.outlook_of(project, members, course, timezone.localdate(), "")
    now = timezone.localdate()
    compared = comparing.compare(project, members, course, now, changes)
    first = season_of(now)
    assert rows == [
        (one.change.words, gain_said(base, one.outlook, first) if one.outlook else one.trouble)
        for one in compared
    ]


def test_comparison_of_a_book_that_was_written_in_meanwhile_says_so(
    client: Client, opened: str, book: TwoGenes
) -> None:
    client.get(f"{opened}?done=1")
    job = Job.objects.get()
    book.founder("Z-1", "male")
    working.perform(job.pk)
    job.refresh_from_db()
    assert job.problem == "The book was written in while this was compared. Compare them anew."
    assert "<progress" not in client.get(opened).content.decode()


def test_comparison_that_failed_is_begun_again_on_request_only(client: Client, opened: str) -> None:
    client.get(f"{opened}?done=1")
    Job.objects.update(state=JobState.FAILED, problem="It was cut short.")
    told = client.get(f"{opened}?done=1").content.decode()
    assert "It was cut short." in told and "every 1s" not in told
    assert Job.objects.count() == 1
    again = client.get(f"{opened}?again=1").content.decode()
    assert "It waits for its turn" in again
    assert Job.objects.count() == 2


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
