"""Disputes and surprises, and how often things go wrong, as tables."""

from collections.abc import Iterator

from django.utils import timezone

from keeper.domain.saying.spreadsheet import Cell
from keeper.models import DaybookEntry
from keeper.pages.disputes.base_rates import RatesPage
from keeper.pages.disputes.page import DisputesPage
from keeper.pages.frame.files import Table

_DISPUTES = ("What", "Since", "Records", "Chance", "Disputed figures of", "Settled or looked at by")
_RATES = ("What", "How often", "For each", "On what ground", "Your own", "Commonly")


def disputes_table(page: DisputesPage) -> Table:
    """Return all that the list shows, in its order."""
    return _DISPUTES, _disputes(page)


def _disputes(page: DisputesPage) -> Iterator[list[Cell]]:
    for one in page.open:
        records = "; ".join(record.text for part in one.parts for record in part.records)
        doubtful = " ".join(animal.code for animal in one.in_doubt)
        yield ["contradiction", _day(one.first.opened), records, "", doubtful, ""]
    for row in page.surprises:
        yield ["unlikely", _day(row.surprise.entry), row.surprise.text, row.chance, "", ""]
    for closed in page.settled:
        records = "; ".join(record.text for record in closed.records)
        since = _day(closed.dispute.opened)
        yield ["settled", since, records, "", "", f"{_day(closed.entry)}: {closed.entry.what}"]
    for row in page.looked_at:
        by = row.surprise.looked_at
        said = f"{_day(by)}: {by.by or 'the program'}" if by else ""
        yield ["unlikely", _day(row.surprise.entry), row.surprise.text, row.chance, "", said]


def _day(entry: DaybookEntry) -> str:
    return timezone.localtime(entry.at).date().isoformat()


def rates_table(page: RatesPage) -> Table:
    """Return every rate with its ground."""
    return _RATES, (
        [
            *(row.rate.name, row.often, row.rate.per, row.rate.ground),
            *("yes" if row.rate.own else "", row.commonly),
        ]
        for row in page.rows
    )
