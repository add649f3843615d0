"""The queue, where there is one: who takes work out of it, and how much waits.

It is `django-tasks` with its database backend. Its rows say only which job is to be done next; all
else stands in the job.
"""

from dataclasses import dataclass

from django.conf import settings

from keeper.domain.background import telling
from keeper.models import Job, JobState


@dataclass(frozen=True)
class Queue:
    """How the queue does: processes that work, jobs that wait, jobs under way."""

    workers: int
    waiting: int
    running: int


def is_there() -> bool:
    """Whether work goes through a queue."""
    return bool(settings.QUEUE)


def put(pk: int) -> None:
    """Let a job be done by whoever works; part of the transaction that made the job."""
    from keeper.domain.background.tasks import perform

    perform.enqueue(pk)


def state() -> Queue:
    """Return how the queue does."""
    jobs = Job.objects.all()
    return Queue(
        telling.workers(),
        jobs.filter(state=JobState.WAITING).count(),
        jobs.filter(state=JobState.RUNNING).count(),
    )
