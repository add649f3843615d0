"""Disputes read: their records, whose numbers they hold up, and how others were settled."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from keeper.domain.explaining import DisputeCluster, clusters
from keeper.domain.inference import rows_of
from keeper.domain.saying import wording
from keeper.models import (
    Animal,
    DaybookEntry,
    Dispute,
    HatchRow,
    Record,
    RowSighting,
    Standing,
    Surprise,
    Touch,
)

# A row that a dispute names: the model's name and the row's id.
Source = tuple[str, int]


@dataclass(frozen=True)
class Affected:
    """An animal, a trait of it, and the standings that are in dispute: over all lines, by line."""

    animal: Animal
    carried: wording.Carried
    standings: tuple[Standing, ...]


def open_clusters() -> list[DisputeCluster]:
    """Return the open disputes, those that share records together, the earliest first."""
    return clusters(
        Dispute.objects.filter(closed=None)
        .select_related("species", "opened", "opened__by")
        .order_by("pk")
    )


def latest_of(dispute: Dispute) -> Dispute:
    """Return the dispute on the same records that began last: the same one, opened again."""
    return _alike(dispute).order_by("-pk")[0]


def past_of(dispute: Dispute) -> list[Dispute]:
    """Return every time that these records were in dispute, the first one first."""
    return list(_alike(dispute).order_by("pk"))


def _alike(dispute: Dispute) -> QuerySet[Dispute]:
    return Dispute.objects.filter(
        species=dispute.species_id, fingerprint=dispute.fingerprint
    ).select_related("species", "opened", "opened__by", "closed", "closed__by")


def settled(number: int) -> list[Dispute]:
    """Return the disputes that were closed last and did not begin again, newest first."""
    again = Dispute.objects.filter(
        species=OuterRef("species"), fingerprint=OuterRef("fingerprint"), pk__gt=OuterRef("pk")
    )
    closed = Dispute.objects.exclude(closed=None).filter(~Exists(again))
    closed = closed.select_related("closed", "closed__by", "species")
    return list(closed.order_by("-closed_id", "-pk")[:number])


def opened_by(entry: DaybookEntry) -> list[Dispute]:
    """Return the disputes that an entry began."""
    return list(Dispute.objects.filter(opened=entry).order_by("pk"))


def undoable(entries: Iterable[DaybookEntry]) -> set[int]:
    """Return the ids of the entries that can be taken back, as `undoing.can_undo` says."""
    touched = Touch.objects.filter(entry__in=[one.pk for one in entries], entry__undone_by=None)
    return set(touched.order_by().values_list("entry", flat=True).distinct())


def sources_of(disputes: Iterable[Dispute]) -> set[Source]:
    """Return the records that disputes name."""
    return {(one["model"], one["pk"]) for dispute in disputes for one in dispute.conflict}


def records_of(disputes: Iterable[Dispute]) -> dict[Source, Record]:
    """Return the rows that disputes name, with all that their words need: one query a kind."""
    return rows_of(sorted(sources_of(disputes)))


def looks_of(records: Iterable[Record]) -> dict[int, list[RowSighting]]:
    """Return what was looked for on the hatchlings of rows, by the row's id."""
    rows = [one.pk for one in records if isinstance(one, HatchRow)]
    found: dict[int, list[RowSighting]] = {}
    if rows:
        sightings = RowSighting.objects.live().filter(row__in=rows).select_related("trait")
        for one in sightings.order_by("-seen", "trait__name"):
            found.setdefault(one.row_id, []).append(one)
    return found


def affected_by(disputes: Sequence[Dispute]) -> list[Affected]:
    """Return whose standings rest on disputes, by the animals' codes."""
    disputed = Standing.objects.filter(dispute__in=disputes, animal__withdrawn_at=None)
    named = set(disputed.values_list("animal", "trait"))
    if not named:
        return []
    standings = (
        Standing.objects.filter(animal__in={one for one, _ in named})
        .select_related("animal", "trait", "line")
        .order_by("animal__code", "trait__name", "line__code")
    )
    read = [one for one in standings if (one.animal_id, one.trait_id) in named]
    animals = {one.animal_id: one.animal for one in read}
    own = {one.pk for one in disputes}
    found = []
    for carried in wording.carried(read):
        rows = (carried.over_all, *carried.parts)
        mine = tuple(one for one in rows if one.dispute_id in own)
        found.append(Affected(animals[carried.animal_id], carried, mine))
    return sorted(found, key=lambda one: (one.animal.code, one.carried.trait.name))


def _surprises() -> QuerySet[Surprise]:
    """Those whose entry and whose animal or clutch still count; what cannot be is a dispute."""
    return Surprise.objects.filter(
        Q(animal=None) | Q(animal__withdrawn_at=None),
        Q(clutch=None) | Q(clutch__withdrawn_at=None),
        entry__undone_by=None,
        chance__gt=0,
    ).select_related("animal", "clutch", "trait", "line", "entry", "looked_at", "looked_at__by")


def surprises_waiting() -> QuerySet[Surprise]:
    """Return what was unlikely and nobody looked at, the newest first."""
    return _surprises().filter(looked_at=None).order_by("-entry", "chance", "pk")


def surprises_looked_at(number: int) -> list[Surprise]:
    """Return what was looked at last."""
    return list(_surprises().exclude(looked_at=None).order_by(F("looked_at").desc(), "pk")[:number])


def in_doubt(disputes: Sequence[Dispute]) -> list[tuple[int, Animal]]:
    """Return the animals whose standings rest on disputes, each with the dispute's id, by code."""
    standings = Standing.objects.filter(dispute__in=disputes, animal__withdrawn_at=None)
    pairs = list(standings.order_by().values_list("dispute", "animal").distinct())
    animals = Animal.objects.order_by("code").in_bulk({animal for _, animal in pairs})
    found = [(dispute, animals[animal]) for dispute, animal in pairs]
    return sorted(found, key=lambda pair: pair[1].code)
