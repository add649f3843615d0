"""What is for sale, on hold, to be handed over, gone, and what came back."""

from collections.abc import Iterable
from datetime import date
from enum import StrEnum

from django.db.models import Exists, OuterRef, Q, QuerySet

from keeper.domain.stock.money import Money, money, totals
from keeper.models import Animal, Offer, Sale, Sheet, Standing, Status, Word


class Shelf(StrEnum):
    """The lists of the stock."""

    OFFERED = "for-sale"
    HELD = "on-hold"
    HANDING = "to-hand-over"
    GONE = "sold"
    ENDED = "ended"


_OPEN = Q(withdrawn_at=None, ended_on=None)
_SALES = {
    Shelf.HELD: _OPEN & Q(sold_on=None),
    Shelf.HANDING: _OPEN & Q(sold_on__isnull=False, handed_on=None),
    Shelf.GONE: _OPEN & Q(handed_on__isnull=False),
    Shelf.ENDED: Q(withdrawn_at=None, ended_on__isnull=False),
}
_ORDERS = {
    Shelf.HELD: ("held_until", "held_on", "pk"),
    Shelf.HANDING: ("sold_on", "pk"),
    Shelf.GONE: ("-handed_on", "-pk"),
    Shelf.ENDED: ("-ended_on", "-pk"),
}


def offered(trait: int | None = None) -> QuerySet[Animal]:
    """Return the animals that are for sale and on hold for nobody; that may carry a trait."""
    rows: QuerySet[Animal] = Animal.objects.live().filter(status=Status.OFFERED)
    if trait is not None:
        rows = rows.filter(_may_carry(trait, "pk"))
    return rows.select_related("species").order_by("code")


def sales(shelf: Shelf, trait: int | None = None) -> QuerySet[Sale]:
    """Return the sales of a list; of animals that may carry a trait."""
    rows: QuerySet[Sale] = Sale.objects.filter(_SALES[shelf])
    if trait is not None:
        rows = rows.filter(_may_carry(trait, "animal"))
    return rows.select_related("animal__species", "buyer").order_by(*_ORDERS[shelf])


def run_out(today: date) -> QuerySet[Sale]:
    """Return the holds whose last day is over, the longest first."""
    return sales(Shelf.HELD).filter(held_until__lt=today)


def _may_carry(trait: int, animal: str) -> Exists:
    rows = Standing.objects.filter(animal=OuterRef(animal), trait=trait, line=None)
    return Exists(rows.exclude(word=Word.ABSENT).exclude(none=1))


def counts() -> dict[Shelf, int]:
    """Return how many stand in each list."""
    found = {shelf: Sale.objects.filter(which).count() for shelf, which in _SALES.items()}
    return {Shelf.OFFERED: offered().count(), **found}


def brought(rows: Iterable[Sale]) -> tuple[Money, ...]:
    """Return what sales brought, by currency, exactly."""
    return totals(money(one.price, one.currency) for one in rows)


def asked_now(animals: Iterable[int]) -> dict[int, Offer]:
    """Return what is asked for animals, of those that are for sale."""
    rows = Offer.objects.live().filter(animal__in=list(animals), ended_on=None)
    return {one.animal_id: one for one in rows}


def asked_before(animal: Animal) -> QuerySet[Offer]:
    """Return what was ever asked for an animal, the newest first."""
    rows: QuerySet[Offer] = Offer.objects.live().filter(animal=animal)
    return rows.order_by("-on", "-pk")


def open_sales(animals: Iterable[int]) -> dict[int, Sale]:
    """Return the sales of animals that neither were called off nor came back."""
    rows = Sale.objects.live().filter(animal__in=list(animals), ended_on=None)
    return {one.animal_id: one for one in rows.select_related("buyer")}


def open_offer(animal: Animal) -> Offer | None:
    """Return what is asked for an animal, if it is for sale."""
    return asked_now([animal.pk]).get(animal.pk)


def open_sale(animal: Animal) -> Sale | None:
    """Return the sale of an animal that neither was called off nor came back."""
    return open_sales([animal.pk]).get(animal.pk)


def sheets_for(sale: Sale) -> QuerySet[Sheet]:
    """Return the sheets of the animal that were issued to this buyer, the newest first."""
    rows: QuerySet[Sheet] = Sheet.objects.live().filter(animal=sale.animal_id)
    return rows.filter(buyer=sale.buyer_id).order_by("-pk")


def last_currency() -> str:
    """Return the currency that was written last; nothing in a book without any."""
    for model in (Sale, Offer):
        last = model.objects.exclude(currency="").order_by("-pk").values_list("currency", flat=True)
        if (code := last.first()) is not None:
            return str(code)
    return ""
