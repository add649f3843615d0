"""A copy of the book before an import is written, and before one is taken back."""

from django.db import connection

from keeper.domain.backups import making, shelf
from keeper.domain.backups.troubles import NotMade
from keeper.models import DaybookEntry, Import


def copy_before(what: str, *, without_copy: bool) -> None:
    """Make a copy of the book; without one, go on only if that was said.

    Inside a transaction there is nothing new to copy, and none is made.

    Raises:
        NotMade: there is no good copy.
    """
    if connection.in_atomic_block:
        return
    try:
        making.before_risk(what)
    except NotMade:
        if not without_copy:
            raise


def is_of_an_import(entry: DaybookEntry) -> bool:
    """Whether an entry is an import as it was written."""
    return Import.objects.filter(entry=entry).exists()


def trouble() -> str:
    """Return why the last copy could not be made, or not everywhere; empty: it was."""
    return " ".join(shelf.read().troubles)
