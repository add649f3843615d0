"""`manage.py sweep`: overwrite what was deleted, after an erasure that could not do it."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from keeper.domain.erasure.sweeping import finish


class Command(BaseCommand):
    """Write the database's file anew, without what was deleted."""

    help = "Overwrite what was deleted in the database's file; for when nobody is at work."

    def handle(self, *_: Any, **__: Any) -> None:
        """Sweep, or say why not."""
        if not finish():
            raise CommandError(
                "Somebody reads or writes in the book. Stop the program, and run this again."
            )
        self.stdout.write("The database's file holds nothing any more that was deleted.")
