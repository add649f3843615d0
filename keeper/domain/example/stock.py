"""Events of the example about the stock: asked for, sold, held for a buyer."""

from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from keeper import models as m
from keeper.domain.stock import writes as stock
from keeper.domain.stock.money import Money

Event = Mapping[str, Any]


class Stock:
    """Enters what is for sale and what was sold, by the codes of what was entered so far."""

    def __init__(
        self, by: m.Account, animals: dict[str, m.Animal], contacts: dict[str, m.Contact]
    ) -> None:
        self.by, self.animals, self.contacts = by, animals, contacts
        self.does: dict[str, Callable[[Event], m.DaybookEntry]] = {
            "ask": self._ask,
            "sell": self._sell,
            "hold-for": self._hold_for,
        }

    def _ask(self, event: Event) -> m.DaybookEntry:
        asked = [
            (self.animals[code], Money(Decimal(sum_), event["currency"]))
            for code, sum_ in event["sums"]
        ]
        return stock.offer(asked=asked, on=date.fromisoformat(event["on"]), by=self.by)

    def _sell(self, event: Event) -> m.DaybookEntry:
        on = date.fromisoformat(event["on"])
        sales = [
            m.Sale(
                animal=self.animals[code],
                price=Decimal(sum_),
                currency=event["currency"],
                sold_on=on,
                handed_on=on,
            )
            for code, sum_ in event["sums"]
        ]
        return stock.begin_sales(sales=sales, buyer=None, by=self.by)

    def _hold_for(self, event: Event) -> m.DaybookEntry:
        price, deposit = map(Decimal, event["sums"])
        sale = m.Sale(
            animal=self.animals[event["animal"]],
            price=price,
            deposit=deposit,
            currency=event["currency"],
            held_on=date.fromisoformat(event["on"]),
            held_until=date.fromisoformat(event["until"]),
        )
        return stock.begin_sales(sales=[sale], buyer=self.contacts[event["buyer"]], by=self.by)
