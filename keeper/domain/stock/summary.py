"""Whether one animal is for sale, on hold or sold."""

from dataclasses import dataclass

from keeper.discretion import sees_prices
from keeper.domain.stock.money import Money, money
from keeper.domain.stock.queries import open_offer, open_sale
from keeper.models import Animal, Offer, Sale, Status


@dataclass(frozen=True)
class OfAnimal:
    """What is asked for an animal, and its sale, as its page shows them.

    Attributes:
        asked: what is asked; None where nothing is, or prices are not shown.
        is_offered: whether it is for sale by its status.
    """

    offer: Offer | None
    asked: Money | None
    sale: Sale | None
    is_offered: bool


def stock_of(animal: Animal) -> OfAnimal:
    """Return it, in two queries."""
    offer = open_offer(animal)
    asked = money(offer.asked, offer.currency) if offer and sees_prices() else None
    sale = open_sale(animal)
    return OfAnimal(offer, asked, sale, animal.status == Status.OFFERED)
