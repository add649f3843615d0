"""From what an engine's record rests on back to rows of the book."""

from collections import defaultdict
from collections.abc import Iterable

from django.contrib.contenttypes.models import ContentType
from django.db.models import Max

from keeper import models as m
from keeper.domain.inference.reading.looks import Source
from keeper.domain.inference.reading.rows import named

_MODELS: dict[str, type[m.Record]] = {
    "animal": m.Animal,
    "clutch": m.Clutch,
    "statement": m.Statement,
    "observation": m.Observation,
    "look": m.Look,
    "hatchrow": m.HatchRow,
    "labtest": m.LabTest,
    "arising": m.Arising,
}


def row_of(source: Source) -> m.Record:
    """The row itself."""
    kind, pk = source
    record: m.Record = _MODELS[kind]._base_manager.get(pk=pk)
    return record


def last_entries(sources: Iterable[Source]) -> dict[Source, int]:
    """The last entry of the daybook that wrote each row; left out where none is noted."""
    rows: dict[str, list[int]] = defaultdict(list)
    for kind, pk in set(sources):
        rows[kind].append(pk)
    found: dict[Source, int] = {}
    for kind, pks in rows.items():
        model = ContentType.objects.get_for_model(_MODELS[kind])
        touches = named(m.Touch.objects.filter(record_type=model), "record_id", pks)
        last = touches.order_by().values_list("record_id").annotate(Max("entry"))
        found |= {(kind, pk): entry for pk, entry in last}
    return found
