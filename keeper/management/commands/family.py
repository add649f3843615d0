"""`manage.py family CODE`: the case file of an animal's family, to look at or to send."""

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from keeper.domain import inference
from keeper.domain.animals.queries import by_code
from keeper.models import Animal


class Command(BaseCommand):
    """Print everything in the book that bears on one animal, as `python -m genetics` reads it."""

    help = "Print the case file of an animal's family, for `python -m genetics solve -`."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the animal's code."""
        parser.add_argument("code")

    def handle(self, *_: Any, code: str, **__: Any) -> None:
        """Print JSON, or say which codes are near."""
        animal = by_code(code)
        if animal is None:
            near = Animal.objects.live().filter(code__istartswith=code[:2])[:5]
            like = "".join(f"; is it {one}?" for one in near)
            raise CommandError(f"no animal {code!r} is in the book{like}")
        case = inference.case_file(animal)
        self.stdout.write(json.dumps(case, indent=1, ensure_ascii=False))
