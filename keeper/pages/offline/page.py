"""What the pages of work without a connection show, and what is told to a device."""

from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpRequest
from django.urls import reverse

from keeper.domain.book.submission import entries_by_token
from keeper.domain.labels.addresses import is_here_alone, is_name, offered
from keeper.domain.offline import readers
from keeper.domain.offline.listed import KINDS
from keeper.domain.places import queries as places
from keeper.models import Account

# So many rounds are read ahead at most: one is a page of a rack.
_MOST_ROUNDS = 60
_MOST_TOKENS = 200


@dataclass(frozen=True)
class Device:
    """The device that asks: what it keeps, and under which address of the book.

    Attributes:
        is_asked: whether it was asked to keep pages for whoever is logged in.
        kinds: what is kept, each with what that is.
        address: under which it asked.
        better: an address that stays, where this one is a number that a network gives out anew.
        here_alone: whether the address leads to the book on this machine alone.
    """

    is_asked: bool
    kinds: tuple[tuple[str, str], ...]
    address: str
    better: str
    here_alone: bool


def device(request: HttpRequest, who: Account) -> Device:
    """Return what the page of a device shows."""
    address = f"{request.scheme}://{request.get_host()}"
    asked = readers.asked_for(request.COOKIES.get(readers.COOKIE, ""))
    return Device(
        is_asked=readers.mark(who) in asked,
        kinds=tuple((kind, said) for kind, said, _ in KINDS),
        address=address,
        better=better_than(address),
        here_alone=is_here_alone(address),
    )


def better_than(address: str) -> str:
    """Return the address that stays, if this is not one; nothing if it is, or there is none."""
    best = offered(address)[0]
    host = best.split("://")[-1].split(":")[0]
    return best if best != address and is_name(host) and not is_here_alone(address) else ""


def read_ahead(who: Account) -> list[str]:
    """Return the addresses that a device reads before they are needed."""
    rounds = reverse("animals-round")
    spots = [spot for root in places.tree() for spot in root.walk()]
    taken = [one for one in spots if one.count and (one.parts or one.place.within_id is None)]
    asked: list[dict[str, object]] = [{"place": one.place.pk} for one in taken]
    asked += [{"within": one.rack} for one in places.written_only()]
    reads = ["home", "home-self-waiting", "home-due"]
    writes = ["animals-round", "clutches-new", "home-due-new"] if who.may_write else []
    over = [f"{rounds}?{urlencode(one)}" for one in asked[:_MOST_ROUNDS]] if who.may_write else []
    return [*map(reverse, reads + writes), *over]


def in_the_book(sent: str) -> dict[str, str]:
    """Return of these tokens those that are in the book, each with where its entry is read."""
    tokens = [one for one in sent.split(",") if one][:_MOST_TOKENS]
    return {
        token: reverse("daybook-entry", args=[pk]) for token, pk in entries_by_token(tokens).items()
    }
