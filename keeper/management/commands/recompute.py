"""`manage.py recompute`: compute every standing anew and tell what was not as stored."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.management.working import add_workers, progress, workers


class Command(BaseCommand):
    """Compare, report, and put right what differs."""

    help = "Compute every standing of the book anew and report what differs from what is stored."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take `--check`: report only; and who solves, if not this process."""
        parser.add_argument("--check", action="store_true", help="report, and change nothing")
        add_workers(parser, "solve")

    def handle(self, *_: Any, check: bool, **options: Any) -> None:
        """Print one line a difference; exit with 1 if there was any."""
        try:
            with workers(options) as solver, progress(self.stderr, "Solving the book") as told:
                ahead = inference.solved_ahead(solver, told)
        except inference.NoWorkers as error:
            raise CommandError(str(error)) from error
        found = inference.differences(ahead)
        for one in found:
            line = f" {one.line}" if one.line else ""
            self.stdout.write(
                f"{one.animal}: {one.trait}{line}: stored {one.stored}; computed {one.computed}"
            )
        if not found:
            self.stdout.write("Every standing is what the book says.")
            return
        if not check:
            what = "Recomputed the whole book"
            with writing(by=None, what=what, of_records=False) as book:
                inference.recompute(entry=book.entry, ahead=ahead)
            self.stdout.write(f"Put right: {len(found)}.")
        raise SystemExit(1)
