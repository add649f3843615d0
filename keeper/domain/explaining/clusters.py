"""Open disputes that share records: one mistake may be behind them all."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from keeper.domain.book.touched import Touched, touched_by
from keeper.domain.inference import Scale, Source, row_of
from keeper.models import (
    Animal,
    Arising,
    Clutch,
    Dispute,
    HatchRow,
    LabTest,
    Look,
    Observation,
    Record,
    Species,
    Standing,
    Statement,
    Trait,
)


@dataclass(frozen=True)
class DisputeCluster:
    """Open disputes of one species that share records, the earliest first.

    Attributes:
        clash: what would still not be possible after some change of the book, in the place of
            the disputes' own records; `within` names the traits it can be about.
    """

    species: Species
    disputes: tuple[Dispute, ...]
    clash: frozenset[Source] = frozenset()
    within: frozenset[int] = frozenset()

    @cached_property
    def sources(self) -> frozenset[Source]:
        """All records that cannot all be true."""
        return self.clash or frozenset().union(*(sources_of(one) for one in self.disputes))

    @cached_property
    def records(self) -> tuple[Record, ...]:
        """Their rows."""
        return tuple(row_of(source) for source in sorted(self.sources))

    @cached_property
    def clutches(self) -> tuple[Clutch, ...]:
        """The clutches that they are about: of rows, of parents, of the animals looked at."""
        found: dict[int, Clutch] = {}
        for record in self.records:
            if isinstance(record, Clutch):
                found[record.pk] = record
            elif isinstance(record, HatchRow):
                found[record.clutch_id] = record.clutch
        for animal in self.animals:
            if animal.clutch is not None:
                found[animal.clutch.pk] = animal.clutch
        return tuple(found[pk] for pk in sorted(found))

    @cached_property
    def animals(self) -> tuple[Animal, ...]:
        """The animals that they name."""
        found: dict[int, Animal] = {}
        for record in self.records:
            if isinstance(record, Animal):
                found[record.pk] = record
            elif isinstance(record, Look | Observation | Statement | LabTest | Arising):
                found[record.animal_id] = record.animal
        return tuple(found[pk] for pk in sorted(found))

    @cached_property
    def parents(self) -> tuple[Animal, ...]:
        """The parents of the clutches and of the animals, as recorded."""
        found: dict[int, Animal] = {}
        for clutch in self.clutches:
            sires = [one.sire for one in clutch.candidates.live().select_related("sire")]
            found |= {one.pk: one for one in (clutch.dam, *sires) if one is not None}
        for animal in self.animals:
            found |= {one.pk: one for one in (animal.dam, animal.sire) if one is not None}
        return tuple(found[pk] for pk in sorted(found))

    @cached_property
    def traits(self) -> frozenset[int]:
        """The traits at fault; a row of a hatch names all that were looked for."""
        named = self._named
        if self.clash:
            return named & self.within or named
        if len(named) > 1:
            return frozenset(one for one in named if not self._possible(one)) or named
        return named

    def _possible(self, trait: int) -> bool:
        about = Touched(animals={(pk, trait) for pk in self.scope})
        return Scale(self.species, about, self.excluded).possible()

    @cached_property
    def excluded(self) -> frozenset[Source]:
        """Evidence in the species' other open disputes, which are none of this one's business."""
        others = Dispute.objects.filter(species=self.species, closed=None)
        others = others.exclude(pk__in=[one.pk for one in self.disputes])
        clashing = frozenset[Source]().union(*(sources_of(one) for one in others))
        return frozenset(one for one in clashing if one[0] not in {"animal", "clutch"})

    @cached_property
    def _named(self) -> frozenset[int]:
        found: set[int] = set()
        for record in self.records:
            if isinstance(record, Observation | Statement):
                found.add(record.trait_id)
            elif isinstance(record, LabTest | Arising):
                found.add(record.line.trait_id)
            elif isinstance(record, HatchRow):
                found |= set(record.sightings.live().values_list("trait_id", flat=True))
            whole = isinstance(record, Look) or (isinstance(record, HatchRow) and record.whole)
            if whole:
                found |= self._carried
        return frozenset(found)

    @cached_property
    def _carried(self) -> set[int]:
        """The traits that anybody here may carry: of others a look says nothing new."""
        here = [one.pk for one in (*self.animals, *self.parents)]
        carried = Standing.objects.filter(animal__in=here, none__lt=1).order_by()
        own = set(carried.values_list("trait_id", flat=True))
        forms = Trait.objects.live().filter(base__in=own)
        return own | set(forms.values_list("pk", flat=True))

    @property
    def about(self) -> Touched:
        """Where the dispute is: what every explanation has to make possible."""
        return Touched(animals={(pk, trait) for pk in self.scope for trait in self.traits})

    @cached_property
    def scope(self) -> frozenset[int]:
        """The animals whose families the dispute is in."""
        every = {one.pk for one in (*self.animals, *self.parents)}
        for clutch in self.clutches:
            every |= set(clutch.young.live().values_list("pk", flat=True))
        for record in self.records:
            every |= {pk for pk, _ in touched_by(record).animals}
        return frozenset(every)


def sources_of(dispute: Dispute) -> frozenset[Source]:
    """The records of one dispute."""
    return frozenset((record["model"], record["pk"]) for record in dispute.conflict)


def clusters(disputes: Iterable[Dispute] | None = None) -> list[DisputeCluster]:
    """All open disputes, those that share a record together."""
    if disputes is None:
        disputes = Dispute.objects.filter(closed=None).select_related("species").order_by("pk")
    groups: list[tuple[set[Source], list[Dispute]]] = []
    for dispute in disputes:
        sources, together = set(sources_of(dispute)), [dispute]
        apart = []
        for other, members in groups:
            if other & sources and members[0].species_id == dispute.species_id:
                sources |= other
                together = members + together
            else:
                apart.append((other, members))
        groups = [*apart, (sources, together)]
    found = [
        DisputeCluster(members[0].species, tuple(sorted(members, key=lambda one: one.pk)))
        for _, members in groups
    ]
    return sorted(found, key=lambda one: one.disputes[0].pk)


def cluster_of(dispute: Dispute) -> DisputeCluster | None:
    """The cluster that an open dispute is part of; None once it is closed."""
    return next((one for one in clusters() if dispute in one.disputes), None)
