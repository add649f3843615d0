"""Undo: what one entry of the daybook made is withdrawn, what it changed is as before."""

from typing import Any

from keeper.domain.book.writing import Refused, Writing, writing
from keeper.models import Account, DaybookEntry, Record, Touch


def can_undo(entry: DaybookEntry) -> bool:
    """Return whether nothing has been built on what the entry wrote."""
    return _obstacle(entry) is None


def undo(*, entry: DaybookEntry, by: Account) -> DaybookEntry:
    """Take back an entry and return the entry that says so.

    Raises:
        Refused: it is undone already, or a later entry changed the same record.
    """
    obstacle = _obstacle(entry)
    if obstacle is not None:
        raise Refused(obstacle)
    with writing(by=by, what=f"Undone: {entry.what}", undoes=entry) as book:
        book.entry.subject_type, book.entry.subject_id = entry.subject_type, entry.subject_id
        book.entry.save(update_fields=["subject_type", "subject_id"])
        for touch in _first_touches(entry)[::-1]:
            _take_back(book, touch)
    return book.entry


def _first_touches(entry: DaybookEntry) -> list[Touch]:
    """One touch a record, the first: before it the record was as it shall be again."""
    found: dict[tuple[int, int], Touch] = {}
    for touch in entry.touches.select_related("record_type").order_by("pk"):
        found.setdefault((touch.record_type_id, touch.record_id), touch)
    return list(found.values())


def _obstacle(entry: DaybookEntry) -> str | None:
    if hasattr(entry, "undone_by"):
        return "This was undone already."
    touches = list(entry.touches.all())
    if not touches:
        return "There is nothing to undo in this entry."
    last = max(touch.pk for touch in touches)
    for touch in _first_touches(entry):
        later = Touch.objects.filter(
            record_type=touch.record_type, record_id=touch.record_id, pk__gt=last
        ).exclude(entry=entry)
        if (newer := later.select_related("entry").order_by("-pk").first()) is not None:
            return f"Changed since: “{newer.entry.what}”. Undo that first, or correct the record."
    return None


def _take_back(book: Writing, touch: Touch) -> None:
    model: Any = touch.record_type.model_class()
    record: Record = model._base_manager.get(pk=touch.record_id)
    if touch.created:
        book.withdraw(record, reason="undone")
        return
    earlier = (
        model.history.filter(id=record.pk, history_id__lt=touch.history_id)
        .order_by("-history_id")
        .first()
    )
    for field in model._meta.concrete_fields:
        if not field.primary_key:
            setattr(record, field.attname, getattr(earlier, field.attname))
    many = {
        name: [getattr(row, _target(model, name)) for row in getattr(earlier, name).all()]
        for name in model._history_m2m_fields
    }
    book.keep(record, **many)


def _target(model: Any, name: str) -> str:
    """Name of the column of a kept many-to-many row that leads to the other record."""
    field = model._meta.get_field(name)
    return str(field.m2m_reverse_field_name() + "_id")
