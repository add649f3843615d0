"""`manage.py restore FILE`: put a copy in the place of a book that is not running."""

import sys
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.utils import timezone
from django.utils.formats import date_format

from keeper.domain.backups import looking, pouring, sealing
from keeper.domain.backups.archive import Manifest
from keeper.domain.backups.restoring import restore
from keeper.domain.backups.troubles import NotMade
from keeper.domain.book.refusing import Refused
from keeper.management.commands.back_up import asked
from keeper.models import Account
from keeper.serving.locks import SERVING, Held, only_one


class Command(BaseCommand):
    """Say what a copy holds, ask, and restore it."""

    help = "Put a copy in the place of the book; on a new machine, begin the book with it."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the file, and whether to look only or to ask nothing."""
        parser.add_argument("file", type=Path, help="the copy, keptlines-….zip or ….zip.sealed")
        parser.add_argument("--look", action="store_true", help="say what it holds, change nothing")
        parser.add_argument("--yes", action="store_true", help="ask nothing before it")
        parser.add_argument(
            "--without-copy",
            action="store_true",
            help="even if no copy of the present book can be made",
        )

    def handle(
        self, *_: Any, file: Path, look: bool, yes: bool, without_copy: bool, **__: Any
    ) -> None:
        """Do it; refuse while the book is being served."""
        try:
            secret = asked("Passphrase of this copy: ") if _is_sealed(file) else ""
            manifest = looking.look(file, secret)
            self._say(manifest)
            if look:
                return
            with only_one(Path(settings.DATA, SERVING)):
                self._make_place()
                if not yes and not self._confirmed(manifest):
                    raise CommandError("Nothing was changed.")
                came = restore(file, passphrase=secret, without_copy=without_copy)
        except Held as error:
            raise CommandError(
                "The book is being served. Stop it first, or restore from its page Backups."
            ) from error
        except NotMade as error:
            raise CommandError(
                f"{error} The book is as it was. With --without-copy it is restored without one."
            ) from error
        except Refused as error:
            raise CommandError(str(error)) from error
        if came.before is not None:
            self.stdout.write(f"The book as it was before: {came.before.path}")
        for line in (*came.differing, *came.faults):
            self.stdout.write(line)
        self.stdout.write(
            "Restored. Start the book again; forms that were open must be opened anew."
        )

    def _say(self, manifest: Manifest) -> None:
        at = date_format(timezone.localtime(manifest.made_at), "j F Y, H:i")
        self.stdout.write(
            f"A copy of {at}, made {manifest.why}: {manifest.animals} animals, "
            f"{manifest.clutches} clutches, {manifest.entries} entries, {manifest.sheets} sheets, "
            f"{manifest.pictures} pictures."
        )

    def _make_place(self) -> None:
        """Have a book to restore into; one that cannot be read is put aside, never deleted."""
        if connection.vendor == "sqlite":
            path = Path(str(connection.settings_dict["NAME"]))
            if path.exists() and not pouring.is_sound(path):
                connection.close()
                aside = path.with_name(f"{path.name}.damaged-{timezone.now():%Y%m%d-%H%M%S}")
                for ending in ("", "-wal", "-shm"):
                    part = path.with_name(f"{path.name}{ending}")
                    if part.exists():
                        part.rename(f"{aside}{ending}")
                self.stdout.write(f"The book's database could not be read; it lies at {aside} now.")
        call_command("migrate", verbosity=0, interactive=False)

    def _confirmed(self, manifest: Manifest) -> bool:
        if not Account.objects.exists():
            return True
        lost = looking.lost_by(manifest)
        self.stdout.write(
            f"The book here has {lost.entries} entries since then; they will not be in it. "
            "A copy of it is made first."
        )
        if not sys.stdin.isatty():
            raise CommandError("Say --yes to restore it without being asked.")
        return input("Type yes to restore: ").strip().lower() == "yes"


def _is_sealed(file: Path) -> bool:
    try:
        return sealing.is_sealed(file)
    except OSError as error:
        raise CommandError(f"{file} cannot be read: {error.strerror}.") from error
