"""Books that know nothing of one another: each is written, and leaves nothing but its files."""

from pathlib import Path
from typing import Any

import pytest

from tests.keeper.books import Book
from tests.keeper.travel.books import OtherBook, shelf


@pytest.fixture
def another(db: None, settings: Any, tmp_path: Path) -> OtherBook:
    """Open a book of some name, with keys of its own; its rows are gone when it is closed."""
    return shelf(
        settings,
        tmp_path,
        lambda by: Book(by, name="royal python", scientific_name="Python regius"),
    )
