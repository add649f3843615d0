"""Books that know nothing of one another: each is written, and leaves nothing but its files."""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction

from keeper import models as m
from tests.factories import AccountFactory
from tests.keeper.books import Book

OtherBook = Callable[[str], AbstractContextManager[Book]]


@pytest.fixture
def another(db: None, settings: Any, tmp_path: Path) -> OtherBook:
    """Open a book of some name, with keys of its own; its rows are gone when it is closed."""

    @contextmanager
    def opened(name: str) -> Iterator[Book]:
        settings.DATA = tmp_path / name
        with transaction.atomic():
            by = m.Account.objects.filter(role="owner").first()
            owner = by or AccountFactory.create(name=f"Keeper of {name}", role="owner")
            book = Book(owner, name="royal python", scientific_name="Python regius")
            m.Line.objects.filter(pk=book.line.pk).update(name="Harvesk")
            yield book
            transaction.set_rollback(True)

    return opened
