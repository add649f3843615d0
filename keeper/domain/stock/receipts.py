"""The receipt of a sale: what was paid for which animal, by whom, to whom; no taxes.

A receipt is made of the sale as it stands, and is not kept: the numbered paper is the sheet.
"""

from typing import Any

from django.utils import timezone
from django.utils.formats import date_format

from keeper.domain.sheets.writes import described
from keeper.domain.stock.money import money
from keeper.domain.stock.queries import sheets_for
from keeper.models import Account, Sale, SaleState

_PAID = {SaleState.SOLD, SaleState.HANDED}


def receipt_of(sale: Sale, *, by: Account) -> dict[str, Any] | None:
    """Return what the receipt says, as plain data; None where nothing was paid or it ended.

    Of what is on hold it is for the deposit; of what is sold, for the price.
    """
    held = sale.state == SaleState.HELD and sale.deposit is not None
    sold = sale.state in _PAID and sale.price is not None
    if sale.is_withdrawn or not (held or sold):
        return None
    today = timezone.localdate()
    animal = described(sale.animal)
    return {
        "title": f"Receipt: {sale.animal.code}",
        "issued": [today.year, today.month, today.day],
        "issuer": by.name,
        "reach": by.reach,
        "buyer": sale.buyer.name if sale.buyer else "",
        "animal": animal,
        "rows": list(_rows(sale, held=held)),
        "days": list(_days(sale)),
        "sheets": [one.numbered for one in sheets_for(sale)],
        "printed": f"Printed on {date_format(today, 'j F Y')}",
        "taxes": "No tax is reckoned here: what is due is for the seller to add, by the law of "
        "the place.",
    }


def _rows(sale: Sale, *, held: bool) -> list[list[str]]:
    price, deposit, balance = (
        money(one, sale.currency) for one in (sale.price, sale.deposit, sale.balance)
    )
    if held:
        rows = [["Deposit, received", str(deposit)]]
        if price is not None:
            rows += [["Price agreed", str(price)], ["Left to pay", str(balance)]]
        return rows
    rows = [["Price, received", str(price)]]
    if deposit is not None:
        rows.insert(0, ["Of this as a deposit", str(deposit)])
        rows.reverse()
    return rows


def _days(sale: Sale) -> list[list[str]]:
    named = (
        ("Held since", sale.held_on),
        ("Held until", sale.held_until if sale.state == SaleState.HELD else None),
        ("Sold on", sale.sold_on),
        ("Handed over on", sale.handed_on),
    )
    return [[name, date_format(day, "j F Y")] for name, day in named if day is not None]
