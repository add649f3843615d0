"""Undo: what one entry of the daybook made is withdrawn, what it changed is as before.

An entry on which something stands is not taken back alone: `built_on` lists what stands on it, and
`undo(together=True)` takes back all of it in one entry, which can itself be undone.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.contrib.contenttypes.models import ContentType
from django.core.exceptions import ValidationError

from keeper.domain.book.dependents import relations
from keeper.domain.book.writing import Refused, Writing, writing
from keeper.models import Account, DaybookEntry, Record, Sheet, Touch

_UNDONE = "This was undone already: the daybook has the entry that undid it."
_EMPTY = "There is nothing to undo in this entry. Correct the record itself."
_ISSUED = (
    "A sheet that was issued is in somebody's hands: it is not undone. Withdraw it on its own "
    "page, with the reason."
)
_NOT_YOURS = "Others wrote some of what would be taken back. Ask the owner of the book to do it."


@dataclass
class Built:
    """What stands on an entry.

    Attributes:
        entry: the entry.
        entries: later entries that would have to be taken back with it, oldest first.
        records: records that count, rest on it, and were written by no entry.
        sheets: issued sheets of its animals: they stay as they are, and raise a notice.
    """

    entry: DaybookEntry
    entries: list[DaybookEntry] = field(default_factory=list)
    records: list[Record] = field(default_factory=list)
    sheets: list[Sheet] = field(default_factory=list)

    @property
    def is_alone(self) -> bool:
        """Whether nothing that would be taken back stands on it."""
        return not (self.entries or self.records)


def is_undone(entry: DaybookEntry) -> bool:
    """Return whether an entry was taken back, and that was not taken back itself."""
    undone = False
    while entry.undone_by is not None:
        undone = not undone
        entry = entry.undone_by
    return undone


def can_undo(entry: DaybookEntry) -> bool:
    """Return whether there is anything in an entry that can still be taken back.

    What has been built on it is looked for when it is asked for.
    """
    return not is_undone(entry) and entry.touches.exists()


def built_on(entry: DaybookEntry) -> Built:
    """Return everything that stands on an entry.

    Raises:
        Refused: it is undone already, there is nothing in it, or it issued a sheet.
    """
    if is_undone(entry):
        raise Refused(_UNDONE)
    touches = list(entry.touches.select_related("record_type"))
    if not touches:
        raise Refused(_EMPTY)
    issued = ContentType.objects.get_for_model(Sheet)
    if any(touch.record_type_id == issued.pk and touch.created for touch in touches):
        raise Refused(_ISSUED)
    return _Closure(entry).walk(touches)


def undo(*, entry: DaybookEntry, by: Account, together: bool = False) -> DaybookEntry:
    """Take back an entry, with all that stands on it if asked so; return the entry that says so.

    Raises:
        Refused: it is undone already, something stands on it, it issued a sheet, or others wrote
            what would be taken back and `by` is not the owner.
    """
    with writing(by=by, what=f"Undone: {entry.what}") as book:
        # Read again under the lock: somebody may have undone it a moment ago.
        entry = DaybookEntry.objects.select_related("undone_by", "by").get(pk=entry.pk)
        built = built_on(entry)
        if not built.is_alone and not together:
            raise Refused(_resting(built))
        every = [entry, *built.entries]
        if not by.is_owner and any(one.by_id != by.pk for one in every):
            raise Refused(_NOT_YOURS)
        book.entry.subject_type, book.entry.subject_id = entry.subject_type, entry.subject_id
        book.entry.day = entry.day
        if not built.is_alone:
            number = len(built.entries) + len(built.records)
            what = f"{book.entry.what} ({number} more with it)"
            book.entry.what = what if len(what) <= 200 else book.entry.what
        book.entry.save(update_fields=["subject_type", "subject_id", "day", "what"])
        _take_back(book, every, built.records)
        DaybookEntry.objects.filter(pk__in=[one.pk for one in every]).update(undone_by=book.entry)
    return book.entry


def _resting(built: Built) -> str:
    named = [f"“{one.told}”" for one in built.entries] + [str(one) for one in built.records]
    more = f" and {len(named) - 3} more" if len(named) > 3 else ""
    return f"It was built on since: {', '.join(named[:3])}{more}. Take all of it back together."


Key = tuple[int, int]  # a record: the id of its kind, and its own


class _Closure:
    """Walks from an entry to everything that stands on it, step by step, a few queries each."""

    def __init__(self, entry: DaybookEntry) -> None:
        self.entry = entry
        self.entries: dict[int, DaybookEntry] = {entry.pk: entry}
        self.loose: dict[Key, Record] = {}
        self.sheets: dict[int, Sheet] = {}

    def walk(self, touches: Sequence[Touch]) -> Built:
        """Return what stands on the entry, whose touches these are."""
        waiting = list(touches)
        while waiting:
            later = self._later(waiting) | self._resting(waiting)
            found = DaybookEntry.objects.select_related("undone_by", "by").in_bulk(
                later - self.entries.keys()
            )
            fresh = {pk: one for pk, one in found.items() if self._bears(one)}
            self.entries |= fresh
            waiting = list(
                Touch.objects.filter(entry__in=fresh).select_related("record_type").order_by("pk")
            )
        others = [self.entries[pk] for pk in sorted(self.entries) if pk != self.entry.pk]
        return Built(self.entry, others, list(self.loose.values()), list(self.sheets.values()))

    def _bears(self, entry: DaybookEntry) -> bool:
        """Whether it still has an effect: not what was undone since, nor what undid that."""
        if is_undone(entry):
            return False
        undid = list(entry.undoes.values_list("pk", flat=True))
        return not undid or min(undid) <= self.entry.pk

    def _later(self, touches: Iterable[Touch]) -> set[int]:
        """Entries that touched the same records later."""
        found: set[int] = set()
        by_kind: dict[int, dict[int, int]] = {}
        for touch in touches:
            records = by_kind.setdefault(touch.record_type_id, {})
            records[touch.record_id] = max(touch.pk, records.get(touch.record_id, 0))
        for kind, records in by_kind.items():
            rows = Touch.objects.filter(record_type=kind, record_id__in=records)
            for pk, record, entry in rows.values_list("pk", "record_id", "entry_id"):
                if pk > records[record]:
                    found.add(entry)
        return found

    def _resting(self, touches: Iterable[Touch]) -> set[int]:
        """Entries that made what names a record which would not count any more."""
        made: dict[Any, set[int]] = {}
        for touch in touches:
            if touch.created or _was_withdrawn(touch):
                made.setdefault(touch.record_type.model_class(), set()).add(touch.record_id)
        found: set[int] = set()
        for relation in relations():
            if relation.names in made and (relation.holds or relation.is_part):
                rows = list(relation.naming(made[relation.names]))
                once = _touched_once(rows)
                for row in rows:
                    if isinstance(row, Sheet):
                        self.sheets[row.pk] = row
                    elif row.pk in once:
                        found.add(once[row.pk])
                    else:
                        found |= self._since_when(row, relation.field, made[relation.names])
        return found

    def _since_when(self, row: Record, name: str, targets: set[int]) -> set[int]:
        """The entry by which a record came to name one of these; none: it is noted by itself."""
        kind = ContentType.objects.get_for_model(row)
        touches = list(Touch.objects.filter(record_type=kind, record_id=row.pk).order_by("pk"))
        start = _named_since(row, name, targets)
        before = [touch for touch in touches if touch.history_id <= start]
        if not before:
            self.loose[kind.pk, row.pk] = row
            return set()
        return {before[-1].entry_id}


def _touched_once(rows: Sequence[Record]) -> dict[int, int]:
    """Of records that one entry made and none has touched since, that entry, by their ids."""
    if not rows:
        return {}
    kind = ContentType.objects.get_for_model(rows[0])
    touches = Touch.objects.filter(record_type=kind, record_id__in=[row.pk for row in rows])
    made: dict[int, list[tuple[int, bool]]] = {}
    for record, entry, created in touches.values_list("record_id", "entry_id", "created"):
        made.setdefault(record, []).append((entry, created))
    return {pk: of[0][0] for pk, of in made.items() if len(of) == 1 and of[0][1]}


def _named_since(row: Record, name: str, targets: set[int]) -> int:
    """The save since which a record counts and names one of these without a break."""
    field: Any = row._meta.get_field(name)
    rows = type(row).history.filter(id=row.pk).order_by("-history_id")
    column = "history_id" if field.many_to_many else field.attname
    start = 0
    for history_id, value, withdrawn_at in rows.values_list("history_id", column, "withdrawn_at"):
        if withdrawn_at is not None or not (field.many_to_many or value in targets):
            break
        start = history_id
        if field.many_to_many:
            break  # its rows are kept by themselves: the last save is near enough
    return start


def _was_withdrawn(touch: Touch) -> bool:
    """Whether a record did not count before an entry touched it."""
    earlier = _before(touch)
    return earlier is not None and earlier.withdrawn_at is not None


def _before(touch: Touch) -> Any:
    model: Any = touch.record_type.model_class()
    rows = model.history.filter(id=touch.record_id, history_id__lt=touch.history_id)
    return rows.order_by("-history_id").first()


def _take_back(book: Writing, entries: Sequence[DaybookEntry], records: Iterable[Record]) -> None:
    """Bring every record of some entries to what it was before the first of them touched it."""
    for record in records:
        book.withdraw(record, reason="undone")
    firsts: dict[Key, Touch] = {}
    touches = Touch.objects.filter(entry__in=entries).select_related("record_type")
    for touch in touches.order_by("pk"):
        firsts.setdefault((touch.record_type_id, touch.record_id), touch)
    try:
        made: list[Touch] = []
        for touch in sorted(firsts.values(), key=lambda one: -one.pk):
            if touch.created:
                made.append(touch)
                continue
            _withdraw(book, made)
            made = []
            _restore_state(book, touch)
        _withdraw(book, made)
    except ValidationError as error:
        raise Refused(
            f"It cannot be as it was before. Correct it by hand. {' '.join(error.messages)}"
        ) from error


def _withdraw(book: Writing, touches: Iterable[Touch]) -> None:
    """Take out of the account what entries made, unless it was taken out since."""
    made: dict[Any, list[int]] = {}
    for touch in touches:
        made.setdefault(touch.record_type.model_class(), []).append(touch.record_id)
    rows: list[Record] = []
    for model, ids in made.items():
        found = model._base_manager.in_bulk(ids)
        rows += [found[pk] for pk in ids if not found[pk].is_withdrawn]
    book.withdraw_many(rows, reason="undone")


def _restore_state(book: Writing, touch: Touch) -> None:
    model: Any = touch.record_type.model_class()
    record: Record = model._base_manager.get(pk=touch.record_id)
    earlier = _before(touch)
    for column in model._meta.concrete_fields:
        if not column.primary_key:
            setattr(record, column.attname, getattr(earlier, column.attname))
    many = {
        name: [getattr(row, _target(model, name)) for row in getattr(earlier, name).all()]
        for name in model._history_m2m_fields
    }
    book.keep(record, **many)


def _target(model: Any, name: str) -> str:
    """Name of the column of a kept many-to-many row that leads to the other record."""
    field = model._meta.get_field(name)
    return str(field.m2m_reverse_field_name() + "_id")
