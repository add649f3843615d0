"""Writing in the background: the page can be left, and how far it is is told whoever asks.

In SQLite the entry is worked out on a copy of the book and put into it in one short step, so that
others go on writing; if they wrote meanwhile it is worked out again, and at last behind the lock.
How far it is stands in this process alone. The import's row says only that it is being written, and
by which process: if that one has ended, nothing of the entry was kept.
"""

import logging
import secrets
import shutil
import threading
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import connection, transaction

from keeper.domain.backups.shelf import scratch
from keeper.domain.backups.troubles import NotMade
from keeper.domain.book.batches import NotInOrder
from keeper.domain.book.writing import Refused, wait_for_other_writers
from keeper.domain.imports import ahead
from keeper.domain.imports.checking import checked
from keeper.domain.imports.copies import copy_before
from keeper.domain.imports.writes import CHECKING, Tell, bring_in
from keeper.models import Account, Import, Stage

logger = logging.getLogger(__name__)
_PROCESS = secrets.token_hex(16)
_ENDED = "The program ended while this was being written. Nothing was written: start it again."
_WITHOUT_COPY = "Nothing was written. Or say below that it is to be written without a copy."
COPYING = "A copy of the book is made first"
PUTTING_IN = "It is put into the book"
AGAIN = "Somebody saved meanwhile: it is worked out once more"
# How often it is worked out on a copy before others have to wait while it is worked out.
_TRIES = 2
_SCRATCH = "importing"
_FAILED = "Something went wrong while this was being written. Nothing was written: start it again."


@dataclass(frozen=True)
class Progress:
    """What is being done, and how far it is; of 0: nobody can tell."""

    doing: str = CHECKING
    done: int = 0
    of: int = 0


_running: dict[int, Progress] = {}


def start(*, one: Import, version: int, by: Account, without_copy: bool = False) -> None:
    """Begin to write an import as its dry run shows it; first a copy of the book is made.

    Raises:
        Refused: it is being written already, was changed since, or is not ready.
    """
    with transaction.atomic():
        wait_for_other_writers()
        now = Import.objects.get(pk=one.pk)
        if now.is_over or (now.stage == Stage.WRITING and now.pk in _running):
            raise Refused("This was begun already: nothing is left to do.")
        if now.version != version:
            raise Refused("This import was changed in another window. Look through it again.")
        found = checked(now)
        if not found.is_ready:
            raise Refused(
                "Something still waits for you. Look at the questions and the rows to mend first."
            )
        now.seen, now.stage, now.process, now.problem = found.digest, Stage.WRITING, _PROCESS, ""
        now.save()
        _running[now.pk] = Progress()
        transaction.on_commit(lambda: _begin(now, by, without_copy))


def _begin(one: Import, by: Account, without_copy: bool) -> None:
    if getattr(settings, "IMPORTS_IN_BACKGROUND", True):
        thread = threading.Thread(
            target=_in_thread, args=(one, by, without_copy), name=f"import {one.pk}"
        )
        try:
            thread.start()
        except RuntimeError:  # the system gives no more threads
            logger.exception("An import could not be begun")
            tell(one.pk, None)
            _fail(one, _FAILED)
    else:
        run(one, by, without_copy=without_copy)


def _in_thread(one: Import, by: Account, without_copy: bool) -> None:
    try:
        run(one, by, without_copy=without_copy)
    finally:
        connection.close()


def run(one: Import, by: Account, *, without_copy: bool = False) -> None:
    """Write an import; what keeps it from being written is kept with it."""

    def say(doing: str, done: int = 0, of: int = 0) -> None:
        tell(one.pk, Progress(doing, done, of))

    try:
        say(COPYING)
        copy_before("an import", without_copy=without_copy)
        _write(one, by, say)
    except NotMade as error:
        _fail(one, f"{error} {_WITHOUT_COPY}")
    except NotInOrder as error:
        _fail(one, f"{error.record}: {' '.join(error.messages)} Nothing was written.")
    except ValidationError as error:
        _fail(one, f"{' '.join(error.messages)} Nothing was written.")
    except Refused as error:
        _fail(one, str(error))
    except Exception:
        logger.exception("An import could not be written")
        _fail(one, _FAILED)
    finally:
        tell(one.pk, None)


def _write(one: Import, by: Account, say: Tell) -> None:
    write = partial(bring_in, one=one, by=by, tell=say)
    if ahead.can_be_worked_out():
        for _ in range(_TRIES):
            try:
                with scratch(_SCRATCH) as folder, ahead.worked_out(write, folder=folder) as made:
                    say(PUTTING_IN, 0, 0)
                    made.put_in(partial(_is_as_it_was, one))
                return
            except ahead.Overtaken:
                say(AGAIN, 0, 0)
    write()


def _is_as_it_was(one: Import) -> bool:
    """Whether an import still waits for being written as it was begun."""
    now = Import.objects.get(pk=one.pk)
    return (now.stage, now.version, now.process) == (one.stage, one.version, one.process)


def settle() -> None:
    """Mark what a program that ended was writing; for the only one that serves the book."""
    for left in Path(settings.DATA).glob(f"{_SCRATCH}-*"):
        shutil.rmtree(left, ignore_errors=True)
    for one in Import.objects.filter(stage=Stage.WRITING).exclude(process=_PROCESS):
        _fail(one, _ENDED)


def tell(pk: int, how_far: Progress | None) -> None:
    """Note how far an import is, by its id; None: it is not being written any more."""
    if how_far is None:
        _running.pop(pk, None)
    else:
        _running[pk] = how_far


def progress(one: Import) -> Progress | None:
    """Return how far an import is that is being written here; None: none is.

    One whose process ended is found out by this, and is marked as not written.
    """
    if one.stage != Stage.WRITING:
        return None
    found = _running.get(one.pk)
    if found is None:
        one.refresh_from_db()
        if one.stage == Stage.WRITING:
            _fail(one, _ENDED)
            one.refresh_from_db()
    return found


def _fail(one: Import, problem: str) -> None:
    rows = Import.objects.filter(pk=one.pk, stage=Stage.WRITING)
    rows.update(stage=Stage.FAILED, problem=problem, process="")
