"""Copies made while whoever asked for one goes on: by hand and on schedule."""

from typing import Any

from keeper.domain.background import jobs
from keeper.domain.background.kinds import COPY, Tell
from keeper.domain.backups import making, shelf
from keeper.domain.book.refusing import Refused
from keeper.models import Job

_BY_HAND, _ON_SCHEDULE = "by hand", "on schedule"
_DOING = "A copy of the book is made and checked"


def begin() -> Job:
    """Begin to make a copy because somebody asks for one; else the one that is being made."""
    try:
        return jobs.begin(COPY, given={"why": _BY_HAND})
    except Refused:
        other = jobs.under_way(COPY)
        if other is None:  # it has ended this moment
            raise
        return other


def of(number: str) -> Job | None:
    """Return the copy's job of this number; without one, that which is under way."""
    if number.isdecimal():
        return Job.objects.filter(kind=COPY, pk=int(number[:18])).first()
    return jobs.under_way(COPY)


def begin_if_due() -> Job | None:
    """Begin one if it is due by the clock and none is being made."""
    if not shelf.read().is_due() or not making.holds_anything():
        return None
    try:
        return jobs.begin(COPY, given={"why": _ON_SCHEDULE})
    except Refused:
        return None


def work(given: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """Make one. Raises `NotMade`: it stands on the shelf too, and on Today."""
    tell(_DOING)
    made = making.make_if_due() if given["why"] == _ON_SCHEDULE else making.make(_BY_HAND)
    return {"folders": list(made.folders)} if made is not None else {}
