"""`manage.py recompute`: compute every standing anew and tell what was not as stored."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from keeper.domain import inference
from keeper.domain.book.writing import writing


class Command(BaseCommand):
    """Compare, report, and put right what differs."""

    help = "Compute every standing of the book anew and report what differs from what is stored."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take `--check`: report only."""
        parser.add_argument("--check", action="store_true", help="report, and change nothing")

    def handle(self, *_: Any, check: bool, **__: Any) -> None:
        """Print one line a difference; exit with 1 if there was any."""
        found = inference.differences()
        for one in found:
            line = f" {one.line}" if one.line else ""
            self.stdout.write(
                f"{one.animal}: {one.trait}{line}: stored {one.stored}; computed {one.computed}"
            )
        if not found:
            self.stdout.write("Every standing is what the book says.")
            return
        if not check:
            with writing(by=None, what="Recomputed the whole book", of_records=False) as book:
                inference.recompute(entry=book.entry)
            self.stdout.write(f"Put right: {len(found)}.")
        raise SystemExit(1)
