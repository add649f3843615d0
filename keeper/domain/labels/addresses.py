"""Under which address of the book a label's code leads to it, and which record that is of.

A label is about for years, so its address is a name that stays: never a number that a network gives
out anew, where the book has a name.
"""

from ipaddress import ip_address
from urllib.parse import urlsplit
from uuid import UUID

from django.conf import settings

from keeper.models import Animal, Clutch, Label, Place, Record
from keeper.serving.addresses import LOOPBACK

# The word of an address, and what it is of.
KINDS: dict[str, type[Record]] = {"a": Animal, "c": Clutch, "p": Place}
# So much of a record's identity stands in its address: 48 of 122 random bits.
_DIGITS = 12
_BITS_LEFT = 128 - 4 * _DIGITS


def offered(now: str) -> list[str]:
    """Return the addresses that labels can be printed for, the best first.

    Args:
        now: the origin under which the book was asked, such as https://book.local:8443.

    Names that the book answers to come first, numbers only where there is no name; this machine's
    own word for itself, which no phone can follow, only where there is nothing else.
    """
    parts = urlsplit(now)
    asked, port = parts.hostname or "", f":{parts.port}" if parts.port else ""
    local = list(getattr(settings, "LAN_NAMES", ()))
    known = [one for one in settings.ALLOWED_HOSTS if not one.startswith((".", "*"))]
    names = [one for one in (asked, *local, *known) if is_name(one)]
    return [f"{parts.scheme}://{one}{port}" for one in dict.fromkeys(names)] or [now]


def is_name(host: str) -> bool:
    """Whether a host is told by a name that other devices can ask for."""
    if not host or host in LOOPBACK or ":" in host:
        return False
    try:
        ip_address(host)
    except ValueError:
        return True
    return False


def is_here_alone(address: str) -> bool:
    """Whether an address leads to the book on this machine alone."""
    return urlsplit(address).hostname in LOOPBACK


def path_of(label: Label) -> str:
    """Return where in the book a label leads: to its record, by its kind and its identity."""
    subject = label.animal or label.place or label.clutch
    assert subject is not None  # the database keeps it
    kind = next(word for word, model in KINDS.items() if isinstance(subject, model))
    tub = f"{label.tub}/" if label.tub is not None else ""
    return f"/at/{kind}/{mark_of(subject.identity)}/{tub}"


def mark_of(identity: UUID) -> str:
    """Return what stands for an identity in an address.

    >>> mark_of(UUID("3f9c1a2b7d0441e08a2b0c1d2e3f4a5b"))
    '3f9c1a2b7d04'
    """
    return identity.hex[:_DIGITS]


def subject_of(kind: str, mark: str) -> Record | None:
    """Return the record that an address names, withdrawn or not; None: none of this book."""
    model = KINDS.get(kind)
    if model is None or len(mark) != _DIGITS or not set(mark) <= set("0123456789abcdef"):
        return None
    least = int(mark, 16) << _BITS_LEFT
    most = least | ((1 << _BITS_LEFT) - 1)
    bounds = {"identity__gte": UUID(int=least), "identity__lte": UUID(int=most)}
    found = list(model.objects.filter(**bounds)[:2])
    return found[0] if len(found) == 1 else None
