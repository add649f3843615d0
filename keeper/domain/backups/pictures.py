"""The pictures exchanged for those of a copy, so that a crash leaves the right ones.

Which are right is told by the database: a note names the epoch that the book has once the restore
is through. If it has it, the new pictures stay, else the old ones are put back. A folder is
exchanged whole, by its name; in a store without folders what differs is exchanged one by one
(`stored.py`).
"""

import json
import shutil
from pathlib import Path
from typing import Any

from django.conf import settings

from keeper.domain.backups import epoch, stored
from keeper.serving import files
from keeper.serving.secrets import write_private

_NOTE, _BEFORE = "exchanging.json", "media-before"


def exchange(fresh: Path, *, until: str) -> None:
    """Put a folder of pictures in place of the present ones, which wait beside it.

    `until`: the epoch of the book once all holds. Raises `OSError` if it cannot be done.
    """
    fresh.mkdir(exist_ok=True)
    media = files.folder()
    if media is None:
        change = stored.planned(fresh)
        _write({"until": until, "stored": change.noted()})
        change.make(fresh)
        return
    _write({"until": until, "had": media.exists()})
    if media.exists():
        media.rename(_before(media))
    fresh.rename(media)


def settle() -> None:
    """End an exchange by what the book says: keep the new pictures, or put the old ones back.

    Raises:
        OSError: the pictures are out of reach; it can be done later.
    """
    try:
        note = json.loads(_note().read_text(encoding="ascii"))
    except (FileNotFoundError, ValueError):
        return
    through = epoch.book().epoch == note["until"]
    media = files.folder()
    if "stored" in note:
        change = stored.Change.of(note["stored"])
        change.finish() if through else change.take_back()
    elif media is not None:
        _settle_folder(media, through=through, had=note["had"])
    _note().unlink(missing_ok=True)


def _settle_folder(media: Path, *, through: bool, had: bool) -> None:
    before = _before(media)
    if not through:
        if before.exists():
            shutil.rmtree(media, ignore_errors=True)
            before.rename(media)
        elif not had:
            shutil.rmtree(media, ignore_errors=True)
    shutil.rmtree(before, ignore_errors=True)


def _write(note: dict[str, Any]) -> None:
    write_private(_note(), json.dumps(note).encode("ascii"))


def _note() -> Path:
    return Path(settings.DATA, _NOTE)


def _before(media: Path) -> Path:
    # Beside the pictures, so that to rename it is enough.
    return media.with_name(_BEFORE)
