"""The folder of pictures exchanged for that of a copy, so that a crash leaves the right one.

Which one is right is told by the database: a note names the epoch that the book has once the
restore is through. If it has it, the new pictures stay, else the old ones are put back.
"""

import json
import shutil
from pathlib import Path

from django.conf import settings

from keeper.domain.backups import epoch
from keeper.serving.secrets import write_private

_NOTE, _BEFORE = "exchanging.json", "media-before"


def exchange(fresh: Path, *, until: str) -> None:
    """Put a folder of pictures in place of the present one, which waits beside it.

    `until`: the epoch of the book once all holds. Raises `OSError` if it cannot be done.
    """
    media = Path(settings.MEDIA_ROOT)
    fresh.mkdir(exist_ok=True)
    note = {"until": until, "had": media.exists()}
    write_private(_note(), json.dumps(note).encode("ascii"))
    if media.exists():
        media.rename(_before())
    fresh.rename(media)


def settle() -> None:
    """End an exchange by what the book says: keep the new pictures, or put the old ones back."""
    try:
        note = json.loads(_note().read_text(encoding="ascii"))
    except (FileNotFoundError, ValueError):
        return
    media = Path(settings.MEDIA_ROOT)
    if epoch.book().epoch != note["until"]:
        if _before().exists():
            shutil.rmtree(media, ignore_errors=True)
            _before().rename(media)
        elif not note["had"]:
            shutil.rmtree(media, ignore_errors=True)
    shutil.rmtree(_before(), ignore_errors=True)
    _note().unlink(missing_ok=True)


def _note() -> Path:
    return Path(settings.DATA, _NOTE)


def _before() -> Path:
    # Beside the pictures, so that to rename it is enough.
    return Path(settings.MEDIA_ROOT).with_name(_BEFORE)
