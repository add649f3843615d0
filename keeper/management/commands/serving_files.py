"""`manage.py serving_files`: print what a machine needs that serves the book to a club."""

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from keeper.serving.examples import FILES, Place


class Command(BaseCommand):
    """Print one of the files."""

    help = "Print a file for serving the book under a host name: " + ", ".join(FILES) + "."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the options."""
        parser.add_argument("file", choices=list(FILES))
        parser.add_argument("--host", default="book.example", help="the name that people type")
        parser.add_argument("--account", default="keptlines", help="the system's account it is of")
        parser.add_argument("--processes", type=int, choices=range(1, 33), default=2, metavar="N")
        parser.add_argument("--first-port", type=int, default=8101)

    def handle(self, *args: Any, **options: Any) -> None:
        """Print it."""
        place = Place(
            host=options["host"],
            program=str(settings.ROOT),
            data=str(settings.DATA),
            account=options["account"],
            processes=options["processes"],
            first_port=options["first_port"],
        )
        self.stdout.write(FILES[options["file"]](place), ending="")
