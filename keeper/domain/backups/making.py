"""A copy made: written, opened again, and only then given its name and called good."""

import hashlib
import os
import shutil
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import timedelta
from functools import partial
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.utils import timezone

from keeper.domain.backups import archive, databases, looking, pictures, sealing, shelf
from keeper.domain.backups.archive import MEDIA, Manifest, Opening
from keeper.domain.backups.rotation import kept
from keeper.domain.backups.shelf import Made, Shelf
from keeper.domain.backups.troubles import Damaged, NotMade
from keeper.serving import files
from keeper.serving.locks import COPYING, Held, only_one
from keeper.serving.secrets import private_folder

# Another copy may be under way, of a large book on a slow disk.
PATIENCE = 600
_PARTIAL = ".partial"
_LEFT_BEHIND = timedelta(days=1)


def make(why: str, *, patience: float = PATIENCE) -> Made:
    """Make a copy of the book as it is now, and put it into each folder; then drop what is too old.

    What kept it out of a folder is noted on the shelf; it is good if it lies in one of them.

    Raises:
        NotMade: there is no good copy.
    """
    try:
        with only_one(Path(settings.DATA, COPYING), patience=patience):
            return _make(why)
    except Held as error:
        raise NotMade(
            "Another copy is being made just now. Try it again when it is done."
        ) from error
    except OSError as error:
        raise _noted(_said(error)) from error
    except NotMade as error:
        raise _noted(str(error)) from error


def make_if_due() -> Made | None:
    """Make a copy if one is due by the clock and nobody makes one now. Raises `NotMade`."""
    if not shelf.read().is_due() or not holds_anything():
        return None
    try:
        with only_one(Path(settings.DATA, COPYING)):
            # Perhaps another process made it while this one looked.
            return _make("on schedule") if shelf.read().is_due() else None
    except Held:
        return None
    except OSError as error:
        raise _noted(_said(error)) from error
    except NotMade as error:
        raise _noted(str(error)) from error


def before_risk(what: str) -> Made | None:
    """Make a copy before something that is hard to take back; None if the book holds nothing.

    To be called outside a transaction, where what stands in the book is what was saved. Whoever
    calls it decides what a `NotMade` means: to ask whether to go on without.

    Raises:
        NotMade: there is no good copy.
    """
    return make(f"before {what}") if holds_anything() else None


def settle_pictures() -> None:
    """End a restore that was cut short, unless a copy is being made, which does it too."""
    with suppress(Held), only_one(Path(settings.DATA, COPYING)):
        pictures.settle()


def holds_anything() -> bool:
    """Whether there is anything in the book, however old the tables are that it stands in."""
    with connection.cursor() as cursor:
        if "keeper_account" not in connection.introspection.table_names(cursor):
            return False
        cursor.execute("SELECT 1 FROM keeper_account LIMIT 1")
        return cursor.fetchone() is not None


def _make(why: str) -> Made:
    pictures.settle()  # of a restore that was cut short
    shelf.change(lambda now: now)  # a new list gets the mark of this installation
    for old in Path(settings.DATA).glob("copying-*"):
        shutil.rmtree(old, ignore_errors=True)  # of one that was killed: nobody else makes one now
    for old in Path(settings.DATA).glob("looking-*"):
        if timezone.now().timestamp() - old.stat().st_mtime > _LEFT_BEHIND.total_seconds():
            shutil.rmtree(old, ignore_errors=True)
    secret = shelf.passphrase()
    with shelf.scratch("copying") as folder:
        written, manifest = _written(folder, why)
        if secret:
            sealed = folder / "sealed"
            sealing.seal(written, sealed, secret)
            written.unlink()
            written = sealed
        _verify(written, secret, manifest)
        placed, troubles = _placed(written, manifest, sealed=bool(secret))
    if not placed.folders:
        raise NotMade(" ".join(troubles))
    noted = shelf.change(
        lambda now: replace(
            now,
            made=(placed, *now.made),
            tried_at=timezone.now(),
            troubles=tuple(troubles),
        )
    )
    _drop_old(noted)
    return placed


def _written(folder: Path, why: str) -> tuple[Path, Manifest]:
    """Write the archive; the database first: no picture that it names is missing then."""
    at = timezone.now()
    database, facts = databases.copy_out(folder)
    manifest = Manifest(made_at=at, why=why, database=connection.vendor, parts=(), **vars(facts))
    target = folder / "archive.zip"
    copied = (database.name, archive.on_disk(database))
    # Listed before the archive is there: it may lie in the same folder.
    whole = archive.write(target, manifest, [copied, *_pictures()])
    database.unlink()
    return target, whole


