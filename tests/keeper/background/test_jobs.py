"""Work in the background: once, told while it goes on, and ended in words whatever comes."""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection, transaction
from django.utils import timezone

from keeper.domain.background import jobs, kinds, telling, working
from keeper.domain.background.kinds import COPY, Tell
from keeper.domain.backups.troubles import NotMade
from keeper.domain.book.refusing import Refused
from keeper.models import Job, JobState

pytestmark = [
    pytest.mark.sockets,  # the other database is reached over one
    pytest.mark.django_db(transaction=True),
]
Does = Callable[[kinds.Work], None]


@pytest.fixture
def does(monkeypatch: pytest.MonkeyPatch) -> Does:
    """Let every kind of work be this."""

    def let(work: kinds.Work) -> None:
        monkeypatch.setattr(kinds, "work_of", lambda _: work)

    return let


def nothing(given: dict[str, Any], tell: Tell) -> dict[str, Any]:
    return {}


class Stopping:
    """Work that waits in the middle until it may go on."""

    def __init__(self) -> None:
        self.there, self.goes_on, self.times = threading.Event(), threading.Event(), 0

    def __call__(self, given: dict[str, Any], tell: Tell) -> dict[str, Any]:
        self.times += 1
        tell("Animals are counted", 0, 3)
        tell("Animals are counted", 3, 3, {"so far": given["begun"]})
        self.there.set()
        assert self.goes_on.wait(60)
        return {"in all": 3}


@contextmanager
def begun(does: Does, settings: Any) -> Iterator[tuple[Job, Stopping]]:
    """A job in the middle of its work; at the end of the block it ends."""
    settings.WORK_IN_BACKGROUND = True
    work = Stopping()
    does(work)
    job = jobs.begin(COPY, about="x", given={"begun": 1})
    assert work.there.wait(60)
    try:
        yield job, work
    finally:
        work.goes_on.set()
        for thread in threading.enumerate():
            if thread.name == "copy x":
                thread.join(60)


def test_job_is_told_while_it_goes_on_and_what_came_of_it_afterwards(
    does: Does, settings: Any
) -> None:
    with begun(does, settings) as (job, work):
        found = jobs.look(job)
        assert found == telling.Progress("Animals are counted", 3, 3, {"so far": 1})
        if connection.vendor == "postgresql":
            # Nothing of it is in this process's memory: every process is told the same.
            assert telling._here == {}
    assert jobs.look(job) is None
    assert (job.state, job.found, job.problem, work.times) == (JobState.DONE, {"in all": 3}, "", 1)
    assert job.ended_at is not None


def test_same_is_not_begun_twice_and_another_is(does: Does, settings: Any) -> None:
    with begun(does, settings) as (job, work):
        with pytest.raises(Refused, match=r"being done already\. Look at it again"):
            jobs.begin(COPY, about="x")
        working.perform(job.pk)
        assert work.times == 1
        does(nothing)
        settings.WORK_IN_BACKGROUND = False
        assert jobs.look(jobs.begin(COPY, about="y")) is None
    does(nothing)
    again = jobs.begin(COPY, about="x")
    assert again.pk != job.pk and jobs.last(COPY, "x") == again


def test_job_of_a_process_that_ended_was_not_done_and_can_be_begun_again(does: Does) -> None:
    job = Job.objects.create(kind=COPY, state=JobState.RUNNING, found={"so far": 1})
    assert jobs.look(job) is None
    assert (job.state, job.problem, job.found) == (JobState.FAILED, jobs.ENDED, {})
    other = Job.objects.create(kind=COPY, state=JobState.RUNNING)
    does(nothing)
    assert jobs.look(jobs.begin(COPY)) is None
    other.refresh_from_db()
    assert (other.state, other.problem) == (JobState.FAILED, jobs.ENDED)


def test_what_waits_for_a_thread_is_given_up_only_after_a_while() -> None:
    job = Job.objects.create(kind=COPY)
    assert jobs.look(job) == telling.Progress(jobs.WAITING)
    Job.objects.update(begun_at=timezone.now() - timedelta(minutes=2))
    job.refresh_from_db()
    assert jobs.look(job) is None
    assert job.state == JobState.FAILED


def test_next_start_settles_all_that_was_left() -> None:
    Job.objects.create(kind=COPY, state=JobState.RUNNING)
    Job.objects.create(kind=COPY, about="y")
    done = Job.objects.create(kind=COPY, state=JobState.DONE)
    jobs.settle_all()
    assert list(Job.objects.order_by("pk").values_list("state", flat=True)) == [
        *2 * [JobState.FAILED],
        JobState.DONE,
    ]
    assert Job.objects.get(pk=done.pk).problem == ""


@pytest.mark.parametrize(
    ("error", "problem"),
    [
        (Refused("Not so. Do this."), "Not so. Do this."),
        (NotMade("No room. Make some."), "No room. Make some."),
        (RuntimeError("what nobody thought of"), working.FAILED),
    ],
)
def test_what_kept_it_from_being_done_is_told(
    does: Does, caplog: pytest.LogCaptureFixture, error: Exception, problem: str
) -> None:
    def fail(given: dict[str, Any], tell: Tell) -> dict[str, Any]:
        raise error

    does(fail)
    job = jobs.begin(COPY)
    assert jobs.look(job) is None
    assert (job.state, job.problem) == (JobState.FAILED, problem)
    assert bool(caplog.records) == (problem == working.FAILED)


def test_row_can_run_nothing_but_the_kinds_there_are(caplog: pytest.LogCaptureFixture) -> None:
    job = jobs.begin("os.system", given={"command": "true"})
    assert jobs.look(job) is None
    assert (job.state, job.problem) == (JobState.FAILED, working.FAILED)


def test_every_kind_is_there() -> None:
    assert all(callable(kinds.work_of(one)) for one in (kinds.IMPORT, kinds.COPY, kinds.COMPARISON))


def test_job_of_a_transaction_that_is_taken_back_is_none(does: Does) -> None:
    done: list[int] = []

    def work(given: dict[str, Any], tell: Tell) -> dict[str, Any]:
        done.append(1)
        return {}

    does(work)
    with transaction.atomic():
        jobs.begin(COPY)
        transaction.set_rollback(True)
    assert (Job.objects.count(), done) == (0, [])


def test_old_ones_are_thrown_away(does: Does) -> None:
    does(nothing)
    for days in (6, 8):
        ended = timezone.now() - timedelta(days=days)
        Job.objects.create(kind=COPY, state=JobState.DONE, ended_at=ended)
    jobs.begin(COPY, about="x")
    assert Job.objects.count() == 2
