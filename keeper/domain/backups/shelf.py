"""Where copies lie, how often they are made, how many are kept, and which there are.

All of it stands in `backups.json` in the data folder, beside the database and not in it: a restore
must not forget the copies that were made since, nor set the folders back to those of another
machine. A passphrase stands in a file of its own there, which only the account of the book may
read.
"""

import json
import secrets
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Self

from django.conf import settings
from django.utils import timezone

from keeper.domain.backups.archive import Manifest
from keeper.serving.locks import only_one
from keeper.serving.secrets import private_folder, write_private

PLAIN, SEALED = ".zip", ".zip.sealed"
NAMES = "keptlines-"
_LIST, _LOCK, _PASSPHRASE = "backups.json", "backups.lock", "backup-passphrase"
_PATIENCE = 20
# A copy made "in the future" was made by a clock that was wrong; so much, clocks differ.
_AHEAD = timedelta(minutes=5)
# After a try that failed, the next one.
_AGAIN = timedelta(minutes=30)


@dataclass(frozen=True)
class Made:
    """A copy that was made here, opened again and found good."""

    name: str
    folders: tuple[str, ...]
    made_at: datetime
    size: int
    why: str
    sealed: bool
    animals: int
    entries: int

    @classmethod
    def of(cls, name: str, manifest: Manifest, size: int) -> Self:
        """Return what is kept of a copy; it lies nowhere yet."""
        held = manifest.animals, manifest.entries
        return cls(name, (), manifest.made_at, size, manifest.why, name.endswith(SEALED), *held)

    @property
    def path(self) -> Path | None:
        """Where it lies; None: nowhere that can be reached now."""
        return next((at for at in self.paths if at.is_file()), None)

    @property
    def paths(self) -> list[Path]:
        """Where it was put."""
        return [Path(folder, self.name) for folder in self.folders]


@dataclass(frozen=True)
class Wishes:
    """What the owner wants: the hours between copies (0: none by itself), folders, how many."""

    hours: int = 24
    first: str = ""
    second: str = ""
    last: int = 7
    weeks: int = 5
    months: int = 24

    @property
    def folders(self) -> list[Path]:
        """The folders that each copy is put into."""
        return [
            Path(self.first or Path(settings.DATA, "backups")),
            *map(Path, filter(None, [self.second])),
        ]


@dataclass(frozen=True)
class Shelf:
    """All that is kept of copies.

    Attributes:
        instance: tells what this installation left unfinished from what another did.
        made: the good ones, the newest first.
        tried_at: when one was last tried.
        troubles: what was wrong with the last try, in words; there may be a copy all the same.
    """

    instance: str = field(default_factory=lambda: secrets.token_hex(4))
    wishes: Wishes = Wishes()
    made: tuple[Made, ...] = ()
    tried_at: datetime | None = None
    troubles: tuple[str, ...] = ()

    @property
    def last(self) -> Made | None:
        """The newest good copy, not dated ahead; if its folder is out of reach it counts too."""
        now = timezone.now()
        dated = [one for one in self.made if one.made_at <= now + _AHEAD]
        away = [one for one in dated if not any(path.parent.is_dir() for path in one.paths)]
        return next((one for one in dated if one.path or one in away), None)

    def is_due(self) -> bool:
        """Whether a copy is due by the clock, and none was tried in vain a moment ago."""
        if not self.wishes.hours:
            return False
        now, last = timezone.now(), self.last
        if last is not None and now - last.made_at < timedelta(hours=self.wishes.hours):
            return False
        tried = self.tried_at
        return tried is None or not self.troubles or not timedelta() <= now - tried < _AGAIN

    def is_overdue(self) -> bool:
        """Whether the last good copy is older than twice the time between two, or there is none."""
        last = self.last
        most = timedelta(hours=2 * (self.wishes.hours or 24))
        return last is None or timezone.now() - last.made_at > most


def read() -> Shelf:
    """Return what is kept; of a list that cannot be read nothing, and that is said."""
    try:
        return _from_json(json.loads(_file(_LIST).read_text(encoding="utf-8")))
    except FileNotFoundError:
        return Shelf()
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return Shelf(
            troubles=(
                f"The list of copies ({_LIST}) cannot be read. Look into the folders for those "
                "there are; a new list begins with the next one.",
            )
        )


def change(how: Callable[[Shelf], Shelf]) -> Shelf:
    """Change what is kept; others who do wait. Raises `OSError` if it cannot be written."""
    with only_one(_file(_LOCK), patience=_PATIENCE):
        changed = how(read())
        write_private(_file(_LIST), json.dumps(asdict(changed), default=str, indent=1).encode())
    return changed


def set_wishes(wishes: Wishes) -> None:
    """Keep what the owner wants."""
    change(lambda shelf: replace(shelf, wishes=wishes))


def passphrase() -> str:
    """Return what copies are encrypted with; empty: they are not."""
    try:
        return _file(_PASSPHRASE).read_text(encoding="utf-8")
    except FileNotFoundError:
        return ""


def set_passphrase(wanted: str) -> None:
    """Encrypt copies with this from now on; with nothing: not at all. Those made before stay."""
    if wanted:
        write_private(_file(_PASSPHRASE), wanted.encode())
    else:
        _file(_PASSPHRASE).unlink(missing_ok=True)


@contextmanager
def scratch(purpose: str) -> Iterator[Path]:
    """A folder for the block that only this account may open, on the disk of the data."""
    private_folder(Path(settings.DATA))
    with tempfile.TemporaryDirectory(
        prefix=f"{purpose}-", dir=settings.DATA, ignore_cleanup_errors=True
    ) as made:
        yield Path(made)


def _file(name: str) -> Path:
    return Path(settings.DATA, name)


def _from_json(said: dict[str, Any]) -> Shelf:
    made = tuple(
        Made(**one | {"folders": tuple(one["folders"]), "made_at": _moment(one["made_at"])})
        for one in said["made"]
    )
    return Shelf(
        instance=str(said["instance"]),
        wishes=Wishes(**said["wishes"]),
        made=tuple(sorted(made, key=lambda one: one.made_at, reverse=True)),
        tried_at=_moment(said["tried_at"]) if said["tried_at"] else None,
        troubles=tuple(map(str, said["troubles"])),
    )


def _moment(said: str) -> datetime:
    found = datetime.fromisoformat(said)
    return found if found.tzinfo else timezone.make_aware(found)
