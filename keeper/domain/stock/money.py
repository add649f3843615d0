"""Sums of money: exact, each with its currency; those of two currencies are never added."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class Money:
    """A sum in a currency (ISO 4217).

    >>> str(Money(Decimal("250.00"), "EUR")), str(Money(Decimal("1249.50"), "EUR"))
    ('250 EUR', '1\\u202f249.50 EUR')
    """

    amount: Decimal
    currency: str

    def __str__(self) -> str:
        whole = self.amount == self.amount.to_integral_value()
        figures = f"{self.amount:,.0f}" if whole else f"{self.amount:,.2f}"
        return f"{figures.replace(',', chr(0x202F))} {self.currency}"


def money(amount: Decimal | None, currency: str) -> Money | None:
    """Return a sum, or None where none is said."""
    return None if amount is None else Money(amount, currency)


def totals(sums: Iterable[Money | None]) -> tuple[Money, ...]:
    """Return the sum of each currency, by its code."""
    found: dict[str, Decimal] = {}
    for one in sums:
        if one is not None:
            found[one.currency] = found.get(one.currency, Decimal(0)) + one.amount
    return tuple(Money(amount, code) for code, amount in sorted(found.items()))
