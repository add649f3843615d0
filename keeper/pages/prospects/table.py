"""Prospects as a table."""

from collections.abc import Iterator

from keeper.discretion import sees_prices
from keeper.domain.prospects import queries
from keeper.domain.saying.spreadsheet import Cell
from keeper.models import Prospect, Said
from keeper.pages.frame.files import Table

_HEADS = (
    *("Name", "Species", "Sex", "What is said of it", "Seller", "Where", "Asked", "Seen on"),
    *("Bought as", "Let go on", "Why"),
)


def prospects_table(state: str) -> Table:
    """Return one of the lists, all pages; an unknown state means those on offer."""
    return _HEADS, _rows(state if state in queries.STATES else queries.STATES[0])


def _rows(state: str) -> Iterator[list[Cell]]:
    for one in queries.listed(state):
        yield _row(one)


def _row(one: Prospect) -> list[Cell]:
    return [
        *(one.name, one.species.name, one.get_sex_display()),
        # As words on an animal read, without the name of the prospect before each.
        "; ".join(Said.__str__(word) for word in queries.said_of(one)),
        one.source.name if one.source else "",
        *(
            one.where,
            one.asked if sees_prices() else "",
            one.seen_on.isoformat() if one.seen_on else "",
        ),
        one.bought.code if one.bought else "",
        one.withdrawn_at.date().isoformat() if one.withdrawn_at else "",
        one.withdrawn_reason,
    ]
