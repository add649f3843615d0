"""`manage.py public_pages FOLDER`: the public pages of sheets, for any web host over HTTPS."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from keeper.pages.sheets.folder import NotMade, write

# After so long a buyer should ask rather than rely on a page: common practice, no source.
_DAYS = 30


class Command(BaseCommand):
    """Write the folder of public pages."""

    help = "Write the public pages of all signed sheets as static files that check themselves."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take where to write them, and for how long they may be relied on."""
        parser.add_argument("folder", type=Path)
        parser.add_argument("--days", type=int, default=_DAYS, help="until they are stale")

    def handle(self, *_: Any, folder: Path, days: int, **__: Any) -> None:
        """Write them and say how many."""
        if not 1 <= days <= 3660:
            raise CommandError("--days takes a number from 1 to 3660.")
        try:
            made = write(folder.resolve(), on=timezone.localdate(), days=days)
        except NotMade as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"{folder}: {made.pages} pages, good for {days} days.")
        for number in made.broken:
            self.stdout.write(f"The signature of sheet {number} does not hold; its page says so.")
