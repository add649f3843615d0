"""The way back: a copy in the place of the book.

In this order, so that whatever fails leaves the book as it was: the copy is unpacked and checked,
and brought up to this program if it is older; the present book is copied; then, after the writers'
lock and only if nobody wrote since that copy, rows and pictures are exchanged and the book gets a
new epoch, all in one transaction. Afterwards every check runs anew.
"""

import logging
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.contrib.contenttypes.models import ContentType
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone
from django.utils.formats import date_format

from keeper.domain import inference
from keeper.domain.backups import checking, dumps, epoch, looking, making, pictures, pouring
from keeper.domain.backups.archive import Manifest
from keeper.domain.backups.shelf import Made
from keeper.domain.backups.troubles import Damaged, NotMade, TooNew
from keeper.domain.book import submission
from keeper.domain.book.refusing import Refused
from keeper.domain.book.writing import WRITERS, writing
from keeper.domain.erasure import sweeping
from keeper.domain.erasure.taking_out import erase_again
from keeper.models import Account, Book, DaybookEntry, Job, LogIn, Sheet, mark_of, new_epoch
from keeper.serving.locks import COPYING, Held, only_one

_log = logging.getLogger(__name__)
_TRIES = 3


@dataclass(frozen=True)
class Restored:
    """What came of a restore.

    Attributes:
        manifest: of the copy.
        before: the copy of the book as it was; None if there was nothing in it, or none was wanted.
        upgraded: whether the copy was of an older version of the program.
        differing: standings that were not as this program computes them, in words; put right.
        faults: what is not in order with records, in words.
    """

    manifest: Manifest
    before: Made | None
    upgraded: bool
    differing: tuple[str, ...]
    faults: tuple[str, ...]


def restore(
    path: Path,
    *,
    passphrase: str = "",
    by: Account | None = None,
    seen_epoch: str | None = None,
    without_copy: bool = False,
) -> Restored:
    """Put a copy in the place of the book.

    `seen_epoch`: of the book that whoever confirmed it saw. `without_copy`: even if no copy of the
    present book can be made.

    Raises:
        Refused: it cannot be done, and why; the book is as it was.
        NotMade: no copy of the present book could be made; the book is as it was.
    """
    if connection.in_atomic_block:
        raise RuntimeError("a restore is a transaction of its own")
    with looking.unpacked(path, passphrase) as (folder, database, manifest):
        if not looking.fits_here(manifest):
            raise Refused(
                f"This copy is of a book in {manifest.database}, and the book is in "
                f"{connection.vendor}. Start the program with such a database, and restore there."
            )
        waiting = _missing(manifest)
        if waiting and connection.vendor == "sqlite":
            _bring_up_to_date(folder)
        before = _exchange(folder, database, manifest, by, seen_epoch, without_copy=without_copy)
    ContentType.objects.clear_cache()
    if sweeping.is_left():
        sweeping.finish()
    # The form that asked for this is of the life before; it stands for no entry of this one.
    with submission.submitted("", ""):
        differing = _recomputed()
    return Restored(manifest, before, bool(waiting), differing, tuple(checking.faults()))


def _missing(manifest: Manifest) -> set[str]:
    """Return the migrations that a copy has not had; refuse one that has had others."""
    loader = MigrationLoader(None)
    known = {name for app, name in loader.disk_migrations if app == "keeper"}
    unknown = set(manifest.migrations) - known
    if unknown:
        raise TooNew(f"it knows {max(unknown)}")
    return known - set(manifest.migrations)


def _bring_up_to_date(folder: Path) -> None:
    """Migrate the copied file where it lies, by a process that has it for its own book."""
    ours = ("KEPTLINES_", "DATABASE_URL", "DJANGO_")
    environment = {name: value for name, value in os.environ.items() if not name.startswith(ours)}
    environment |= {
        "KEPTLINES_DATA": str(folder),
        "KEPTLINES_ENVIRONMENT": "own",
        "DJANGO_SETTINGS_MODULE": "keeper.settings",
    }
    done = subprocess.run(
        [
            sys.executable,
            str(settings.ROOT / "manage.py"),
            "migrate",
            "--verbosity=0",
            "--no-input",
        ],
        env=environment,
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        check=False,
    )
    if done.returncode:
        said = (done.stderr.strip().splitlines() or ["it said nothing"])[-1]
        raise Damaged(f"it cannot be brought up to this version of the program ({said})")


def _exchange(
    folder: Path,
    database: Path,
    manifest: Manifest,
    by: Account | None,
    seen_epoch: str | None,
    *,
    without_copy: bool,
) -> Made | None:
    """Copy the present book, and exchange it if nobody wrote meanwhile; a few tries."""
    for _ in range(_TRIES):
        last = _last_entry()
        before = _before(without_copy=without_copy)
        with _alone(), _writers_waiting(database):
            if seen_epoch is not None and epoch.book().epoch != seen_epoch:
                raise Refused("The book was restored meanwhile. Look at it anew before you go on.")
            if _last_entry() != last:
                continue
            _exchange_now(folder, database, manifest, by)
            return before
    raise Refused("Somebody goes on writing in the book. Ask them to stop, and try it again.")


