"""The public page of what is for sale: switched on by the owner, made at a moment, of no person.

What it says of an animal is the text of its listing, made for a reader who may know of nobody; the
seller's own name and how to reach them is theirs to tell. An animal that is not for sale any more
is left out at once; what else changed since stands there once the page is made anew.
"""

from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from keeper.domain.book.writing import Refused, writing
from keeper.domain.sheets.addresses import new_code
from keeper.domain.sheets.listing import listing
from keeper.domain.stock.money import money
from keeper.domain.stock.queries import asked_now, offered
from keeper.models import Account, DaybookEntry, StockPage

# So many animals at the most: each costs about as much as a sheet.
MOST = 200


@dataclass(frozen=True)
class OnOffer:
    """One animal as the public page shows it."""

    code: str
    lines: tuple[str, ...]
    asked: str


@dataclass(frozen=True)
class PublicStock:
    """The public page.

    Attributes:
        seller, reach: who offers, and how they are reached.
        made_at: when what it shows was taken from the book.
    """

    seller: str
    reach: str
    made_at: datetime
    animals: tuple[OnOffer, ...]

    @property
    def as_of(self) -> date:
        """The day of which it tells."""
        return timezone.localdate(self.made_at)


def page() -> StockPage | None:
    """Return the page if it is switched on."""
    return StockPage.objects.first()


def make(*, prices: bool, by: Account) -> DaybookEntry:
    """Switch the page on, or make it anew at the address it has.

    Raises:
        Refused: more is for sale than a page holds.
    """
    with writing(by=by, what="Made the public stock page", of_records=False) as book:
        animals = list(offered()[: MOST + 1])
        if len(animals) > MOST:
            raise Refused(f"More than {MOST} animals are for sale. Take some off sale first.")
        asked = asked_now(one.pk for one in animals) if prices else {}
        rows = []
        for one in animals:
            offer = asked.get(one.pk)
            sum_ = money(offer.asked, offer.currency) if offer else None
            lines = listing(one, by=by).full.split("\n")
            rows.append({"animal": one.pk, "code": one.code, "lines": lines,
                         "asked": str(sum_ or "")})  # fmt: skip
        before = page()
        StockPage.objects.update_or_create(
            id=1,
            defaults={
                "code": before.code if before else new_code(),
                "made_at": book.entry.at,
                "prices": prices,
                "content": {"seller": by.name, "reach": by.reach, "animals": rows},
            },
        )
    return book.entry


def switch_off(*, by: Account) -> DaybookEntry:
    """Switch the page off; its address leads nowhere from then on, and is never used again.

    Raises:
        Refused: it is off.
    """
    what = "Switched the public stock page off"
    with writing(by=by, what=what, of_records=False) as book:
        gone, _ = StockPage.objects.all().delete()
        if not gone:
            raise Refused("It is off already: nothing is left to do.")
    return book.entry


def shown(found: StockPage) -> PublicStock:
    """Return what the page says of those that are for sale still."""
    still = set(offered().order_by().values_list("pk", flat=True))
    content = found.content or {"seller": "", "reach": "", "animals": []}
    rows = [one for one in content["animals"] if one["animal"] in still]
    animals = (OnOffer(one["code"], tuple(one["lines"]), one["asked"]) for one in rows)
    return PublicStock(content["seller"], content["reach"], found.made_at, tuple(animals))
