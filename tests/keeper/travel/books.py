"""A family of which an animal is sold, and what is read in its signed sheet."""

import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

from django.db import transaction

from keeper import models as m
from keeper.domain.sheets.signing import read
from keeper.domain.sheets.writes import issue
from keeper.domain.travel.files import opened, written
from keeper.domain.travel.writes import Choices, bring_in
from tests.factories import AccountFactory
from tests.keeper.books import Book

BookT = TypeVar("BookT", bound=Book)
OtherBook = Callable[[str], AbstractContextManager[Book]]


def shelf(
    settings: Any, folder: Path, make: Callable[[m.Account], BookT]
) -> Callable[[str], AbstractContextManager[BookT]]:
    """Books by name, each with keys of its own; the rows of one are gone when it is closed."""

    @contextmanager
    def opened(name: str) -> Iterator[BookT]:
        settings.DATA = folder / name
        with transaction.atomic():
            by = m.Account.objects.filter(role="owner").first()
            book = make(by or AccountFactory.create(name=f"Keeper of {name}"[:40], role="owner"))
            m.Line.objects.filter(pk=book.line.pk).update(name="Harvesk")
            yield book
            transaction.set_rollback(True)

    return opened


def family(book: Book) -> m.Animal:
    """A hatchling of a possible carrier and a visual, with sibs, an aunt and a doubted source."""
    source = m.Contact.objects.create(name="Canary Wren", reach="canary@example.org")
    dam = book.founder("F-7", "female", "possible", "2/3")
    m.Statement.objects.filter(animal=dam).update(source=source)
    sire = book.founder("M-7", "male", "visual")
    clutch = book.clutch("26-11", dam, sire, normal=3)
    book.young("26-11-a", clutch, seen=False, sex="male")
    return book.young("26-11-b", clutch, seen=False, sex="female")


def evidence_of(sheet: m.Sheet) -> dict[str, Any]:
    """What a sheet signs as its evidence."""
    evidence: dict[str, Any] = read(bytes(sheet.signed or b""))["evidence"]
    return evidence


def issued(animal: m.Animal, by: m.Account) -> m.Sheet:
    """A sheet of an animal."""
    sheet, _ = issue(animal=m.Animal.objects.get(pk=animal.pk), by=by)
    return sheet


def solved_outside(part: dict[str, Any]) -> list[float]:
    """What `python -m genetics solve` answers to a part's questions, knowing the file alone."""
    done = subprocess.run(
        [sys.executable, "-m", "genetics", "solve", "-"],
        input=json.dumps(part["case"]),
        capture_output=True,
        text=True,
        check=True,
    )
    return list(json.loads(done.stdout)["joint"])


def file_of(animal: m.Animal, by: m.Account) -> bytes:
    """The signed paper of an animal, as its owner sends it."""
    sheet = issued(animal, by)
    key = sheet.key
    assert key is not None
    return written(bytes(sheet.signed or b""), bytes(sheet.signature or b""), bytes(key.public))


def brought(data: bytes, by: m.Account, **choices: Any) -> m.SignedPaper:
    """Bring a paper in as somebody who takes its signer wholly at their word."""
    chosen = Choices(on=date(2026, 7, 1), name="Osk", key_compared=True)
    bring_in(paper=opened(data), choices=replace(chosen, **choices), by=by)
    found: m.SignedPaper = m.SignedPaper.objects.live().latest("pk")
    return found


def carries(animal: m.Animal | str) -> float:
    """The chance by which an animal carries the trait."""
    code = animal if isinstance(animal, str) else animal.code
    one = m.Standing.objects.filter(animal__code=code, line=None).first()
    return 0.0 if one is None else one.carries
