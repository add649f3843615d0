"""`manage.py open_archive FILE`: an archive back into an empty book."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from keeper.domain.archives.inside import look
from keeper.domain.archives.opening import open_into_book
from keeper.domain.book.refusing import Refused
from keeper.domain.saying.counts import how_many


class Command(BaseCommand):
    """Look inside an archive, or fill the empty book with it."""

    help = "Fill an empty book with an archive: an equal book, under the same numbers."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the file, and what to do with it."""
        parser.add_argument("file", type=Path)
        parser.add_argument("--look", action="store_true", help="only say what is inside")
        parser.add_argument(
            "--with-faults", action="store_true", help="take records that break a rule, told"
        )

    def handle(self, *_: Any, file: Path, look: bool, with_faults: bool, **__: Any) -> None:
        """Say what is inside, take it, and say what came of it."""
        try:
            self._say(file)
            if not look:
                self._open(file, with_faults=with_faults)
        except Refused as refused:
            raise CommandError(str(refused)) from refused

    def _say(self, file: Path) -> None:
        inside = look(file).manifest
        self.stdout.write(f"Made at {inside.made_at} by Keptlines {inside.program}; it is whole.")
        counts = [f"{inside.rows(name)} {name}" for name in ("animal", "clutch", "daybookentry")]
        self.stdout.write(f"Rows: {', '.join(counts)}; pictures: {len(inside.pictures)}.")
        if inside.last_entry:
            self.stdout.write(f"Last entry: {' at '.join(inside.last_entry)}")
        for name in inside.missing:
            self.stdout.write(f"Was missing when it was made: {name}")

    def _open(self, file: Path, *, with_faults: bool) -> None:
        opened = open_into_book(file, with_faults=with_faults)
        for fault in opened.faults:
            self.stdout.write(f"Breaks a rule: {fault}")
        for one in opened.differences:
            line = f" {one.line}" if one.line else ""
            self.stdout.write(
                f"{one.animal}: {one.trait}{line}: stored {one.stored}; computed {one.computed}"
            )
        differ = how_many(len(opened.differences), "figure")
        self.stdout.write(f"The book is filled. Worked out anew, {differ} would be otherwise.")
        if not opened.owner.has_usable_password():
            self.stdout.write(
                "Give the owner a password: "
                f"python3 manage.py changepassword {opened.owner.login_name!r}"
            )
        for name in opened.helpers:
            self.stdout.write(f"{name} is switched off until the owner lets them in anew.")
