"""Stock: asked for, held, sold, handed over, called off, returned. Each step is one entry.

An animal's status follows: for sale while something is asked for it, on hold from the deposit to
the day it goes, sold from that day, kept again if it comes back.
"""

from collections.abc import Callable, Sequence
from datetime import date

from django.utils import timezone

from keeper.domain.book.writing import Refused, Writing, about, writing
from keeper.domain.sheets.listing import listing
from keeper.domain.stock.likeness import genes_of
from keeper.domain.stock.money import Money
from keeper.domain.stock.queries import open_offer, open_sale
from keeper.models import (
    Account,
    Animal,
    Contact,
    DaybookEntry,
    Member,
    Offer,
    Sale,
    SaleEnd,
    SaleState,
    Status,
)

_GONE = {Status.SOLD: "was sold", Status.DIED: "died", Status.LENT: "is on loan"}


def offer(
    *,
    asked: Sequence[tuple[Animal, Money | None]],
    on: date,
    by: Account,
    reason: str = "",
) -> DaybookEntry:
    """Put animals up for sale, or ask another price of those that are; no price: on asking.

    Raises:
        Refused: an animal is not here, or somebody has it on hold.
        NothingChanged: that is asked for all of them already.
        Questioned: one is held back for a project.
    """
    animals = [animal for animal, _ in asked]
    with writing(by=by, what=f"For sale: {_codes(animals)}", reason=reason) as book:
        _about_one(book, animals)
        for animal, price in asked:
            offer_one(book, animal, price, on)
    return book.entry


def offer_one(book: Writing, animal: Animal, asked: Money | None, on: date) -> None:
    """Put one animal up for sale in an entry, at a price from a day on.

    Raises:
        Refused, Questioned: as `offer`.
    """
    now = _here(book, animal)
    if open_sale(animal) is not None:
        raise Refused(f"{animal} is held for somebody or sold. Call that off first.")
    book.ask(_held_back(animal))
    before = open_offer(animal)
    amount, currency = (asked.amount, asked.currency) if asked else (None, "")
    if before is not None and (before.asked, before.currency) == (amount, currency):
        return
    if before is not None and on < before.on:
        raise Refused(
            f"What is asked for {animal} now is asked since {before.on:%-d %B %Y}. "
            "Choose that day or a later one."
        )
    if before is not None:
        before.ended_on = on
        book.keep(before)
    book.keep(Offer(animal=animal, asked=amount, currency=currency, on=on))
    _becomes(book, now, Status.OFFERED, on)


def take_off(*, animal: Animal, on: date, by: Account, reason: str = "") -> DaybookEntry:
    """Offer an animal no longer.

    Raises:
        Refused: it is not for sale, or on hold.
    """
    with writing(
        by=by, what=f"Not for sale any more: {animal}", reason=reason, subject=animal
    ) as book:
        now = book.now(animal)
        if open_sale(animal) is not None:
            raise Refused(f"{animal} is held for somebody or sold. Call that off first.")
        before = open_offer(animal)
        if before is None and now.status != Status.OFFERED:
            raise Refused(f"{animal} is not for sale. Look at its page for what became of it.")
        if before is not None:
            before.ended_on = on
            book.keep(before)
        _becomes(book, now, Status.KEPT, on)
    return book.entry


def begin_sales(
    *, sales: Sequence[Sale], buyer: Contact | None, by: Account, reason: str = ""
) -> DaybookEntry:
    """Hold animals for one buyer, or sell them; of one that is on hold the sale goes on.

    `buyer` is a contact who is new to the book, if it is not the one that the sales name. What they
    are sold as is noted here.

    Raises:
        Refused: an animal is not here, or somebody else has it on hold.
        ValidationError: sums or days are not in order.
        Questioned: one is held back for a project.
    """
    animals = [one.animal for one in sales]
    verb = {SaleState.HELD: "On hold", SaleState.SOLD: "Sold"}.get(sales[0].state, "Sold and gone")
    with writing(by=by, what=f"{verb}: {_codes(animals)}", reason=reason) as book:
        _about_one(book, animals)
        new = book.keep(buyer) if buyer is not None and buyer.pk is None else buyer
        for sale in sales:
            if new is not None:
                sale.buyer = new
            _begin(book, sale, by)
    return book.entry


