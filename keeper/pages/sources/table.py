"""The contacts as a table."""

from collections.abc import Iterable
from typing import Any

from keeper.pages.frame.files import Table

_HEADS = ("Name", "How to reach them", "Animals from them", "Statements")


def contacts_table(contacts: Iterable[Any]) -> Table:
    """Return contacts, with what is counted of each."""
    rows = ([one.name, one.reach, one.animals_from, one.statements_made] for one in contacts)
    return _HEADS, rows
