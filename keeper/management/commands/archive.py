"""`manage.py archive FILE`: the whole book in one file that anybody can read."""

import os
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from keeper.domain.archives.making import make


class Command(BaseCommand):
    """Write an archive."""

    help = "Write the whole book, pictures included, into one ZIP file that explains itself."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take where to write it."""
        parser.add_argument("file", type=Path)

    def handle(self, *_: Any, file: Path, **__: Any) -> None:
        """Write it beside its place first, so that half an archive never stands there."""
        if file.exists():
            raise CommandError(f"{file} is there already; choose another name.")
        beside = file.with_name(f"{file.name}.part")
        try:
            descriptor = os.open(beside, os.O_RDWR | os.O_CREAT | os.O_TRUNC, 0o600)
            with os.fdopen(descriptor, "w+b") as into:
                made = make(into, made_at=timezone.now())
                into.flush()
                os.fsync(into.fileno())
            beside.replace(file)
        except OSError as error:
            raise CommandError(f"{file} cannot be written: {error.strerror}.") from error
        finally:
            beside.unlink(missing_ok=True)
        rows, pictures = sum(one.rows for one in made.tables), len(made.pictures)
        self.stdout.write(f"{file}: {rows} rows of {len(made.tables)} tables, {pictures} pictures.")
        for name in made.missing:
            self.stdout.write(f"Missing, and so not in it: {name}")
