"""What a write would move, before it is kept: it is written, looked at, and taken back.

    outcome = tried(lambda: placing.decide_pair(...), confirmed="confirmed" in request.POST)
    if isinstance(outcome, Preview): show it, and ask whether to save

Standings are computed exactly as if it were saved, so what is shown is what will be.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.db import transaction

from keeper.domain.book.daybook import Moved, moved_by
from keeper.models import Animal, DaybookEntry, Dispute, Sheet, StandingChange


@dataclass(frozen=True)
class Preview:
    """What a write would do.

    Attributes:
        moved: the numbers that it would move, the weightiest first.
        animals: the animals whose numbers those are, by code.
        sheets: the sheets in buyers' hands of these animals, newest first.
        opened, closed: disputes that would begin and end, in words.
    """

    moved: Moved
    animals: tuple[Animal, ...]
    sheets: tuple[Sheet, ...]
    opened: tuple[str, ...]
    closed: tuple[str, ...]

    @property
    def is_empty(self) -> bool:
        """Whether no number would move and no dispute would begin or end."""
        return not (self.moved.count or self.opened or self.closed)


class _TakenBack(Exception):
    def __init__(self, preview: Preview) -> None:
        self.preview = preview


def preview(write: Callable[[], DaybookEntry]) -> Preview:
    """Return what a write would move; nothing of it is kept.

    Rows that `write` makes have an id afterwards that does not exist: make them anew to save.

    Raises:
        ValidationError, Refused: as the write itself.
    """
    found = tried(write, confirmed=False, always=True)
    assert isinstance(found, Preview)
    return found


def tried(
    write: Callable[[], DaybookEntry], *, confirmed: bool, always: bool = False
) -> DaybookEntry | Preview:
    """Write, and take it back if it moves a number and is not `confirmed` (or if `always`).

    Raises:
        ValidationError, Refused: as the write itself; nothing is kept.
    """
    try:
        with transaction.atomic():
            entry = write()
            if not confirmed:
                found = _preview(entry)
                if always or not found.is_empty:
                    raise _TakenBack(found)
    except _TakenBack as taken:
        return taken.preview
    return entry


def _preview(entry: DaybookEntry) -> Preview:
    moved = StandingChange.objects.filter(entry=entry).order_by()
    animals = Animal.objects.filter(pk__in=moved.values("animal")).order_by("code")
    sheets = Sheet.objects.live().filter(animal__in=moved.values("animal"))
    return Preview(
        moved_by(entry, shown=20),
        tuple(animals),
        tuple(sheets.select_related("animal", "buyer")),
        _words(Dispute.objects.filter(opened=entry)),
        _words(Dispute.objects.filter(closed=entry)),
    )


def _words(disputes: Iterable[Dispute]) -> tuple[str, ...]:
    return tuple(str(one) for one in disputes)
