"""Work through the queue: by workers, seen from every process, lost by none that dies."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.test import Client

from keeper.domain.background import jobs, kinds, queue, telling
from keeper.domain.background.kinds import COPY, Tell
from keeper.domain.backups import asked, making, shelf
from keeper.models import Job, JobState
from tests.factories import AccountFactory
from tests.processes import ROOT, environment, manage

needs_a_queue = pytest.mark.skipif(
    "sqlite" in settings.DATABASES["default"]["ENGINE"] or find_spec("django_tasks_db") is None,
    reason="a queue needs PostgreSQL and its library",
)
pytestmark = pytest.mark.sockets


@pytest.fixture
def queued(settings: Any, transactional_db: None) -> None:
    settings.QUEUE = "database"


def work_off() -> None:
    """Be a worker until nothing waits any more."""
    from django_tasks_db.management.commands.db_worker import Worker

    Worker(
        queue_names=["default"], interval=0, batch=True, backend_name="default",
        startup_delay=False, max_tasks=None, worker_id="one", excluded_queue_names=[],
    ).run()  # fmt: skip


@needs_a_queue
@pytest.mark.usefixtures("queued")
def test_job_waits_for_a_worker_and_is_done_once(monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[dict[str, Any]] = []

    def work(given: dict[str, Any], tell: Tell) -> dict[str, Any]:
        done.append(given)
        return {"in all": 3}

    monkeypatch.setattr(kinds, "work_of", lambda _: work)
    job = jobs.begin(COPY, given={"n": 1})
    assert jobs.look(job) == telling.Progress(jobs.NOBODY)
    with telling.at_work(), telling.at_work():
        assert jobs.look(job) == telling.Progress(jobs.WAITING)
        assert queue.state() == queue.Queue(workers=2, waiting=1, running=0)
    assert queue.state().workers == 0
    work_off()
    assert jobs.look(job) is None
    assert (job.state, job.found, done) == (JobState.DONE, {"in all": 3}, [{"n": 1}])
    work_off()
    assert len(done) == 1


@needs_a_queue
@pytest.mark.usefixtures("queued")
def test_nothing_waits_for_what_was_taken_back() -> None:
    from django_tasks_db.models import DBTaskResult

    with transaction.atomic():
        jobs.begin(COPY)
        transaction.set_rollback(True)
    assert (Job.objects.count(), DBTaskResult.objects.count()) == (0, 0)


@needs_a_queue
@pytest.mark.usefixtures("queued")
def test_copy_is_made_by_a_worker(tmp_path: Path, settings: Any) -> None:
    settings.DATA, settings.MEDIA_ROOT = tmp_path, tmp_path / "media"
    AccountFactory.create(name="Mara", role="owner")
    job = asked.begin()
    assert asked.begin() == job
    assert shelf.read().made == ()
    work_off()
    assert jobs.look(job) is None
    assert job.found == {"folders": [str(tmp_path / "backups")]}
    assert [one.why for one in shelf.read().made] == ["by hand"]
    assert asked.begin_if_due() is None


@needs_a_queue
@pytest.mark.usefixtures("queued")
def test_who_watches_is_told_of_the_queue(client: Client, settings: Any) -> None:
    settings.METRICS_TOKEN = "a long token"
    jobs.begin(COPY)

    def told(address: str) -> str:
        return client.get(
            address, headers={"Authorization": "Bearer a long token"}
        ).content.decode()

    assert told("/ready/") == "ready\nqueue: 1 waiting, 0 under way, no worker is running\n"
    with telling.at_work():
        assert told("/ready/").endswith("0 under way, 1 at work\n")
        figures = told("/metrics/").splitlines()
    assert "keptlines_workers 1.0" in figures
    assert 'keptlines_jobs{state="waiting"} 1.0' in figures


@needs_a_queue
@pytest.mark.usefixtures("queued")
def test_worker_that_is_killed_in_the_middle_has_done_nothing(tmp_path: Path) -> None:
    job = jobs.begin(COPY)
    with worker(tmp_path) as process:
        found = jobs.look(job)
        assert found is not None and found.doing == "there"
        assert job.state == JobState.RUNNING
        process.kill()
        process.wait()
    assert jobs.look(job) is None
    assert (job.state, job.problem) == (JobState.FAILED, jobs.ENDED)
    again = jobs.begin(COPY)
    assert jobs.look(again) == telling.Progress(jobs.NOBODY)


@contextmanager
def worker(data: Path) -> "Iterator[subprocess.Popen[str]]":
    """A process of its own that takes one job and stops in the middle of it."""
    given = connection.settings_dict
    host = str(given["HOST"]).replace("/", "%2F")
    port = f":{given['PORT']}" if given["PORT"] else ""
    who = f"{given['USER']}:{given['PASSWORD']}" if given["PASSWORD"] else given["USER"]
    address = f"postgres://{who}@{host}{port}/{given['NAME']}"
    with subprocess.Popen(
        [sys.executable, "-m", "tests.keeper.background.stopping"],
        cwd=ROOT,
        env=environment(data, DATABASE_URL=address, KEPTLINES_QUEUE="database"),
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline() == "there\n"
            yield process
        finally:
            process.kill()


def test_there_is_no_worker_without_a_queue() -> None:
    with pytest.raises(CommandError, match="There is no queue, so whoever serves the book does"):
        call_command("work")


@pytest.mark.django_db
def test_without_a_queue_nobody_is_told_of_one(client: Client) -> None:
    assert client.get("/ready/").content == b"ready\n"


@pytest.mark.parametrize(
    ("wanted", "said"),
    [
        ("database", "Keptlines: KEPTLINES_QUEUE needs PostgreSQL, and the book is in SQLite"),
        (
            "elsewhere",
            "Keptlines: KEPTLINES_QUEUE is 'elsewhere'; it must be database, or not set.",
        ),
    ],
)
def test_start_refuses_a_queue_that_cannot_be(tmp_path: Path, wanted: str, said: str) -> None:
    result = manage("check", data=tmp_path, KEPTLINES_QUEUE=wanted)
    assert (result.returncode, result.stdout) == (1, "")
    assert result.stderr.startswith(said)
    assert "Traceback" not in result.stderr


def test_start_without_the_library_says_what_to_fetch(tmp_path: Path) -> None:
    if find_spec("django_tasks_db") is not None:
        pytest.skip("it is here")
    result = manage(
        "check", data=tmp_path, KEPTLINES_QUEUE="database", DATABASE_URL="postgres:///nowhere"
    )
    assert result.returncode == 1
    assert "-r .lock/queue.txt" in result.stderr and "Traceback" not in result.stderr


@pytest.mark.django_db
def test_schedule_begins_a_copy_only_when_one_is_due(
    tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.DATA = tmp_path
    begun: list[dict[str, Any]] = []
    monkeypatch.setattr(jobs, "begin", lambda kind, given: begun.append(given))
    assert asked.begin_if_due() is None and begun == []  # there is nothing in the book
    AccountFactory.create(name="Mara", role="owner")
    asked.begin_if_due()
    assert begun == [{"why": "on schedule"}]
    shelf.set_wishes(shelf.Wishes(hours=0))
    asked.begin_if_due()
    assert len(begun) == 1
    assert making.holds_anything()
