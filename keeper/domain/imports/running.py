"""Writing in the background: the page can be left, and how far it is is told whoever asks.

While the entry is open nothing else can write to an SQLite book, so how far it is stands in this
process alone. The import's row says only that it is being written, and by which process: if that
one has ended, nothing of the entry was kept.
"""

import logging
import secrets
import threading
from dataclasses import dataclass

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import connection, transaction

from keeper.domain.book.batches import NotInOrder
from keeper.domain.book.writing import Refused, wait_for_other_writers
from keeper.domain.imports.checking import checked
from keeper.domain.imports.writes import CHECKING, bring_in
from keeper.models import Account, Import, Stage

logger = logging.getLogger(__name__)
_PROCESS = secrets.token_hex(16)
_ENDED = "The program ended while this was being written. Nothing was written: start it again."
_FAILED = "Something went wrong while this was being written. Nothing was written: start it again."


@dataclass(frozen=True)
class Progress:
    """What is being done, and how far it is; of 0: nobody can tell."""

    doing: str = CHECKING
    done: int = 0
    of: int = 0


_running: dict[int, Progress] = {}


def start(*, one: Import, version: int, by: Account) -> None:
    """Begin to write an import as its dry run shows it.

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
        transaction.on_commit(lambda: _begin(now, by))


def _begin(one: Import, by: Account) -> None:
    if getattr(settings, "IMPORTS_IN_BACKGROUND", True):
        thread = threading.Thread(target=_in_thread, args=(one, by), name=f"import {one.pk}")
        try:
            thread.start()
        except RuntimeError:  # the system gives no more threads
            logger.exception("An import could not be begun")
            tell(one.pk, None)
            _fail(one, _FAILED)
    else:
        run(one, by)


def _in_thread(one: Import, by: Account) -> None:
    try:
        run(one, by)
    finally:
        connection.close()


def run(one: Import, by: Account) -> None:
    """Write an import; what keeps it from being written is kept with it."""

    try:
        bring_in(one=one, by=by, tell=lambda *said: tell(one.pk, Progress(*said)))
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
