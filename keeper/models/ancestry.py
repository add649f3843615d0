"""Who descends from whom, by the parents that are recorded."""

from collections.abc import Iterable

from django.apps import apps
from django.db.models import Q


def with_ancestors(animals: Iterable[int | None]) -> set[int]:
    """Return ids of the animals and of everyone who may be an ancestor of theirs."""
    animal = apps.get_model("keeper", "Animal")
    candidate = apps.get_model("keeper", "CandidateSire")
    found: set[int] = set()
    waiting = {pk for pk in animals if pk is not None}
    while waiting:
        found |= waiting
        rows = animal._base_manager.filter(pk__in=waiting)
        above: set[int | None] = set()
        clutches = set()
        for dam, sire, clutch, mother in rows.values_list(
            "dam_id", "sire_id", "clutch_id", "clutch__dam_id"
        ):
            above |= {dam, sire, mother}
            clutches.add(clutch)
        sires = candidate._base_manager.filter(Q(withdrawn_at=None), clutch__in=clutches - {None})
        above |= set(sires.values_list("sire_id", flat=True))
        waiting = {pk for pk in above if pk is not None} - found
    return found
