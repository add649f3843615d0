"""Books that go out and come back: archives in files, and a book that is empty again."""

import zipfile
from datetime import UTC, datetime
from pathlib import Path

from django.db import connection, transaction

from keeper import models as m
from keeper.domain.archives.making import make
from keeper.domain.archives.manifest import NAME
from keeper.domain.archives.tables import tables
from tests.factories import AccountFactory

NOON = datetime(2026, 11, 30, 12, tzinfo=UTC)


def archived(into: Path, at: datetime = NOON) -> Path:
    """The book as an archive in a folder."""
    path = into / f"{len(list(into.iterdir()))}.zip"
    with path.open("w+b") as file:
        make(file, made_at=at)
    return path


def emptied(owner: str = "Mara") -> m.Account:
    """Take everything out of the book, and give it a new owner."""
    with transaction.atomic():  # some tables refer to one another
        for table in reversed(tables()):
            # Past the rules of records, which are never deleted.
            table.model._base_manager.all()._raw_delete(connection.alias)
    return AccountFactory.create(name=owner, role="owner")


def contents(path: Path, *, but: str = "") -> dict[str, bytes]:
    """Every file of an archive."""
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist() if name != but}


def counts() -> dict[str, int]:
    """How many rows each table has."""
    return {table.name: table.model._base_manager.count() for table in tables()}


__all__ = ["NAME", "NOON", "archived", "contents", "counts", "emptied"]
