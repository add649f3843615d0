"""Writing in the background: the page can be left, and how far it is is told whoever asks.

In SQLite the entry is worked out on a copy of the book and put into it in one short step, so that
others go on writing; if they wrote meanwhile it is worked out again, and at last behind the lock.
It is a job (`domain/background/`). The import's row says only that it is being written, and by
which job: if that one has ended without a word, nothing of the entry was kept.
"""

import logging
import secrets
import shutil
from functools import partial
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import transaction

from keeper.domain.background import jobs
from keeper.domain.background.kinds import IMPORT, Tell
from keeper.domain.background.telling import Progress
from keeper.domain.backups.shelf import scratch
from keeper.domain.backups.troubles import NotMade
from keeper.domain.book.batches import NotInOrder
from keeper.domain.book.writing import Refused, wait_for_other_writers
from keeper.domain.imports import ahead
from keeper.domain.imports.checking import checked
from keeper.domain.imports.copies import copy_before
from keeper.domain.imports.writes import bring_in
from keeper.models import Account, Import, Stage

logger = logging.getLogger(__name__)
_ENDED = "The program ended while this was being written. Nothing was written: start it again."
_WITHOUT_COPY = "Nothing was written. Or say below that it is to be written without a copy."
COPYING = "A copy of the book is made first"
PUTTING_IN = "It is put into the book"
AGAIN = "Somebody saved meanwhile: it is worked out once more"
# How often it is worked out on a copy before others have to wait while it is worked out.
_TRIES = 2
_SCRATCH = "importing"
_FAILED = "Something went wrong while this was being written. Nothing was written: start it again."


def start(*, one: Import, version: int, by: Account, without_copy: bool = False) -> None:
    """Begin to write an import as its dry run shows it; first a copy of the book is made.

    Raises:
        Refused: it is being written already, was changed since, or is not ready.
    """
    with transaction.atomic():
        wait_for_other_writers()
        now = Import.objects.get(pk=one.pk)
        if now.is_over or progress(now) is not None:
            raise Refused("This was begun already: nothing is left to do.")
        if now.version != version:
            raise Refused("This import was changed in another window. Look through it again.")
        found = checked(now)
        if not found.is_ready:
            raise Refused(
                "Something still waits for you. Look at the questions and the rows to mend first."
            )
        mark = secrets.token_hex(16)
        now.seen, now.stage, now.process, now.problem = found.digest, Stage.WRITING, mark, ""
        now.save()
        given = {"import": now.pk, "mark": mark, "by": by.pk, "without_copy": without_copy}
        jobs.begin(IMPORT, about=str(now.pk), given=given)


def work(given: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """Write an import that was begun; what keeps it from being written is kept with it.

    Raises:
        Refused: it is not the one that was begun.
    """
    one = Import.objects.filter(pk=given["import"]).first()
    if one is None or (one.stage, one.process) != (Stage.WRITING, given["mark"]):
        raise Refused("This import was begun otherwise since. Look at its page.")
    by = Account.objects.get(pk=given["by"])
    run(one, by, without_copy=bool(given["without_copy"]), say=tell)
    return {}


def _untold(doing: str, done: int = 0, of: int = 0, found: dict[str, Any] | None = None) -> None:
    """For whoever waits for the end."""


def run(one: Import, by: Account, *, without_copy: bool = False, say: Tell = _untold) -> None:
    """Write an import; what keeps it from being written is kept with it."""
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
    for one in Import.objects.filter(stage=Stage.WRITING):
        progress(one)


def progress(one: Import) -> Progress | None:
    """Return how far an import is that is being written; None: none is.

    One whose process ended is found out by this, and is marked as not written.
    """
    if one.stage != Stage.WRITING:
        return None
    job = jobs.last(IMPORT, str(one.pk))
    found = jobs.look(job) if job is not None else None
    if found is None:
        one.refresh_from_db()
        if one.stage == Stage.WRITING:
            _fail(one, _ENDED)
            one.refresh_from_db()
    return found


def _fail(one: Import, problem: str) -> None:
    rows = Import.objects.filter(pk=one.pk, stage=Stage.WRITING)
    rows.update(stage=Stage.FAILED, problem=problem, process="")
