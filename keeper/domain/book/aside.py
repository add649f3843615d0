"""What is only tried on: on the book as it stands, while others go on writing; nothing is kept.

    with aside():
        …  # writes as ever; everything of it is gone at the end

In SQLite, where one transaction at a time may write, that is a copy of the whole database which
belongs to this thread alone (a book of 10,000 animals is 33 MB, copied in some 30 ms). In
PostgreSQL it is a transaction that sees the book as it stood at its beginning, does not wait for
the writer's lock, and is taken back; should it collide with an entry that is written meanwhile, it
is tried again behind the lock.

Records that are in memory are afterwards as they were before, so that they can be saved then.
"""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from copy import copy
from typing import Any, TypeVar

from django.db import DEFAULT_DB_ALIAS, OperationalError, connection, connections, transaction

from keeper.domain.book import submission
from keeper.models import Record

Found = TypeVar("Found")

_is_aside: ContextVar[bool] = ContextVar("is_aside", default=False)
_is_still: ContextVar[bool] = ContextVar("is_still", default=False)
# Records that the block saves, each with its attributes as they were before.
_before: ContextVar[list[tuple[Record, dict[str, Any]]] | None] = ContextVar("before", default=None)

# An empty name: a database of this connection alone, in memory as far as there is room, else in a
# file that nobody else can open and that is gone with the connection.
_OF_ITS_OWN = "file:"
# Classes of PostgreSQL's errors in which a transaction lost against another.
_COLLIDED = {"40001", "40P01"}


class MovesFigures(Exception):
    """What was written bears on figures; it was taken back before they were worked out."""


def is_aside() -> bool:
    """Return whether what is written now is written aside, where nobody else waits for it."""
    return _is_aside.get()


def tried_aside(work: Callable[[], Found]) -> Found:
    """Return what `work` returns; of what it writes nothing is kept, and nobody waits for it."""
    try:
        with aside():
            return work()
    except OperationalError as error:
        if getattr(error.__cause__, "sqlstate", None) not in _COLLIDED:
            raise
    with _put_back_after(), _taken_back():
        return work()


def kept_if_still(write: Callable[[], Found]) -> Found:
    """Write what bears on no figure.

    Raises:
        MovesFigures: it bears on some; nothing was kept, and none was worked out.
    """
    marked = _is_still.set(True)
    try:
        with _put_back_after(failing=MovesFigures):
            return write()
    finally:
        _is_still.reset(marked)


def stop_before_figures() -> None:
    """Be told that figures are about to be worked out.

    Raises:
        MovesFigures: only what bears on none was to be kept.
    """
    if _is_still.get():
        raise MovesFigures


def remember(record: Record) -> None:
    """Be told that a record is about to be saved, which may be taken back."""
    before = _before.get()
    if before is not None:
        state = copy(record._state)
        state.fields_cache = dict(record._state.fields_cache)
        before.append((record, record.__dict__ | {"_state": state}))


@contextmanager
def _put_back_after(failing: type[Exception] | None = None) -> Iterator[None]:
    """Make records in memory, and the form that is sent, what they were; or only at a failure."""
    before: list[tuple[Record, dict[str, Any]]] = []
    marked, form = _before.set(before), submission.current()
    written, kept = (form.written, list(form.kept)) if form is not None else (None, [])
    failed = failing is None
    try:
        yield
    except BaseException as error:
        failed = failed or isinstance(error, failing or ())
        raise
    finally:
        _before.reset(marked)
        if failed:
            for record, attributes in reversed(before):
                record.__dict__.clear()
                record.__dict__.update(attributes)
            if form is not None:
                form.written, form.kept = written, kept


@contextmanager
def aside() -> Iterator[None]:
    """Let the block write on the book as it stands now; nothing of it is kept.

    Raises:
        OperationalError: in PostgreSQL, somebody wrote the same rows meanwhile (`tried_aside`
            then tries again).
    """
    if is_aside():
        with _put_back_after(), _taken_back():
            yield
        return
    marked = _is_aside.set(True)
    try:
        with (
            _put_back_after(),
            _on_a_copy() if can_be_copied() else _as_it_stood(),
        ):
            yield
    finally:
        _is_aside.reset(marked)


def can_be_copied() -> bool:
    """Whether the database can be: SQLite copies none in which this connection has written."""
    return connection.vendor == "sqlite" and not connection.in_atomic_block


@contextmanager
def on_a_copy(name: str) -> Iterator[None]:
    """Let the block read and write in a copy of the book as it is now: in a new file of that name.

    In SQLite alone, outside a transaction. What becomes of the copy is for the caller to say.
    """
    marked = _is_aside.set(True)
    try:
        with _put_back_after(failing=Exception), _on_a_copy(name):
            yield
    finally:
        _is_aside.reset(marked)


@contextmanager
def _on_a_copy(name: str = _OF_ITS_OWN) -> Iterator[None]:
    ours = connections[DEFAULT_DB_ALIAS]
    ours.ensure_connection()
    copied = _copy_of(ours, name)
    connections[DEFAULT_DB_ALIAS] = copied
    try:
        yield
    finally:
        connections[DEFAULT_DB_ALIAS] = ours
        copied.close()


def _copy_of(ours: Any, name: str) -> Any:
    """Return a connection to a copy of all that a connection sees."""
    options = {
        "transaction_mode": "IMMEDIATE",
        "init_command": "PRAGMA journal_mode=MEMORY; PRAGMA synchronous=OFF;",
    }
    copied = type(ours)({**ours.settings_dict, "NAME": name, "OPTIONS": options})
    copied.ensure_connection()
    source: sqlite3.Connection = ours.connection
    source.backup(copied.connection)
    # The copy of a file says how that one keeps its journal.
    copied.connection.execute("PRAGMA journal_mode=MEMORY").close()
    return copied


@contextmanager
def _as_it_stood() -> Iterator[None]:
    """Hold one transaction that sees the book as it stood when it began."""
    outermost = not connection.in_atomic_block
    with _taken_back():
        if outermost and connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        yield


@contextmanager
def _taken_back() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


__all__ = [
    "MovesFigures",
    "aside",
    "can_be_copied",
    "is_aside",
    "kept_if_still",
    "on_a_copy",
    "remember",
    "stop_before_figures",
    "tried_aside",
]