def _pictures() -> Iterator[tuple[str, Opening]]:
    for name in files.names():
        yield MEDIA + name, partial(files.opened, name)


def _verify(written: Path, secret: str, manifest: Manifest) -> None:
    """Open what was written as a restore does, and compare it with what was meant."""
    try:
        with looking.unpacked(written, secret) as (_, _, found):
            if found != manifest:
                raise Damaged("it does not say what was written")
    except Damaged as error:
        raise NotMade(
            f"A copy was made and is no good: {error} Look whether the disk is full or fails."
        ) from error


def _placed(written: Path, manifest: Manifest, *, sealed: bool) -> tuple[Made, list[str]]:
    """Put a good copy into each folder; return where it lies, and what kept it out of others."""
    now = shelf.read()
    ending = shelf.SEALED if sealed else shelf.PLAIN
    folders = now.wishes.folders
    if not now.wishes.first:
        private_folder(folders[0])
    name = _free_name(f"{shelf.NAMES}{manifest.made_at:%Y%m%d-%H%M%S}", ending, folders)
    made = Made.of(name, manifest, written.stat().st_size)
    troubles = []
    for folder in folders:
        try:
            _put(written, folder, name, now.instance)
        except OSError as error:
            said = error.strerror or str(error)
            if not folder.is_dir():
                said = "it is not there"
            troubles.append(
                f"The folder {folder} got no copy: {said}. Put it in order, or choose another."
            )
        else:
            made = replace(made, folders=(*made.folders, str(folder)))
    return made, troubles


def _free_name(stem: str, ending: str, folders: list[Path]) -> str:
    """Return a name that no file has yet: several may be made in one second."""
    number = 1
    while any((folder / (name := _name(stem, number, ending))).exists() for folder in folders):
        number += 1
    return name


def _name(stem: str, number: int, ending: str) -> str:
    return f"{stem}{f'-{number}' if number > 1 else ''}{ending}"


def _put(written: Path, folder: Path, name: str, instance: str) -> None:
    """Copy a file into a folder, to the disk; it gets its name when it is whole."""
    for old in folder.glob(f".{shelf.NAMES}{instance}-*{_PARTIAL}"):
        old.unlink(missing_ok=True)  # left behind by one of ours that was killed
    partial = folder / f".{shelf.NAMES}{instance}-{name}{_PARTIAL}"
    try:
        with (
            written.open("rb") as source,
            os.fdopen(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as file,
        ):
            shutil.copyfileobj(source, file, 1024 * 1024)
            file.flush()
            os.fsync(file.fileno())
        if _hash(partial) != _hash(written):
            raise OSError("what was written is not what is read there")
        partial.rename(folder / name)
    finally:
        partial.unlink(missing_ok=True)
    if os.name == "posix":
        entry = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(entry)
        finally:
            os.close(entry)


def _hash(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _drop_old(noted: Shelf) -> None:
    """Remove copies that were made here and are too old; those out of reach wait."""
    wishes = noted.wishes
    staying = kept(
        (one.made_at for one in noted.made),
        last=wishes.last,
        weeks=wishes.weeks,
        months=wishes.months,
    )
    gone = {one.name for one in noted.made if one.made_at not in staying}
    left = [_removed(one) if one.name in gone else one for one in noted.made]
    if gone:
        shelf.change(lambda now: replace(now, made=tuple(one for one in left if one.folders)))


def _removed(old: Made) -> Made:
    """Remove a copy from the folders that can be reached; return it with those that cannot."""
    waiting = []
    for path in old.paths:
        try:
            # Another file of that name is not ours.
            if path.is_file() and path.stat().st_size == old.size:
                path.unlink()
            elif not path.parent.is_dir():
                waiting.append(str(path.parent))
        except OSError:
            waiting.append(str(path.parent))
    return replace(old, folders=tuple(waiting))


def _said(error: OSError) -> str:
    if isinstance(error, files.Unreachable):
        return f"No copy could be made: {error}. See to it that the store can be reached."
    trouble = error.strerror or error
    return f"No copy could be made: {trouble}. Make room, or choose another folder for copies."


def _noted(trouble: str) -> NotMade:
    """Note on the shelf that no copy was made; return what to raise."""
    # If the disk of the data itself is full, whoever asked is told all the same.
    with suppress(OSError, Held):
        shelf.change(lambda now: replace(now, tried_at=timezone.now(), troubles=(trouble,)))
    return NotMade(trouble)
