"""Which rows count as evidence: withdrawn and superseded ones do not."""

from collections import defaultdict
from collections.abc import Collection, Iterable

from django.db.models import Count, F, Q

from keeper import models as m
from keeper.domain.inference.reading.looks import Source

_SIMPLE: dict[str, type[m.Record]] = {
    "animal": m.Animal,
    "clutch": m.Clutch,
    "statement": m.Statement,
    "labtest": m.LabTest,
    "arising": m.Arising,
}


def counting(sources: Iterable[Source]) -> set[Source]:
    """Return those of some rows that count; at most two queries for each kind of row."""
    rows: dict[str, set[int]] = defaultdict(set)
    for kind, pk in sources:
        rows[kind].add(pk)
    found: set[Source] = set()
    for kind, pks in rows.items():
        if kind == "look":
            there = set(
                m.Look.objects.live().filter(pk__in=pks).order_by().values_list("pk", flat=True)
            )
        elif kind == "observation":
            there = _sure_looks(pks)
        elif kind == "hatchrow":
            own = Count("recorded", filter=Q(recorded__withdrawn_at=None))
            live = m.HatchRow.objects.live().filter(pk__in=pks).annotate(own=own)
            there = set(live.filter(count__gt=F("own")).order_by().values_list("pk", flat=True))
        else:
            live = _SIMPLE[kind].objects.live().filter(pk__in=pks).order_by()
            there = set(live.values_list("pk", flat=True))
        found |= {(kind, pk) for pk in there}
    return found


_TRAITS: dict[str, tuple[type[m.Record], str]] = {
    "observation": (m.Observation, "trait"),
    # All that its animal's parts of the register are, but those that it names.
    "look": (m.Look, "animal__species__traits"),
    "statement": (m.Statement, "trait"),
    "labtest": (m.LabTest, "line__trait"),
    "arising": (m.Arising, "line__trait"),
    "hatchrow": (m.HatchRow, "sightings__trait"),
}


def traits_of(sources: Iterable[Source]) -> dict[Source, set[int]]:
    """Return the traits of the register that rows of evidence speak of, a query for each kind."""
    rows: dict[str, set[int]] = defaultdict(set)
    for kind, pk in sources:
        rows[kind].add(pk)
    found: dict[Source, set[int]] = defaultdict(set)
    for kind, pks in rows.items():
        model, trait = _TRAITS[kind]
        speaking: dict[str, object] = {"pk__in": pks, f"{trait}__withdrawn_at": None}
        if kind == "hatchrow":
            speaking["sightings__withdrawn_at"] = None
            # What could not be told says nothing.
            speaking["sightings__seen__isnull"] = False
        named = model._base_manager.filter(**speaking).order_by()
        for pk, one in named.values_list("pk", f"{trait}__pk"):
            if one is not None:
                found[kind, pk].add(one)
    return found


def _sure_looks(pks: Collection[int]) -> set[int]:
    """Those of some observations that told something."""
    sure = m.Observation.objects.live().exclude(seen=m.Seen.UNSURE).order_by()
    return set(sure.filter(pk__in=pks).values_list("pk", flat=True))
