"""What the pages of copies print."""

import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone

from keeper.domain.backups import sealing, shelf
from keeper.domain.backups.archive import Manifest
from keeper.domain.backups.looking import Lost, fits_here, lost_by
from keeper.domain.backups.shelf import Made, Shelf
from keeper.serving.secrets import private_folder

FIRST, SECOND, RECEIVED = "first", "second", "received"
_OURS = re.compile(rf"{shelf.NAMES}[\w.-]+(?:{re.escape(shelf.PLAIN)}|{re.escape(shelf.SEALED)})")
_KEPT_DAYS = 2


@dataclass(frozen=True)
class Row:
    """One copy in one place.

    Attributes:
        made: what is known of it, if it was made and checked here.
        at: when it was made or, if that is not known, when its file was written.
    """

    name: str
    place: str
    folder: str
    size: int
    sealed: bool
    at: datetime
    made: Made | None


@dataclass(frozen=True)
class Page:
    """All copies, and how they are made."""

    shelf: Shelf
    rows: list[Row]
    away: list[Made]
    encrypted: bool


@dataclass(frozen=True)
class Contents:
    """What a copy holds, and what would be lost by it."""

    manifest: Manifest
    lost: Lost
    fits: bool


def page() -> Page:
    """Return the list."""
    now = shelf.read()
    rows = sorted(_rows(now), key=lambda row: (row.at, row.name), reverse=True)
    away = [one for one in now.made if one.path is None]
    return Page(now, rows, away, bool(shelf.passphrase()))


def _folders(now: Shelf) -> dict[str, Path]:
    places = dict(zip((FIRST, SECOND), now.wishes.folders, strict=False))
    return places | {RECEIVED: _received()}


def _rows(now: Shelf) -> list[Row]:
    known = {(one.name, one.size): one for one in now.made}
    found = []
    for place, folder in _folders(now).items():
        for path in _copies_in(folder):
            try:
                about = path.stat()
            except OSError:
                continue
            made = known.get((path.name, about.st_size))
            at = datetime.fromtimestamp(about.st_mtime, tz=timezone.get_current_timezone())
            sealed = path.name.endswith(shelf.SEALED)
            at = made.made_at if made else at
            found.append(Row(path.name, place, str(folder), about.st_size, sealed, at, made))
    return found


def _copies_in(folder: Path) -> list[Path]:
    try:
        return [one for one in folder.iterdir() if _OURS.fullmatch(one.name) and one.is_file()]
    except OSError:
        return []


def path_of(place: str, name: str) -> Path | None:
    """Return the file of a copy in a place; None if there is none."""
    folder = _folders(shelf.read()).get(place)
    if folder is None or not _OURS.fullmatch(name):
        return None
    path = folder / name
    return path if path.is_file() else None


def contents(manifest: Manifest) -> Contents:
    """Return what a page says of a copy that was opened."""
    return Contents(manifest, lost_by(manifest), fits_here(manifest))


def receive(upload: UploadedFile[bytes]) -> str:
    """Keep a copy that was sent, for a while; return its name. Raises `OSError`."""
    folder = private_folder(_received())
    oldest = timezone.now().timestamp() - _KEPT_DAYS * 24 * 3600
    for old in _copies_in(folder):
        if old.stat().st_mtime < oldest:
            old.unlink(missing_ok=True)
    plain = folder / f"{shelf.NAMES}received-{timezone.now():%Y%m%d-%H%M%S-%f}{shelf.PLAIN}"
    with plain.open("wb") as file:
        for block in upload.chunks():
            file.write(block)
    if not sealing.is_sealed(plain):
        return plain.name
    return plain.rename(plain.with_suffix(shelf.SEALED)).name


def _received() -> Path:
    return Path(settings.DATA, "received")
