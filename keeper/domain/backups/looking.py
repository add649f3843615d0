"""A copy opened: what it holds, whether all of it is in order, and what would be lost by it."""

import errno
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from django.db import connection

from keeper.domain.backups import archive, databases, epoch, sealing, shelf
from keeper.domain.backups.archive import Manifest
from keeper.domain.backups.troubles import Damaged, NeedsPassphrase, NotMade
from keeper.models import DaybookEntry


@dataclass(frozen=True)
class Lost:
    """What the present book has and a copy has not.

    Attributes:
        entries: how many entries were written since, or have another moment where lives differ.
        same_life: whether the book was never restored between the copy and now.
    """

    entries: int
    same_life: bool


@contextmanager
def opened(path: Path, passphrase: str = "") -> Iterator[tuple[Path, Manifest]]:
    """Open a copy for the block: the archive itself, decrypted if need be, and what it says.

    Raises:
        Damaged, TooNew, NeedsPassphrase, WrongPassphrase: it cannot be opened.
        NotMade: there is no room to open it.
    """
    with ExitStack() as held:
        with _readable():
            plain = path
            if sealing.is_sealed(path):
                if not passphrase:
                    raise NeedsPassphrase
                plain = held.enter_context(shelf.scratch("looking")) / "plain.zip"
                sealing.unseal(path, plain, passphrase)
            manifest = archive.manifest_of(plain)
        yield plain, manifest


@contextmanager
def _readable() -> Iterator[None]:
    """Say in words what keeps a file from being read, or its parts from being written."""
    try:
        yield
    except OSError as error:
        if error.errno in (errno.ENOSPC, errno.EDQUOT):
            raise NotMade("There is no room on the disk to open this copy. Make some.") from error
        raise Damaged(f"it cannot be read ({error.strerror or error})") from error


def look(path: Path, passphrase: str = "") -> Manifest:
    """Return what a copy holds, after every byte of it was checked; raises as `opened` does."""
    with opened(path, passphrase) as (_, manifest):
        return manifest


@contextmanager
def unpacked(path: Path, passphrase: str = "") -> Iterator[tuple[Path, Path, Manifest]]:
    """Unpack a copy for the block, and check all of it: folder, database, manifest.

    Raises:
        Damaged: a part, the database or the count of its rows is not what the manifest says.
        TooNew, NeedsPassphrase, WrongPassphrase: it cannot be opened.
        NotMade: there is no room for it, or what reads a database of PostgreSQL is missing.
    """
    with opened(path, passphrase) as (plain, manifest), shelf.scratch("looking") as folder:
        with _readable():
            database = archive.unpack(plain, manifest, folder)
        rows = databases.check(database, manifest.database)
        differing = [table for table, count in manifest.rows.items() if rows.get(table) != count]
        if differing:
            raise Damaged(f"its table {differing[0]} has not as many rows as its manifest says")
        yield folder, database, manifest


def lost_by(manifest: Manifest) -> Lost:
    """Return what would be lost by restoring a copy now."""
    entries = DaybookEntry.objects.all()
    same = manifest.epoch == epoch.book().epoch
    since = (
        entries.filter(pk__gt=manifest.last_entry or 0)
        if same
        else entries.filter(at__gt=manifest.made_at)
    )
    return Lost(since.count(), same)


def fits_here(manifest: Manifest) -> bool:
    """Whether a copy is of the kind of database that the book is in."""
    return manifest.database == connection.vendor
