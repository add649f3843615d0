"""Log-ins: the browsers that are logged in, and how to end them.

What is known of one stands in its session and goes with it: since when, from which address, with
what, by what it was proven who it is, and when it was last seen, to the hour. A session that was
begun before this was kept, or by a program, is listed without.
"""

import hashlib
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.conf import settings
from django.contrib.sessions.backends.base import SessionBase, UpdateError
from django.db import OperationalError, connection
from django.utils import timezone

from keeper.models import Account, LogIn

_SINCE, _SEEN, _WITH, _FROM, _BY = "since", "seen", "with", "from", "by"
# Told apart in this order: a browser names those that it is like as well.
_BROWSERS = (
    *(("Edg", "Edge"), ("OPR", "Opera"), ("Firefox", "Firefox"), ("FxiOS", "Firefox")),
    *(("CriOS", "Chrome"), ("Chrome", "Chrome"), ("Safari", "Safari")),
)
_SYSTEMS = (
    *(("iPhone", "an iPhone"), ("iPad", "an iPad"), ("Android", "Android")),
    *(("Windows", "Windows"), ("Mac OS", "a Mac"), ("Linux", "Linux")),
)


@dataclass(frozen=True)
class Open:
    """A browser that is logged in.

    Attributes:
        key: stands for it in a form; its cookie cannot be made of it.
        on: the browser and the system, in words; empty if not known.
        address: from where it logged in; empty if not known.
        by: what was shown to log in: “a passkey”; empty if not known.
        since, seen: when it logged in, and was last seen, to the hour.
        is_this: whether it is the one that asks.
    """

    key: str
    on: str
    address: str
    by: str
    since: datetime | None
    seen: datetime | None
    is_this: bool


def note(session: SessionBase, *, agent: str, address: str, by: str) -> None:
    """Note in a session that is being logged in where it is, and by what."""
    now = timezone.now().replace(microsecond=0).isoformat()
    session[_SINCE] = session[_SEEN] = now
    session[_WITH], session[_FROM], session[_BY] = in_words(agent), address, by


def note_seen(session: SessionBase) -> None:
    """Note that a log-in was seen, at most once an hour: each note is a write.

    Whoever reads never waits for it: while something long is written it is left for the next time.
    """
    before = _time(session.get(_SEEN))
    now = timezone.now()
    if before is None or (now - before).total_seconds() < 3600:
        return
    modified = session.modified
    session[_SEEN] = now.replace(minute=0, second=0, microsecond=0).isoformat()
    try:
        with _without_waiting():
            session.save()
    except (OperationalError, UpdateError):  # somebody is writing, or the log-in was ended
        session[_SEEN] = before.isoformat()
    session.modified = modified


@contextmanager
def _without_waiting() -> Iterator[None]:
    """Let what is written in the block fail at once where somebody else is writing."""
    if connection.in_atomic_block:
        yield
        return
    sqlite = connection.vendor == "sqlite"
    waits = settings.SQLITE_TUNING["timeout"] * 1000
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout = 0" if sqlite else "SET lock_timeout = '50ms'")
        try:
            yield
        finally:
            cursor.execute(f"PRAGMA busy_timeout = {waits}" if sqlite else "RESET lock_timeout")


def log_ins_of(account: Account, *, this: str | None) -> list[Open]:
    """Return where an account is logged in, the latest first; `this` is the key of who asks."""
    rows = LogIn.objects.filter(account=account, expire_date__gt=timezone.now())
    found = [_open(row, this) for row in rows]
    beginning = datetime.min.replace(tzinfo=timezone.get_default_timezone())
    return sorted(found, key=lambda one: one.since or beginning, reverse=True)


def end(*, account: Account, key: str) -> bool:
    """End one log-in of an account; whether there was such a one."""
    for row in LogIn.objects.filter(account=account):
        if _key(row.session_key) == key:
            row.delete()
            return True
    return False


def end_all(*, account: Account, but: str | None = None) -> int:
    """End every log-in of an account, but perhaps this one; return how many there were."""
    rows = LogIn.objects.filter(account=account)
    number, _ = (rows.exclude(session_key=but) if but else rows).delete()
    return number


def in_words(agent: str) -> str:
    """Return what a browser says of itself in a few words: “Firefox on Windows”."""
    browser = _first(_BROWSERS, agent)
    system = _first(_SYSTEMS, agent)
    return " on ".join(filter(None, (browser or ("a browser" if system else ""), system)))


def _first(names: Iterable[tuple[str, str]], agent: str) -> str:
    return next((words for name, words in names if re.search(rf"\b{name}", agent)), "")


def _open(row: LogIn, this: str | None) -> Open:
    held: dict[str, Any] = row.get_decoded()
    return Open(
        key=_key(row.session_key),
        on=str(held.get(_WITH, "")),
        address=str(held.get(_FROM, "")),
        by=str(held.get(_BY, "")),
        since=_time(held.get(_SINCE)),
        seen=_time(held.get(_SEEN)),
        is_this=row.session_key == this,
    )


def _time(said: object) -> datetime | None:
    try:
        return datetime.fromisoformat(str(said)) if said else None
    except ValueError:
        return None


def _key(session_key: str) -> str:
    return hashlib.sha256(session_key.encode()).hexdigest()[:32]
