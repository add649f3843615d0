"""Where work tells how far it is, and how anybody knows whether it is still done.

In PostgreSQL it tells in its row, on a connection of its own: what it writes in its transaction
nobody else sees. The same connection holds a lock on the job's number. In SQLite, where a row could
not be written while somebody else writes, and one process serves the book, it tells in memory.
"""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from time import monotonic
from typing import Any

from django.db import DatabaseError, connection, connections

from keeper.domain.background.kinds import Tell
from keeper.models import Job

# The first half of our locks' numbers; the second is a job's, or 0 of those that work.
_LOCKS = 0x4B657074
_MOST = 0x7FFFFFFF
# A row is written at most so often.
_SECONDS = 0.5


@dataclass(frozen=True)
class Progress:
    """What is being done, and how far it is; of 0: nobody can tell. What was found so far."""

    doing: str = ""
    done: int = 0
    of: int = 0
    found: dict[str, Any] = field(default_factory=dict)


_here: dict[int, Progress] = {}


@contextmanager
def working_on(pk: int) -> Iterator[Tell | None]:
    """Be who works on a job, for the block, and tell by what this yields; None: another does."""
    # In a transaction nobody else could see its row anyway.
    if connection.vendor != "postgresql" or connection.in_atomic_block:
        with _in_memory(pk) as tell:
            yield tell
        return
    with _locked(pk) as cursor:
        if cursor is None:
            yield None
            return
        last = 0.0

        def tell_row(
            doing: str, done: int = 0, of: int = 0, found: dict[str, Any] | None = None
        ) -> None:
            nonlocal last
            if monotonic() - last < _SECONDS and done not in (0, of):
                return
            last = monotonic()
            _write(cursor, pk, Progress(doing, done, of, found or {}))

        yield tell_row


@contextmanager
def _in_memory(pk: int) -> Iterator[Tell | None]:
    def tell(doing: str, done: int = 0, of: int = 0, found: dict[str, Any] | None = None) -> None:
        _here[pk] = Progress(doing, done, of, found or {})

    if _here.setdefault(pk, mine := Progress()) is not mine:
        yield None
        return
    try:
        yield tell
    finally:
        _here.pop(pk, None)


def _write(cursor: Any, pk: int, progress: Progress) -> None:
    from psycopg.types.json import Jsonb

    cursor.execute(
        "UPDATE keeper_job SET doing = %s, done = %s, of = %s, found = %s WHERE id = %s",
        [progress.doing, progress.done, progress.of, Jsonb(progress.found), pk],
    )


@contextmanager
def _locked(number: int, *, shared: bool = False) -> Iterator[Any]:
    """Hold one of our locks on a connection of its own, which is lost with this process.

    Yields that connection's cursor; None: another has the lock.
    """
    own = connections.create_connection("default")
    try:
        with own.cursor() as cursor:
            ask = "pg_try_advisory_lock_shared" if shared else "pg_try_advisory_lock"
            cursor.execute(f"SELECT {ask}(%s, %s)", [_LOCKS, number & _MOST])
            (held,) = cursor.fetchone()
            yield cursor if held else None
            # A connection that was closed keeps its locks until the server has noticed that.
            with suppress(DatabaseError):
                cursor.execute("SELECT pg_advisory_unlock_all()")
    finally:
        own.close()


@contextmanager
def at_work() -> Iterator[None]:
    """Be one of those that take work out of the queue, for the block."""
    with _locked(0, shared=True):
        yield


def workers() -> int:
    """Return how many processes take work out of the queue now."""
    return _holders(0)


def is_worked_on(job: Job) -> bool:
    """Whether somebody works on a job now; in SQLite: somebody of this process."""
    return job.pk in _here or (connection.vendor == "postgresql" and _holders(job.pk) > 0)


def said(job: Job) -> Progress:
    """Return how far a job is, as it was last told."""
    return _here.get(job.pk) or Progress(job.doing, job.done, job.of, job.found)


def _holders(number: int) -> int:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND granted "
            "AND database = (SELECT oid FROM pg_database WHERE datname = current_database()) "
            "AND classid = %s AND objid = %s AND objsubid = 2",
            [_LOCKS, number & _MOST],
        )
        return int(cursor.fetchone()[0])
