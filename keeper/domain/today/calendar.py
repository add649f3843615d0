"""A calendar of what is due, for whoever has its secret address (RFC 5545).

The app sends nothing anywhere: a calendar asks at this address, so only a device that reaches the
book can read it. The secret is told once; the book keeps a digest, from which it cannot be made.
"""

import hashlib
import secrets
from collections.abc import Callable
from datetime import date, timedelta

from django.utils import timezone
from icalendar import Calendar, Event

from keeper import NAME
from keeper.discretion import without_names
from keeper.domain.book.writing import Refused, writing
from keeper.domain.today.duties import Duty, duties
from keeper.models import Account, Book, CalendarFeed, DaybookEntry

REACHED = (
    "Only a device that reaches the book can read this calendar: it is asked for where the book "
    "runs, and nothing is sent anywhere else."
)


def make_address(*, account: Account) -> str:
    """Make a new secret for an account's calendar; return it, told this once.

    One that was made before is worth nothing from then on.
    """
    token = secrets.token_urlsafe(24)
    with writing(by=account, what=f"{account.name}: a new calendar address", of_records=False):
        CalendarFeed.objects.filter(account=account).delete()
        CalendarFeed.objects.create(account=account, digest=_digest(token))
    return token


def switch_off(*, account: Account) -> DaybookEntry:
    """Let nobody read an account's calendar any more.

    Raises:
        Refused: it has no address.
    """
    what = f"{account.name}: the calendar is off"
    with writing(by=account, what=what, of_records=False) as book:
        there, _ = CalendarFeed.objects.filter(account=account).delete()
        if not there:
            raise Refused("It is off already. Make an address if you want one.")
    return book.entry


def feed_of(account: Account) -> CalendarFeed | None:
    """Return the calendar of an account; None: it is off."""
    return CalendarFeed.objects.filter(account=account).first()


def account_of(token: str) -> Account | None:
    """Return whose calendar has this secret; None: nobody's, or of somebody who was let out."""
    found = CalendarFeed.objects.filter(digest=_digest(token), account__is_active=True)
    feed = found.select_related("account").first()
    return feed.account if feed else None


def calendar(today: date, *, address: Callable[[Duty], str]) -> bytes:
    """Return what is due as a calendar, for whoever reads (`keeper.discretion`).

    Each is an event of whole days. What was put off stands on the day on which it comes again, and
    what is late on its own. `address` says where in the book a duty stands.
    """
    made = Calendar()
    made.add("prodid", f"-//{NAME}//what is due//EN")
    made.add("version", "2.0")
    made.add("method", "PUBLISH")
    made.add("x-wr-calname", f"{NAME}: what is due")
    made.add("x-wr-caldesc", REACHED)
    epoch = Book.objects.values_list("epoch", flat=True).first() or NAME
    for one in duties(today):
        made.add_component(_event(one, today, f"{one.key}@{epoch}", address(one)))
    return bytes(made.to_ical())


def _event(one: Duty, today: date, uid: str, address: str) -> Event:
    event = Event()
    low, high = one.low, one.high
    if one.until is not None and one.is_put_off(today):
        low = high = one.until
    of = f"{one.about}: " if one.about else ""
    late = "late: " if one.high < today and not one.is_put_off(today) else ""
    event.add("uid", uid)
    event.add("dtstamp", timezone.now())
    event.add("summary", without_names(f"{late}{of}{one.what}"))
    event.add("dtstart", low)
    # The day after the last: the end of an event is not a part of it.
    event.add("dtend", high + timedelta(days=1))
    event.add("transp", "TRANSPARENT")
    if one.place:
        event.add("location", one.place)
    words = [one.ground, f"{one.person} does it." if one.person else "", address, REACHED]
    event.add("description", without_names("\n".join(filter(None, words))))
    return event


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
