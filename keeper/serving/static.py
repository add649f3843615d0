"""Static files straight from their folders, under addresses that change with their content."""

import hashlib
from functools import cache
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import StaticFilesStorage


class FingerprintedStorage(StaticFilesStorage):
    """Add `?v=<digest>` to every address, so that browsers may keep the file for a year.

    No copying step before a start: a keeper who updates only starts again. Files must name
    each other only through templates, since addresses inside CSS or scripts get no digest
    (fonts are the exception: they never change under the same name).
    """

    def url(self, name: str | None) -> str:
        """Return the address of a static file with the digest of its content."""
        address = super().url(name)
        digest = (_read_digest if settings.DEBUG else _known_digest)(name or "")
        return f"{address}?v={digest}" if digest else address


def _read_digest(name: str) -> str:
    path = finders.find(name)
    return hashlib.sha256(Path(path).read_bytes()).hexdigest()[:12] if path else ""


_known_digest = cache(_read_digest)
