"""What a write would move, before it is kept: it is tried on aside and looked at.

    outcome = tried(lambda: placing.decide_pair(...), seen=request.POST.get("seen", ""))
    if isinstance(outcome, Preview): show it, and ask whether to save, with `seen` its digest

Standings are computed exactly as if it were saved, so what is shown is what will be. It is saved
once what it would do is what was seen, and shown anew if the book has moved on.
"""

import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from django.db import transaction
from django.db.models import QuerySet

from keeper.domain.book import submission
from keeper.domain.book.aside import MovesFigures, kept_if_still, tried_aside
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
        changes: every number that would move: of whom, of what, and from what to what.
        again: whether another outcome was seen before: the book has moved on.
    """

    moved: Moved
    animals: tuple[Animal, ...]
    sheets: tuple[Sheet, ...]
    opened: tuple[str, ...]
    closed: tuple[str, ...]
    changes: tuple[tuple[object, ...], ...]
    again: bool = False

    @property
    def is_empty(self) -> bool:
        """Whether no number would move and no dispute would begin or end."""
        return not (self.moved.count or self.opened or self.closed)

    @property
    def digest(self) -> str:
        """What stands for everything that it would do."""
        shown = (self.changes, [one.pk for one in self.sheets], self.opened, self.closed)
        return hashlib.sha256(repr(shown).encode()).hexdigest()[:32]


class _TakenBack(Exception):
    def __init__(self, preview: Preview) -> None:
        self.preview = preview


def preview(write: Callable[[], DaybookEntry]) -> Preview:
    """Return what a write would move; nothing of it is kept, and nobody waits for it.

    Raises:
        ValidationError, Refused: as the write itself.
    """
    return tried_aside(lambda: _preview(write()))


def tried(
    write: Callable[[], DaybookEntry], *, seen: str, always: bool = False
) -> DaybookEntry | Preview:
    """Write, if that does what was `seen`; else return what it would do.

    What moves no number, and begins and ends no dispute, needs to be seen only if `always`. What
    is not seen yet is worked out aside, so that nobody waits for what is only looked at. `write`
    may be called several times.

    Raises:
        ValidationError, Refused: as the write itself; nothing is kept.
    """
    if seen:
        return _written_as_seen(write, seen, again=True)
    if not always:
        try:
            return kept_if_still(write)
        except MovesFigures:
            pass
    found = preview(write)
    if always or not found.is_empty:
        return found
    return _written_as_seen(write, found.digest, again=False)


def _written_as_seen(
    write: Callable[[], DaybookEntry], seen: str, *, again: bool
) -> DaybookEntry | Preview:
    try:
        with transaction.atomic():
            entry = write()
            found = _preview(entry)
            if found.digest != seen:
                raise _TakenBack(replace(found, again=again))
    except _TakenBack as taken:
        if (form := submission.current()) is not None:
            form.written = None
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
        _changes(moved),
    )


# By their names: what is taken back and written again has other ids.
_OF = ("animal__code", "trait__name", "line__code")
_FROM_TO = (
    *("two_before", "none_before", "word_before", "disputed_before"),
    *("two", "none", "word", "disputed"),
)


def _changes(moved: QuerySet[StandingChange]) -> tuple[tuple[object, ...], ...]:
    rows = moved.values_list(*_OF, *_FROM_TO)
    shown = [tuple(round(one, 6) if isinstance(one, float) else one for one in row) for row in rows]
    return tuple(sorted(shown, key=repr))


def _words(disputes: Iterable[Dispute]) -> tuple[str, ...]:
    return tuple(sorted(str(one) for one in disputes))
