"""One entry of the daybook as its page shows it."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime

from keeper.domain.book.daybook import Moved, moved_by
from keeper.domain.book.previewing import Preview, preview
from keeper.domain.book.undoing import built_on, undo
from keeper.domain.book.writing import Refused
from keeper.domain.daybook.withdrawn import Gone, rows_of
from keeper.models import Account, DaybookEntry, Sheet, Touch
from keeper.pages.frame.links import RecordLink, links_of

# A table that is brought in writes tens of thousands.
MOST_RECORDS = 500


@dataclass(frozen=True)
class EntryPage:
    """One entry.

    Attributes:
        entry: who, when, what, why.
        moved: the numbers that it moved.
        records: the records it wrote, in order, each once; of very many the first.
        more: how many it wrote beside these.
        undone_by, undoes: the entry that took it back, and those that it takes back.
    """

    entry: DaybookEntry
    moved: Moved
    records: tuple[RecordLink, ...]
    more: int
    undone_by: DaybookEntry | None
    undoes: tuple[DaybookEntry, ...]


def entry_page(entry: DaybookEntry) -> EntryPage:
    """Return the page's data."""
    return EntryPage(
        entry=entry,
        moved=moved_by(entry, shown=40),
        records=_records(entry),
        more=max(0, entry.touches.count() - MOST_RECORDS),
        undone_by=entry.undone_by,
        undoes=tuple(entry.undoes.order_by("pk")),
    )


def _records(entry: DaybookEntry) -> tuple[RecordLink, ...]:
    touches: dict[tuple[int, int], Touch] = {}
    for touch in entry.touches.select_related("record_type")[:MOST_RECORDS]:
        touches.setdefault((touch.record_type_id, touch.record_id), touch)
    texts: dict[tuple[int, int], str] = {}
    for kind in {touch.record_type for touch in touches.values()}:
        model = kind.model_class()
        if model is None:
            continue
        near = [field.name for field in model._meta.concrete_fields if field.is_relation]
        ids = [touch.record_id for touch in touches.values() if touch.record_type == kind]
        for row in model._base_manager.filter(pk__in=ids).select_related(*near):
            texts[kind.pk, row.pk] = f"{kind.name} {row}"
    return tuple(
        links_of(
            (touch.record_type.model, touch.record_id, texts[key])
            for key, touch in touches.items()
            if key in texts
        )
    )


@dataclass(frozen=True)
class UndoPage:
    """An entry that is to be taken back, with all that was built on it.

    Attributes:
        entries, records: what would go back with it: later entries, and records of none.
        sheets: those issued of its animals; they stay.
        preview: what taking it back would do; None where it cannot be taken back.
        refusal: why not.
    """

    entry: DaybookEntry
    entries: tuple[DaybookEntry, ...] = ()
    records: tuple[RecordLink, ...] = ()
    sheets: tuple[Sheet, ...] = ()
    preview: Preview | None = None
    refusal: str = ""


def undo_page(
    entry: DaybookEntry, by: Account, *, ahead: Preview | None = None, refusal: str = ""
) -> UndoPage:
    """Return the page's data; why something cannot be taken back is said, not raised.

    `ahead` is what taking it back would do, where that was tried already.
    """
    try:
        built = built_on(entry)
    except Refused as refused:
        return UndoPage(entry, refusal=str(refused))
    named = [(str(one._meta.model_name), one.pk, str(one)) for one in built.records]
    page = UndoPage(
        entry, tuple(built.entries), tuple(links_of(named)), tuple(built.sheets), refusal=refusal
    )
    try:
        ahead = ahead or preview(lambda: undo(entry=entry, by=by, together=True))
    except Refused as refused:
        return replace(page, refusal=str(refused))
    return replace(page, preview=ahead)


@dataclass(frozen=True)
class WithdrawnRow:
    """A withdrawn record as the list shows it, with where it is read."""

    gone: Gone
    link: RecordLink


def withdrawn_rows(listed: Collection[tuple[str, int, datetime]]) -> list[WithdrawnRow]:
    """Return a page of the list."""
    found = rows_of(listed)
    links = links_of((one.kind, one.record.pk, str(one.record)) for one in found)
    return [WithdrawnRow(one, link) for one, link in zip(found, links, strict=True)]
