"""A job done: once, telling how far it is, and ending in words whatever comes."""

import logging
from typing import Any

from django.utils import timezone

from keeper.domain.background import kinds, telling
from keeper.domain.backups.troubles import NotMade
from keeper.domain.book.refusing import Refused
from keeper.models import Job, JobState

_log = logging.getLogger(__name__)
FAILED = "Something went wrong while this was done. Begin it again; the log says what it was."


def perform(pk: int) -> None:
    """Do a job by its number, if it still waits to be done: nothing is done twice."""
    with telling.working_on(pk) as tell:
        if tell is None or not _passed(pk, JobState.WAITING, JobState.RUNNING):
            return
        job = Job.objects.get(pk=pk)
        try:
            found = kinds.work_of(job.kind)(job.given, tell)
        except (Refused, NotMade) as error:
            _end(pk, JobState.FAILED, problem=str(error))
        except Exception:  # noqa: BLE001  (whatever it was, it is told)
            _log.exception("%s could not be done", job)
            _end(pk, JobState.FAILED, problem=FAILED)
        else:
            _end(pk, JobState.DONE, found=found)


def give_up(job: Job, problem: str) -> None:
    """Say of a job on which nobody works that it was not done, unless it has ended meanwhile."""
    for state in (JobState.WAITING, JobState.RUNNING):
        _passed(job.pk, state, JobState.FAILED, problem=problem, found={}, ended_at=timezone.now())


def _end(pk: int, state: JobState, **more: Any) -> None:
    _passed(pk, JobState.RUNNING, state, ended_at=timezone.now(), **more)


def _passed(pk: int, before: JobState, after: JobState, **more: Any) -> bool:
    rows = Job.objects.filter(pk=pk, state=before)
    return bool(rows.update(state=after, **more))
