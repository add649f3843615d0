"""What the pages of the stock show."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.core.paginator import Page, Paginator
from django.utils import timezone

from keeper.discretion import sees_prices
from keeper.domain.animals.queries import carried_by
from keeper.domain.book.typed import row_number
from keeper.domain.saying.spreadsheet import Cell
from keeper.domain.saying.wording import Carried
from keeper.domain.stock import queries
from keeper.domain.stock.likeness import Before
from keeper.domain.stock.money import Money, money
from keeper.domain.stock.queries import Shelf
from keeper.models import Animal, Offer, Sale, SaleState, Sheet, Trait, Word
from keeper.pages.frame.files import Table
from keeper.pages.frame.links import State

PER_PAGE = 50
_LABELS = {
    Shelf.OFFERED: "For sale",
    Shelf.HELD: "On hold",
    Shelf.HANDING: "To be handed over",
    Shelf.GONE: "Sold and gone",
    Shelf.ENDED: "Called off or returned",
}
_HEADS = (
    *("Animal", "Name", "Species", "Sex", "State", "Since", "Asked or agreed", "Deposit"),
    *("Currency", "To whom", "Held until", "Sold as"),
)


@dataclass(frozen=True)
class Asked:
    """Which list is wanted, of animals that may carry which trait."""

    shelf: Shelf
    trait: Trait | None


def asked_for(shelf: str | None, trait: str | None) -> Asked:
    """Read an address; what it names wrongly is the list of those for sale, of any trait."""
    number = row_number(trait)
    found = Trait.objects.live().filter(pk=number).first() if number is not None else None
    return Asked(Shelf(shelf) if shelf in set(Shelf) else Shelf.OFFERED, found)


@dataclass(frozen=True)
class Row:
    """An animal in a list of the stock; prices are None where they are not shown.

    Attributes:
        sum: what is asked for it, or was agreed.
        is_late: whether it is held beyond the day that was agreed.
    """

    animal: Animal
    genes: Sequence[Carried]
    offer: Offer | None
    sale: Sale | None
    sum: Money | None
    is_late: bool

    @property
    def since(self) -> date | None:
        """Since when it is so."""
        if self.sale is None:
            return self.offer.on if self.offer else self.animal.status_since
        one = self.sale
        return one.ended_on or one.handed_on or one.sold_on or one.held_on


@dataclass(frozen=True)
class Stock:
    """The page of the stock.

    Attributes:
        brought: what all of the list brought, by currency; nothing where prices are not shown.
    """

    rows: Sequence[Row]
    page: "Page[Any]"
    shelf: Shelf
    states: tuple[State, ...]
    traits: Sequence[Trait]
    trait: Trait | None
    brought: tuple[Money, ...]

    @property
    def can_sell(self) -> bool:
        """Whether those that are ticked can be held or sold together."""
        return self.shelf == Shelf.OFFERED


def stock_page(asked: Asked, number: str | None) -> Stock:
    """Return one page of a list."""
    found = _found(asked)
    counts = queries.counts()
    page = Paginator(found, PER_PAGE).get_page(number)
    gone = asked.shelf == Shelf.GONE and sees_prices()
    return Stock(
        rows=_rows(list(page)),
        page=page,
        shelf=asked.shelf,
        states=tuple(
            State(one.value, label, counts[one], one == asked.shelf)
            for one, label in _LABELS.items()
        ),
        traits=list(Trait.objects.live().select_related("species").order_by("name")),
        trait=asked.trait,
        brought=queries.brought(found) if gone else (),
    )


def _found(asked: Asked) -> Any:
    trait = asked.trait.pk if asked.trait else None
    if asked.shelf == Shelf.OFFERED:
        return queries.offered(trait)
    return queries.sales(asked.shelf, trait)


def _rows(found: Sequence[Animal | Sale]) -> list[Row]:
    animals = [one if isinstance(one, Animal) else one.animal for one in found]
    pks = [one.pk for one in animals]
    genes, offers = carried_by(pks), queries.asked_now(pks)
    today = timezone.localdate()
    rows = []
    for one, animal in zip(found, animals, strict=True):
        sale, offer = one if isinstance(one, Sale) else None, offers.get(animal.pk)
        late = sale is not None and sale.state == SaleState.HELD
        rows.append(
            Row(
                animal=animal,
                genes=[
                    gene for gene in genes.get(animal.pk, []) if gene.over_all.word != Word.ABSENT
                ],
                offer=offer,
                sale=sale,
                sum=_sum(sale, offer),
                is_late=bool(late and sale and sale.held_until and sale.held_until < today),
            )
        )
    return rows


def _sum(sale: Sale | None, offer: Offer | None) -> Money | None:
    if not sees_prices():
        return None
    if sale is not None:
        return money(sale.price, sale.currency)
    return money(offer.asked, offer.currency) if offer else None


def stock_table(asked: Asked) -> Table:
    """Return a list, all pages of it."""
    return _HEADS, _cells(asked)


def _cells(asked: Asked) -> Iterator[list[Cell]]:
    for row in _rows(list(_found(asked))):
        one, sale, prices = row.animal, row.sale, sees_prices()
        deposit = sale.deposit if sale and prices else None
        yield [
            *(one.code, one.name, one.species.name, one.get_sex_display()),
            sale.state.label if sale else one.get_status_display(),
            row.since.isoformat() if row.since else "",
            f"{row.sum.amount:f}" if row.sum else "",
            "" if deposit is None else f"{deposit:f}",
            row.sum.currency if row.sum else sale.currency if sale and prices else "",
            str(sale.buyer) if sale and sale.buyer else "",
            sale.held_until.isoformat() if sale and sale.held_until else "",
            sale.sold_as if sale else "",
        ]


# --- one animal, one sale -------------------------------------------------------------------------


@dataclass(frozen=True)
class Price:
    """What was asked from a day on, until another; None: on asking."""

    sum: Money | None
    on: date
    until: date | None


def prices(offers: Iterable[Offer]) -> list[Price]:
    """Return what was asked for an animal; nothing where prices are not shown."""
    if not sees_prices():
        return []
    return [Price(as_asked(one), one.on, one.ended_on) for one in offers]


def as_asked(offer: Offer | None) -> Money | None:
    """Return what an offer asks."""
    return money(offer.asked, offer.currency) if offer else None


@dataclass(frozen=True)
class Like:
    """What an animal like another brought: how alike, as what it was sold, when, and for what."""

    sale: Sale
    sum: Money | None
    same: int
    of: int


@dataclass(frozen=True)
class Likes:
    """The sales of animals alike, out of how many that had a price."""

    rows: Sequence[Like]
    compared: int


def alike(before: Before) -> Likes | None:
    """Return what animals alike brought; nothing where prices are not shown."""
    if not sees_prices():
        return None
    rows = [
        Like(one.sale, money(one.sale.price, one.sale.currency), one.same, one.of)
        for one in before.sales
    ]
    return Likes(rows, before.compared)


@dataclass(frozen=True)
class SalePage:
    """A sale, what it brought, its sheets, and the steps that may come next."""

    sale: Sale
    price: Money | None
    deposit: Money | None
    balance: Money | None
    sheets: Sequence[Sheet]
    steps: Sequence["Step"]

    @property
    def goes_on(self) -> bool:
        """Whether it can be sold now."""
        return self.sale.state == SaleState.HELD and not self.sale.is_withdrawn

    @property
    def has_receipt(self) -> bool:
        """Whether something was paid for it."""
        return not self.sale.is_withdrawn and not self.sale.ended_as


@dataclass(frozen=True)
class Step:
    """One step of a sale: its button, and what its page asks."""

    key: str
    label: str
    heading: str
    note: str = "Note"
    help_text: str = ""


_HAND_OVER = Step("hand-over", "Hand over", "Handed over")
_CALL_OFF = Step(
    "call-off",
    "Call off",
    "Called off",
    "Why, and what became of the deposit",
    "It is for sale again at what was asked for it, if it still was for sale.",
)
_TAKE_BACK = Step(
    "take-back",
    "It came back",
    "Returned",
    "Why, and what was given back",
    "It is kept again, in its old place: think of quarantine.",
)
TAKE_OFF = Step("take-off", "Not for sale any more", "Not for sale any more")
STEPS = {one.key: one for one in (_HAND_OVER, _CALL_OFF, _TAKE_BACK)}
_NEXT = {
    SaleState.HELD: [_CALL_OFF],
    SaleState.SOLD: [_HAND_OVER, _CALL_OFF],
    SaleState.HANDED: [_TAKE_BACK],
}


def sale_page(sale: Sale, sheets: Iterable[Sheet]) -> SalePage:
    """Return what the page of a sale shows; no sums where they are not shown."""
    shown = sees_prices()
    price, deposit, balance = (
        money(one, sale.currency) if shown else None
        for one in (sale.price, sale.deposit, sale.balance)
    )
    steps = [] if sale.is_withdrawn else _NEXT.get(sale.state, [])
    return SalePage(sale, price, deposit, balance, list(sheets), steps)
