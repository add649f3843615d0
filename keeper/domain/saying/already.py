"""Who wrote something that is in the book already, in words: two people may note the same."""

from collections import Counter
from collections.abc import Iterator
from datetime import date
from typing import Any

from django.contrib.contenttypes.models import ContentType
from django.db.models import QuerySet
from django.utils import timezone

from keeper.models import DaybookEntry, Touch


def made_by(rows: QuerySet[Any]) -> Iterator[tuple[DaybookEntry, int]]:
    """Yield the entries that made some records, each with how many, in the order of the book."""
    made = Touch.objects.filter(
        record_type=ContentType.objects.get_for_model(rows.model),
        record_id__in=rows.order_by().values("pk"),
        created=True,
    ).select_related("entry__by")
    counts = Counter(one.entry for one in made)
    yield from sorted(counts.items(), key=lambda item: item[0].pk)


def writer(entry: DaybookEntry) -> str:
    """Return who wrote an entry."""
    return entry.by.name if entry.by else "The program"


def at(entry: DaybookEntry) -> str:
    """Return when an entry was written."""
    return f"{timezone.localtime(entry.at):%-d %B at %H:%M}"


def day(on: date) -> str:
    """Return of which day something is."""
    return "today" if on == timezone.localdate() else f"for {on:%-d %B %Y}"
