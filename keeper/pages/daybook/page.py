"""One entry of the daybook as its page shows it."""

from dataclasses import dataclass

from keeper.domain.book.daybook import Moved, moved_by
from keeper.models import DaybookEntry, Touch
from keeper.pages.frame.links import RecordLink, links_of


@dataclass(frozen=True)
class EntryPage:
    """One entry.

    Attributes:
        entry: who, when, what, why.
        moved: the numbers that it moved.
        records: the records it wrote, in order, each once.
        undone_by, undoes: the entry that took it back, and those that it takes back.
    """

    entry: DaybookEntry
    moved: Moved
    records: tuple[RecordLink, ...]
    undone_by: DaybookEntry | None
    undoes: tuple[DaybookEntry, ...]


def entry_page(entry: DaybookEntry) -> EntryPage:
    """Return the page's data."""
    return EntryPage(
        entry=entry,
        moved=moved_by(entry, shown=40),
        records=_records(entry),
        undone_by=entry.undone_by,
        undoes=tuple(entry.undoes.order_by("pk")),
    )


def _records(entry: DaybookEntry) -> tuple[RecordLink, ...]:
    touches: dict[tuple[int, int], Touch] = {}
    for touch in entry.touches.select_related("record_type"):
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
