"""`manage.py work`: do what takes long, out of the queue, until it is stopped."""

from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from keeper.domain import inference
from keeper.domain.background import queue, telling
from keeper.domain.backups import asked
from keeper.serving.repeating import repeat

_LOOK_EVERY = 300  # seconds between looks whether a copy is due
_KEPT_DAYS = 7


class Command(BaseCommand):
    """Be a worker; as many may run as there is work for."""

    help = "Do imports, copies and comparisons out of the queue, and make copies on schedule."

    def handle(self, *_: Any, **__: Any) -> None:
        """Work until Ctrl+C or SIGTERM, which lets it end what it is doing."""
        if not queue.is_there():
            raise CommandError(
                "There is no queue, so whoever serves the book does all. Set KEPTLINES_QUEUE for "
                "every process to have one."
            )
        inference.warm_up()
        with telling.at_work():
            self.stdout.write(f"At work for the book in {settings.DATA}. Stop it with Ctrl+C.")
            self.stdout.flush()
            call_command("prune_db_task_results", min_age_days=_KEPT_DAYS, verbosity=0)
            ending = repeat(_copy_if_due, every=_LOOK_EVERY, name="copies")
            try:
                call_command("db_worker", startup_delay=False, reload=False, verbosity=0)
            finally:
                ending.set()


def _copy_if_due() -> None:
    try:
        asked.begin_if_due()
    finally:
        connection.close()
