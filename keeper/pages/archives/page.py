"""What the pages of archives print."""

from dataclasses import dataclass
from datetime import datetime

from keeper.domain.archives.manifest import LeftOut, Manifest
from keeper.domain.archives.opening import Opened
from keeper.domain.saying.counts import how_many

# Differences told one by one.
_MOST = 5


@dataclass(frozen=True)
class Inside:
    """What an archive holds, before it is opened."""

    made_at: datetime
    program: str
    animals: int
    clutches: int
    entries: int
    sheets: int
    pictures: int
    last: tuple[str, datetime] | None
    missing: tuple[str, ...]
    left_out: tuple[LeftOut, ...]


def inside(found: Manifest) -> Inside:
    """Return what a manifest says, as it is read out."""
    last = found.last_entry
    return Inside(
        made_at=datetime.fromisoformat(found.made_at),
        program=found.program,
        animals=found.rows("animal"),
        clutches=found.rows("clutch"),
        entries=found.rows("daybookentry"),
        sheets=found.rows("sheet"),
        pictures=len(found.pictures),
        last=None if last is None else (last[0], datetime.fromisoformat(last[1])),
        missing=found.missing,
        left_out=found.left_out,
    )


def told(opened: Opened) -> list[str]:
    """What came of opening an archive beside the book itself, a sentence each."""
    found = []
    if opened.helpers:
        names = ", ".join(opened.helpers)
        found.append(
            f"Helpers are switched off until you let them in: {names}. Give each a new password "
            "under Accounts and switch them on."
        )
    if opened.differences:
        some = "; ".join(
            f"{one.animal} {one.trait}: stored {one.stored}, worked out {one.computed}"
            for one in opened.differences[:_MOST]
        )
        found.append(
            f"{how_many(len(opened.differences), 'figure')} of the archive would be worked out "
            f"otherwise by this program, and stand as they came: {some}. "
            "`manage.py recompute` lists all and puts them right."
        )
    return found
