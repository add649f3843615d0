"""`manage.py recompute`: compute every standing anew and tell what was not as stored."""

from argparse import ArgumentTypeError
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from keeper.domain import inference
from keeper.domain.book.writing import writing


def _count(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise ArgumentTypeError(f"{text!r} is no number of workers; give 1 or more")
    return int(text)


class Command(BaseCommand):
    """Compare, report, and put right what differs."""

    help = "Compute every standing of the book anew and report what differs from what is stored."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take `--check`: report only; and who solves, if not this process."""
        parser.add_argument("--check", action="store_true", help="report, and change nothing")
        who = parser.add_mutually_exclusive_group()
        who.add_argument(
            "--workers",
            type=_count,
            metavar="N",
            help="let N processes of this machine solve",
        )
        who.add_argument(
            "--scheduler",
            metavar="ADDRESS",
            help="let a cluster solve; its scheduler's tls:// address",
        )

    def handle(
        self, *_: Any, check: bool, workers: int | None, scheduler: str | None, **__: Any
    ) -> None:
        """Print one line a difference; exit with 1 if there was any."""
        try:
            with _solver(workers, scheduler) as solver, self._progress() as told:
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

    @contextmanager
    def _progress(self) -> Iterator[inference.Told]:
        """On a terminal, one line that says how far it is; wiped when it is done."""
        if not self.stderr.isatty():
            yield lambda done, of: None
            return
        shown = -1

        def tell(done: int, of: int) -> None:
            nonlocal shown
            percent = done * 100 // of
            if percent != shown:
                shown = percent
                self.stderr.write(f"\rSolving the book: {percent} %", ending="")
                self.stderr.flush()

        try:
            yield tell
        finally:
            self.stderr.write("\r\033[K", ending="")


def _solver(
    workers: int | None, scheduler: str | None
) -> AbstractContextManager[inference.Solver | None]:
    if workers is not None:
        return inference.workers_here(workers)
    if scheduler is None:
        return nullcontext()
    return inference.workers_of(
        scheduler,
        authority=settings.WORKERS_AUTHORITY,
        certificate=settings.WORKERS_CERTIFICATE,
        key=settings.WORKERS_KEY,
    )