def _before(*, without_copy: bool) -> Made | None:
    try:
        return making.before_risk("a restore")
    except NotMade:
        if not without_copy:
            raise
        return None


def _last_entry() -> int:
    return DaybookEntry.objects.order_by("-pk").values_list("pk", flat=True).first() or 0


@contextmanager
def _alone() -> Iterator[None]:
    """Let nobody copy or restore meanwhile: rows and pictures do not belong together for a moment.

    Raises:
        NotMade: somebody does so, and goes on with it.
    """
    try:
        with only_one(Path(settings.DATA, COPYING), patience=making.PATIENCE):
            _settle_before()
            try:
                yield
            finally:
                _settle_after()
    except Held as error:
        raise NotMade("A copy is being made just now. Try it again when it is done.") from error


def _settle_before() -> None:
    try:
        pictures.settle()
    except OSError as error:
        raise Refused(
            f"The pictures are out of reach ({error}), and a restore before this one is not "
            "through with them. The book is as it was. See to it that they can be reached, and try "
            "again."
        ) from error


def _settle_after() -> None:
    try:
        pictures.settle()
    except OSError:
        # What is left to do is noted: the next copy, restore or start does it.
        _log.exception("Pictures that a restore has done with could not be taken away")


def _exchange_pictures(folder: Path, fresh: str) -> None:
    try:
        pictures.exchange(folder / "media", until=fresh)
    except OSError as error:
        raise Refused(
            f"The pictures of the copy cannot be put in place: {error}. The book is as it was. See "
            "to it that they can be written, and try it again."
        ) from error


@contextmanager
def _writers_waiting(database: Path) -> Iterator[None]:
    """Hold the writers' lock for the block; in SQLite it is a transaction, with the copy beside."""
    if connection.vendor == "sqlite":
        try:
            with pouring.beside(database), transaction.atomic():
                yield
        except IntegrityError as error:
            raise Damaged(f"a row of it is not in order ({error})") from error
        return
    with connection.cursor() as cursor:
        # Of the session, not of a transaction: psql replaces the tables on a connection of its own.
        cursor.execute("SELECT pg_advisory_lock(%s)", [WRITERS])
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_unlock(%s)", [WRITERS])


def _exchange_now(folder: Path, database: Path, manifest: Manifest, by: Account | None) -> None:
    """Replace rows and pictures, and begin a new life of the book.

    In SQLite all of it is one transaction. In PostgreSQL the rows are, with the epoch that tells
    which pictures belong to them; what follows can be done again. Whoever was erased since the copy
    was made is erased again.
    """
    name = by.login_name if by is not None else None
    given = {epoch.book().series, *Sheet.objects.values_list("series", flat=True)}
    fresh = _fresh_epoch(given)
    if connection.vendor == "sqlite":
        pouring.pour()
        fresh = _begin(fresh, given)
        _exchange_pictures(folder, fresh)
    else:
        _exchange_pictures(folder, fresh)
        _replace_by_psql(database, manifest, fresh)
        _settle_after()
        _begin(fresh, given)
    erase_again()
    made_at = timezone.localtime(manifest.made_at)
    DaybookEntry.objects.create(
        by=Account.objects.filter(login_name=name).first() if name else None,
        what=f"Restored the book as it was on {date_format(made_at, 'j F Y, H:i')}",
    )


def _begin(fresh: str, given: set[str]) -> str:
    """Give the book its epoch; one whose series no sheet has, neither of now nor of the copy."""
    known = set(Sheet.objects.values_list("series", flat=True))
    if mark_of(fresh) in known:
        fresh = _fresh_epoch(given | known)
    Book.objects.update_or_create(pk=1, defaults={"epoch": fresh, "restored_at": timezone.now()})
    return fresh


def _fresh_epoch(series: set[str]) -> str:
    """Return a new epoch whose sheets are numbered in a series that nobody has seen."""
    found = new_epoch()
    while mark_of(found) in series:
        found = new_epoch()
    return found


def _replace_by_psql(database: Path, manifest: Manifest, fresh: str) -> None:
    sessions = list(LogIn.objects.all())
    has_epoch = "keeper_book" in manifest.rows
    after = "SET search_path TO public;\n"
    if has_epoch:
        after += f"UPDATE keeper_book SET epoch = '{fresh}', restored_at = now();\n"
    dumps.put_back(database, after)
    ContentType.objects.clear_cache()
    call_command("migrate", verbosity=0, interactive=False)
    if not has_epoch:
        Book.objects.update_or_create(pk=1, defaults={"epoch": fresh})
    LogIn.objects.bulk_create(sessions, ignore_conflicts=True)
    # What was under way when the copy was made is not under way now.
    Job.objects.all().delete()


def _recomputed() -> tuple[str, ...]:
    """Compute every standing anew, put right what differs, and return it in words."""
    ahead = inference.solved_ahead()
    found = inference.differences(ahead)
    if found:
        with writing(by=None, what="Recomputed the whole book", of_records=False) as book:
            inference.recompute(entry=book.entry, ahead=ahead)
    return tuple(
        f"{one.animal}: {one.trait}{f' {one.line}' if one.line else ''}: "
        f"stored {one.stored}; computed {one.computed}"
        for one in found
    )
