"""What commands share that work long: who works, and how far it is."""

from argparse import ArgumentTypeError
from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager, nullcontext
from typing import Any

from django.conf import settings
from django.core.management.base import CommandParser, OutputWrapper

from keeper.domain import inference


def add_workers(parser: CommandParser, work: str) -> None:
    """Let a command be told who works, if not this process."""
    who = parser.add_mutually_exclusive_group()
    who.add_argument(
        "--workers", type=_count, metavar="N", help=f"let N processes of this machine {work}"
    )
    who.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help=f"let a cluster {work}; its scheduler's tls:// address",
    )


def _count(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise ArgumentTypeError(f"{text!r} is no number of workers; give 1 or more")
    return int(text)


def workers(options: Mapping[str, Any]) -> AbstractContextManager[inference.Workers | None]:
    """Those that a command was given; nobody: this process works."""
    if options["workers"] is not None:
        return inference.workers_here(options["workers"])
    if options["scheduler"] is None:
        return nullcontext()
    return inference.workers_of(
        options["scheduler"],
        authority=settings.WORKERS_AUTHORITY,
        certificate=settings.WORKERS_CERTIFICATE,
        key=settings.WORKERS_KEY,
    )


@contextmanager
def progress(out: OutputWrapper, doing: str) -> Iterator[inference.Told]:
    """On a terminal, one line that says how far it is; wiped when it is done."""
    if not out.isatty():
        yield lambda done, of: None
        return
    shown = -1

    def tell(done: int, of: int) -> None:
        nonlocal shown
        percent = done * 100 // of
        if percent != shown:
            shown = percent
            out.write(f"\r{doing}: {percent} %", ending="")
            out.flush()

    try:
        yield tell
    finally:
        out.write("\r\033[K", ending="")
