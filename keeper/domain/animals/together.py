"""Several animals changed at once: where they are, what became of them, when to look again."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from keeper.domain.book.writing import Refused, Writing, writing
from keeper.domain.stock.money import Money
from keeper.domain.stock.writes import offer_one
from keeper.models import Account, Animal, DaybookEntry, Member, Status


@dataclass(frozen=True)
class Together:
    """What is to be so of all of them; None: as it is.

    Attributes:
        status: what became of them, and `since` when.
        place: where they are kept.
        review_on: when those that are held back are looked at again.
        asked: what is asked for each, of those that are put up for sale.
    """

    status: Status | None = None
    since: date | None = None
    place: str | None = None
    review_on: date | None = None
    asked: Money | None = None


def change_together(
    *, animals: Sequence[Animal], to: Together, by: Account, reason: str = ""
) -> DaybookEntry:
    """Change several animals in one entry; what is so already stays untouched.

    Raises:
        Refused: nothing is to change, an animal was withdrawn, or one that is not held back is to
            be looked at again.
        ValidationError: an animal is not in order.
    """
    codes = ", ".join(one.code for one in animals)
    what = f"Changed {' and '.join(_names(to)) or 'nothing'} of {codes}"
    with writing(by=by, what=what, reason=reason) as book:
        for animal in animals:
            _change(book, animal, to)
    return book.entry


def _names(to: Together) -> list[str]:
    named = {
        "status": to.status,
        "place": to.place,
        "review day": to.review_on,
        "price": to.asked,
    }
    return [name for name, value in named.items() if value is not None]


def _change(book: Writing, animal: Animal, to: Together) -> None:
    if book.now(animal).is_withdrawn:
        raise Refused(f"The record of {animal} was withdrawn. Leave it out, or restore it first.")
    if to.asked is not None:
        offer_one(book, animal, to.asked, to.since or timezone.localdate())
        animal = book.now(animal)
    elif to.status is not None:
        if animal.status != to.status or to.since is not None:
            animal.status_since = to.since
        animal.status = to.status
    if to.place is not None:
        animal.place = to.place
    book.keep(animal)
    if to.review_on is None:
        return
    held = Member.objects.live().filter(animal=animal, holdback=True, released_on=None)
    if not held:
        raise Refused(
            f"{animal} is held back for no project: there is no day to look again. Leave it out."
        )
    for member in held:
        member.review_on = to.review_on
        book.keep(member)
