"""A job begun, looked at while it goes on, and noticed when its process has ended."""

import logging
import threading
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from keeper.domain.background import queue, telling, working
from keeper.domain.background.kinds import MAY_BE_CUT
from keeper.domain.background.telling import Progress
from keeper.domain.book.refusing import Refused
from keeper.models import UNDER_WAY, Job, JobState

_log = logging.getLogger(__name__)
ENDED = "The program ended while this was done, and it was not done. Begin it again."
WAITING = "It waits for its turn"
NOBODY = "It waits: no worker is running. Whoever looks after the machine starts one"
# A thread begins at once; one that has not by then was never begun.
_LEAST = timedelta(seconds=60)
_KEPT = timedelta(days=7)


def begin(kind: str, *, about: str = "", given: dict[str, Any] | None = None) -> Job:
    """Begin a piece of work; in a transaction, once that holds.

    Raises:
        Refused: the same is under way already.
    """
    Job.objects.filter(ended_at__lt=timezone.now() - _KEPT).delete()
    settle(under_way(kind, about))
    try:
        with transaction.atomic():
            job = Job.objects.create(kind=kind, about=about, given=given or {})
            if queue.is_there():
                queue.put(job.pk)
            else:
                transaction.on_commit(lambda: _start(job))
    except IntegrityError as error:
        raise Refused("This is being done already. Look at it again when it is through.") from error
    return job


def under_way(kind: str, about: str = "") -> Job | None:
    """Return the job of this kind about this that has not ended, as far as its row says."""
    return Job.objects.filter(kind=kind, about=about, state__in=UNDER_WAY).first()


def last(kind: str, about: str = "") -> Job | None:
    """Return the newest one, whatever became of it."""
    return Job.objects.filter(kind=kind, about=about).first()


def look(job: Job) -> Progress | None:
    """Return how far a job is; None: it has ended, and its row, read anew, says how.

    One whose process ended is found out by this.
    """
    settle(job)
    if job.state == JobState.WAITING:
        nobody = queue.is_there() and not telling.workers()
        return Progress(NOBODY if nobody else WAITING)
    return telling.said(job) if job.is_under_way else None


def settle(job: Job | None) -> None:
    """Read a job anew; if nobody works on it any more, say that it was not done."""
    if job is None:
        return
    # In this order: who ends a job lets go of it afterwards.
    worked_on = telling.is_worked_on(job)
    job.refresh_from_db()
    if not job.is_under_way or worked_on or telling.is_worked_on(job):
        return
    if job.state == JobState.WAITING and (
        queue.is_there() or timezone.now() - job.begun_at < _LEAST
    ):
        return
    working.give_up(job, ENDED)
    job.refresh_from_db()


def settle_all() -> None:
    """Settle what ended processes left, at the start of the only one that serves the book."""
    for job in Job.objects.filter(state__in=UNDER_WAY):
        if not (telling.is_worked_on(job) or queue.is_there()):
            working.give_up(job, ENDED)


def _start(job: Job) -> None:
    if not settings.WORK_IN_BACKGROUND:
        working.perform(job.pk)
        return
    thread = threading.Thread(
        target=_in_thread, args=(job.pk,), name=str(job), daemon=job.kind in MAY_BE_CUT
    )
    try:
        thread.start()
    except RuntimeError:  # the system gives no more threads
        _log.exception("%s could not be begun", job)
        working.give_up(job, working.FAILED)


def _in_thread(pk: int) -> None:
    try:
        working.perform(pk)
    finally:
        connection.close()
