"""What a search found as a table."""

from collections.abc import Iterable

from keeper.pages.frame.files import Table
from keeper.pages.search.page import Links

_HEADS = ("Kind", "What", "Address")


def search_table(groups: Iterable[Links]) -> Table:
    """Return what was found, kind by kind, with the address of each in the book."""
    rows = ([group.title, link.text, link.url] for group in groups for link in group.links)
    return _HEADS, rows