def _begin(book: Writing, sale: Sale, by: Account) -> None:
    animal = _here(book, sale.animal)
    if sale.pk is not None:
        _refuse_ended(book.now(sale))
    open_ = open_sale(animal)
    if open_ is not None and open_.pk != sale.pk:
        raise Refused(
            f"{animal} is held for somebody or sold already. Look at that sale, and go on from it."
        )
    book.ask(_held_back(animal))
    _word(sale, by)
    book.keep(sale)
    _follow(book, sale)


def _refuse_ended(now: Sale) -> None:
    if now.is_withdrawn:
        raise Refused(f"The sale of {now.animal} was withdrawn. Restore it first.")
    if now.ended_on is not None or now.handed_on is not None:
        raise Refused(f"The sale of {now.animal} is {now.state.label} by now. Look at it again.")


def _word(sale: Sale, by: Account) -> None:
    """Keep as what an animal was sold, in the words of the day on which that is written."""
    if sale.sold_on and not sale.sold_as:
        sale.sold_as = listing(sale.animal, by=by).short
        sale.genes = [list(one) for one in genes_of(sale.animal)]


def hand_over(*, sale: Sale, on: date, by: Account, reason: str = "") -> DaybookEntry:
    """Note that a sold animal went to its buyer."""

    def step(now: Sale) -> None:
        if now.state != SaleState.SOLD:
            raise Refused(
                f"{now.animal} is {now.state.label}. Enter first on which day it was sold."
            )
        if Animal.objects.get(pk=now.animal_id).status == Status.DIED:
            raise Refused(f"{now.animal} died, by its status. Call the sale off.")
        now.handed_on = on

    return _stepped(sale, step, "Handed over", by, reason)


def call_off(*, sale: Sale, on: date, note: str, by: Account) -> DaybookEntry:
    """End a hold, or a sale before the animal went; it is for sale again if it still was."""

    def step(now: Sale) -> None:
        if now.state not in {SaleState.HELD, SaleState.SOLD}:
            raise Refused(f"{now.animal} is {now.state.label}. If it came back, enter that.")
        now.ended_on, now.ended_as = on, SaleEnd.CALLED_OFF
        now.note = note or now.note

    return _stepped(sale, step, "Called off the sale of", by, note)


def take_back(*, sale: Sale, on: date, note: str, by: Account) -> DaybookEntry:
    """Note that an animal came back from its buyer."""

    def step(now: Sale) -> None:
        if now.state != SaleState.HANDED:
            raise Refused(f"{now.animal} is {now.state.label}. Enter first on which day it went.")
        now.ended_on, now.ended_as = on, SaleEnd.RETURNED
        now.note = note or now.note

    return _stepped(sale, step, "Returned:", by, note)


def change(
    *, sale: Sale, by: Account, buyer: Contact | None = None, reason: str = ""
) -> DaybookEntry:
    """Correct a sale that was changed in memory; the animal's status follows."""
    what = f"Corrected the sale of {sale.animal}"
    with writing(by=by, what=what, reason=reason, subject=sale.animal) as book:
        if book.now(sale).is_withdrawn:
            raise Refused(f"The sale of {sale.animal} was withdrawn. Restore it first.")
        if buyer is not None:
            sale.buyer = book.keep(buyer)
        _word(sale, by)
        book.keep(sale)
        if sale.pk == _last_of(sale.animal):
            _follow(book, sale)
    return book.entry


