"""`manage.py back_up`: make a copy of the book, while it runs or not."""

import getpass
import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from keeper.domain.backups import making, sealing, shelf
from keeper.domain.backups.troubles import NotMade


class Command(BaseCommand):
    """Make one, or set the passphrase that they are encrypted with."""

    help = "Make a copy of the whole book, check it, and say where it lies."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take `--if-due` for a clock of the system, and what else is done instead."""
        what = parser.add_mutually_exclusive_group()
        what.add_argument("--if-due", action="store_true", help="only if one is due")
        what.add_argument(
            "--set-passphrase", action="store_true", help="ask for one; copies are encrypted then"
        )
        what.add_argument(
            "--no-passphrase", action="store_true", help="copies are encrypted no more"
        )

    def handle(
        self, *_: Any, if_due: bool, set_passphrase: bool, no_passphrase: bool, **__: Any
    ) -> None:
        """Print where the copy lies, and what kept it from elsewhere; fail if there is none."""
        if set_passphrase:
            self._set_passphrase()
            return
        if no_passphrase:
            shelf.set_passphrase("")
            self.stdout.write("New copies are not encrypted.")
            return
        try:
            made = making.make_if_due() if if_due else making.make("by hand")
        except NotMade as error:
            raise CommandError(str(error)) from error
        if made is None:
            self.stdout.write("No copy is due.")
            return
        for path in made.paths:
            self.stdout.write(f"Copied and checked: {path}")
        for trouble in shelf.read().troubles:
            self.stderr.write(trouble)

    def _set_passphrase(self) -> None:
        wanted = asked("Passphrase for copies: ")
        if len(wanted) < sealing.SHORTEST:
            raise CommandError(f"Too short: use {sealing.SHORTEST} letters or more.")
        if sys.stdin.isatty() and asked("Once more: ") != wanted:
            raise CommandError("The two differ. Start again.")
        shelf.set_passphrase(wanted)
        self.stdout.write(
            "New copies are encrypted. Keep the passphrase where you find it without this machine: "
            "nobody can open them otherwise."
        )


def asked(prompt: str) -> str:
    """Ask for a passphrase: unseen on a terminal, else a line of what is piped in."""
    if sys.stdin.isatty():
        return getpass.getpass(prompt)
    return sys.stdin.readline().rstrip("\r\n")
