"""Which copies are kept: the last ones, then one a week, then one a month."""

from collections.abc import Callable, Hashable, Iterable, Sequence
from datetime import datetime
from typing import TypeVar

Key = TypeVar("Key", bound=Hashable)


def kept(moments: Iterable[datetime], *, last: int, weeks: int, months: int) -> set[datetime]:
    """Return which of these copies stay; there is always the newest among them.

    The last so many, the newest of each of as many days (many on one day must not push out those of
    the days before), and the newest of each of so many weeks and months in which there is one.
    """
    newest = sorted(set(moments), reverse=True)
    return {
        *newest[: max(last, 1)],
        *_first_of(newest, lambda at: at.date(), last),
        *_first_of(newest, lambda at: at.isocalendar()[:2], weeks),
        *_first_of(newest, lambda at: (at.year, at.month), months),
    }


def _first_of(
    newest: Sequence[datetime], span: Callable[[datetime], Key], count: int
) -> list[datetime]:
    found: dict[Key, datetime] = {}
    for at in newest:
        found.setdefault(span(at), at)
    return list(found.values())[:count]