def withdraw(*, sale: Sale, by: Account, reason: str) -> DaybookEntry:
    """Take a sale out of the account that never was.

    Raises:
        Refused: it was withdrawn already.
    """
    what = f"Withdrew the sale of {sale.animal}"
    with writing(by=by, what=what, reason=reason, subject=sale.animal) as book:
        last = sale.pk == _last_of(sale.animal)
        book.withdraw(sale, reason=reason)
        if last:
            _back(book, book.now(sale.animal), timezone.localdate(book.entry.at))
    return book.entry


def restore(*, sale: Sale, by: Account) -> DaybookEntry:
    """Let a withdrawn sale count again; the animal's status follows if it is the last of it.

    Raises:
        Refused: it counts already.
        ValidationError: the animal is held for somebody or sold by now.
    """
    what = f"Restored the sale of {sale.animal}"
    with writing(by=by, what=what, subject=sale.animal) as book:
        book.restore(sale)
        if sale.pk == _last_of(sale.animal):
            _follow(book, sale)
    return book.entry


# --- what follows ---------------------------------------------------------------------------------


def _stepped(
    sale: Sale, step: Callable[[Sale], None], what: str, by: Account, reason: str
) -> DaybookEntry:
    said = f"{what} {sale.animal}"
    with writing(by=by, what=said, reason=reason, subject=sale.animal) as book:
        now = book.now(sale)
        if now.is_withdrawn:
            raise Refused(f"The sale of {now.animal} was withdrawn. Restore it first.")
        step(now)
        book.keep(now)
        _follow(book, now)
    return book.entry


def _follow(book: Writing, sale: Sale) -> None:
    """Let the animal's status, and what is asked for it, follow its sale."""
    animal = book.now(sale.animal)
    match sale.state:
        case SaleState.HELD:
            _becomes(book, animal, Status.HELD, sale.held_on)
        case SaleState.SOLD:
            _end_offer(book, animal, sale.sold_on)
            _becomes(book, animal, Status.HELD, sale.held_on or sale.sold_on)
        case SaleState.HANDED:
            _end_offer(book, animal, sale.sold_on)
            _becomes(book, animal, Status.SOLD, sale.handed_on)
        case SaleState.CALLED_OFF | SaleState.RETURNED:
            _back(book, animal, sale.ended_on)


def _back(book: Writing, animal: Animal, on: date | None) -> None:
    """Let an animal be what it is without the sale."""
    if animal.status in {Status.HELD, Status.SOLD}:
        _becomes(
            book,
            animal,
            Status.OFFERED if open_offer(animal) else Status.KEPT,
            on,
        )


def _becomes(book: Writing, animal: Animal, status: Status, since: date | None) -> None:
    if animal.status in {status, Status.DIED}:
        return
    animal.status, animal.status_since = status, since
    book.keep(animal)


def _end_offer(book: Writing, animal: Animal, on: date | None) -> None:
    before = open_offer(animal)
    if before is not None and on is not None:
        before.ended_on = max(on, before.on)
        book.keep(before)


def _here(book: Writing, animal: Animal) -> Animal:
    """Return the animal as it is now.

    Raises:
        Refused: it was withdrawn, or is not here.
    """
    now = book.now(animal)
    if now.is_withdrawn:
        raise Refused(f"The record of {now} was withdrawn. Leave it out, or restore it first.")
    if (why := _GONE.get(Status(now.status))) is not None:
        raise Refused(f"{now} {why}, by its status. Change that first, if it is here.")
    return now


def _held_back(animal: Animal) -> list[str]:
    held = Member.objects.live().filter(animal=animal, holdback=True, released_on=None)
    return [
        f"{animal} is held back for {one.project}. Is it for sale all the same?"
        for one in held.select_related("project")
    ]


def _last_of(animal: Animal) -> int | None:
    last: int | None = (
        Sale.objects.live().filter(animal=animal).order_by("-pk").values_list("pk", flat=True)
    ).first()
    return last


def _codes(animals: Sequence[Animal]) -> str:
    return ", ".join(one.code for one in animals)


def _about_one(book: Writing, animals: Sequence[Animal]) -> None:
    if len(animals) == 1:
        about(book.entry, animals[0])
