"""The rows that bear on what animals carry, read in a few queries and kept as plain values."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from typing import TypeVar

from django.db.models import Model, QuerySet

from keeper import models as m


@dataclass(frozen=True, slots=True)
class AnimalRow:
    """An animal: its parents are those of its clutch, or stated, or none."""

    pk: int
    code: str
    sex: str
    dam: int | None
    sire: int | None
    clutch: int | None
    row: int | None


@dataclass(slots=True)
class ClutchRow:
    """A clutch with its candidates (sire or None, share)."""

    pk: int
    code: str
    dam: int | None
    paternity: str
    candidates: list[tuple[int | None, Fraction]] = field(default_factory=list)

    @property
    def sires(self) -> list[tuple[int | None, Fraction]]:
        """Candidates with chances that sum to 1; a sire not recorded if none is named."""
        if not self.candidates:
            return [(None, Fraction(1))]
        whole = sum((share for _, share in self.candidates), Fraction(0))
        return [(sire, share / whole) for sire, share in self.candidates]

    @property
    def parents(self) -> set[int]:
        """Ids of all that may be a parent."""
        return {pk for pk in (self.dam, *(sire for sire, _ in self.sires)) if pk is not None}


@dataclass(frozen=True, slots=True)
class TallyRow:
    """A row of a hatch: all hatchlings, and those of them without a record."""

    pk: int
    clutch: int
    sex: str
    count: int
    tally: int
    seen: frozenset[int]
    unseen: frozenset[int]


@dataclass(frozen=True, slots=True)
class SeenRow:
    """The observation that counts for one animal and trait."""

    pk: int
    seen: bool


@dataclass(frozen=True, slots=True)
class StatedRow:
    """What a source said of one trait of a founder."""

    pk: int
    trait: int
    line: int | None
    claim: str
    chance: Fraction | None
    reliability: Fraction


Row = TypeVar("Row", bound=Model)

# Above so many ids a query names none and reads the whole species: it is as quick by then, and
# databases limit what one query may name.
_MOST_NAMED = 5000


def named(rows: QuerySet[Row], column: str, pks: Collection[int]) -> QuerySet[Row]:
    """Narrow a query to some ids, where they are few enough to name them."""
    return rows if len(pks) > _MOST_NAMED else rows.filter(**{f"{column}__in": pks})


@dataclass
class Rows:
    """The live rows of one species.

    The pedigree and what brings genes into it are read whole. Looks and tallies are read for those
    alone on whom `attend` has fixed the attention; for everyone where it was not called.
    """

    species: int
    attention: tuple[frozenset[int], frozenset[int]] | None = None

    def attend(self, animals: Iterable[int], clutches: Iterable[int]) -> None:
        """Say whose looks and tallies will be asked for; anything read of them is forgotten."""
        self.attention = frozenset(animals), frozenset(clutches)
        for name in ("observations", "tallies"):
            self.__dict__.pop(name, None)

    @cached_property
    def animals(self) -> dict[int, AnimalRow]:
        """Animals by id. A parent that was withdrawn is one not recorded."""
        columns = ("pk", "code", "sex", "dam_id", "sire_id", "clutch_id", "hatch_row_id")
        live = m.Animal.objects.live().filter(species=self.species).order_by("pk")
        found = {row[0]: AnimalRow(*row) for row in live.values_list(*columns)}
        known = {None, *found}
        clutches = {None, *self.clutches}
        for pk, one in found.items():
            if one.dam not in known or one.sire not in known or one.clutch not in clutches:
                found[pk] = replace(
                    one,
                    dam=one.dam if one.dam in known else None,
                    sire=one.sire if one.sire in known else None,
                    clutch=one.clutch if one.clutch in clutches else None,
                )
        return found

    @cached_property
    def clutches(self) -> dict[int, ClutchRow]:
        """Clutches by id."""
        live = m.Clutch.objects.live().filter(species=self.species).order_by("pk")
        found = {
            row[0]: ClutchRow(*row) for row in live.values_list("pk", "code", "dam_id", "paternity")
        }
        gone = set(
            m.Animal.objects.withdrawn().filter(species=self.species).values_list("pk", flat=True)
        )
        for clutch in found.values():
            if clutch.dam in gone:
                clutch.dam = None
        named = m.CandidateSire.objects.live().filter(clutch__species=self.species).order_by("pk")
        for pk, sire, share in named.values_list("clutch_id", "sire_id", "share"):
            if pk in found:
                found[pk].candidates.append((None if sire in gone else sire, share))
        return found

    @cached_property
    def shown(self) -> dict[int, set[int]]:
        """Animal → traits that were ever seen on it; such a gene is in the book by it."""
        found: dict[int, set[int]] = defaultdict(set)
        seen = m.Observation.objects.live().filter(animal__species=self.species, seen=m.Seen.YES)
        for animal, trait in seen.values_list("animal_id", "trait_id"):
            found[animal].add(trait)
        return dict(found)

    @cached_property
    def hatched_looks(self) -> dict[int, set[int]]:
        """Clutch → traits that were seen on its hatchlings without records."""
        found: dict[int, set[int]] = defaultdict(set)
        seen = m.RowSighting.objects.live().filter(
            row__clutch__species=self.species, row__withdrawn_at=None, seen=True
        )
        for clutch, trait in seen.values_list("row__clutch_id", "trait_id"):
            found[clutch].add(trait)
        return dict(found)

    @cached_property
    def tallies(self) -> dict[int, list[TallyRow]]:
        """Hatch rows by clutch."""
        recorded: dict[int, int] = defaultdict(int)
        for one in self.animals.values():
            if one.row is not None:
                recorded[one.row] += 1
        seen: dict[int, set[int]] = defaultdict(set)
        unseen: dict[int, set[int]] = defaultdict(set)
        told: QuerySet[m.RowSighting] = m.RowSighting.objects.live().filter(row__withdrawn_at=None)
        rows: QuerySet[m.HatchRow] = m.HatchRow.objects.live().order_by("pk")
        told = told.filter(row__clutch__species=self.species)
        rows = rows.filter(clutch__species=self.species)
        if self.attention is not None:
            told = named(told, "row__clutch", self.attention[1])
            rows = named(rows, "clutch", self.attention[1])
        for row, trait, is_seen in told.values_list("row_id", "trait_id", "seen"):
            (seen if is_seen else unseen)[row].add(trait)
        found: dict[int, list[TallyRow]] = defaultdict(list)
        for pk, clutch, sex, count in rows.values_list("pk", "clutch_id", "sex", "count"):
            if clutch in self.clutches:
                left = max(0, count - recorded[pk])
                found[clutch].append(
                    TallyRow(
                        pk, clutch, sex, count, left, frozenset(seen[pk]), frozenset(unseen[pk])
                    )
                )
        return dict(found)

    @cached_property
    def observations(self) -> dict[int, dict[int, SeenRow]]:
        """Animal → trait → the latest observation that is sure."""
        found: dict[int, dict[int, SeenRow]] = defaultdict(dict)
        sure: QuerySet[m.Observation] = m.Observation.objects.live().order_by("on", "pk")
        sure = sure.exclude(seen=m.Seen.UNSURE)
        sure = sure.filter(animal__species=self.species)
        if self.attention is not None:
            sure = named(sure, "animal", self.attention[0])
        for pk, animal, trait, seen in sure.values_list("pk", "animal_id", "trait_id", "seen"):
            found[animal][trait] = SeenRow(pk, seen == m.Seen.YES)
        return dict(found)

    @cached_property
    def statements(self) -> dict[int, list[StatedRow]]:
        """Founder → what is said of it; of an animal with parents in the book these decide."""
        found: dict[int, list[StatedRow]] = defaultdict(list)
        said = m.Statement.objects.live().filter(animal__species=self.species).order_by("pk")
        columns = ("animal_id", "pk", "trait_id", "line_id", "claim", "chance")
        for animal, *row, reliability in said.values_list(*columns, "source__reliability"):
            one = self.animals.get(animal)
            if one is not None and one.clutch is None and one.dam is None and one.sire is None:
                full = Fraction(1) if reliability is None else reliability
                pk, trait, line, claim, chance = row
                found[animal].append(StatedRow(pk, trait, line, claim, chance, full))
        return dict(found)

    def parents(self, animal: AnimalRow) -> set[int]:
        """Ids of all that may be its parents."""
        if animal.clutch is not None:
            return self.clutches[animal.clutch].parents
        return {pk for pk in (animal.dam, animal.sire) if pk is not None}

    @cached_property
    def children(self) -> dict[int, list[int]]:
        """Animal → its recorded young."""
        found: dict[int, list[int]] = defaultdict(list)
        for one in self.animals.values():
            for parent in self.parents(one):
                found[parent].append(one.pk)
        return dict(found)

    @cached_property
    def hatched(self) -> dict[int, list[int]]:
        """Clutch → its hatchlings with records."""
        found: dict[int, list[int]] = defaultdict(list)
        for one in self.animals.values():
            if one.clutch is not None:
                found[one.clutch].append(one.pk)
        return dict(found)

    @cached_property
    def bred(self) -> dict[int, list[int]]:
        """Animal → clutches that it may have parented."""
        found: dict[int, list[int]] = defaultdict(list)
        for clutch in self.clutches.values():
            for parent in clutch.parents:
                found[parent].append(clutch.pk)
        return dict(found)

    def counts(self, kind: str, pk: int) -> bool:
        """Whether a row counts as evidence: withdrawn and superseded ones do not."""
        if kind == "observation":
            one = m.Observation.objects.live().filter(pk=pk).first()
            if one is None:
                return False
            sure = m.Observation.objects.live().exclude(seen=m.Seen.UNSURE)
            latest = sure.filter(animal=one.animal_id, trait=one.trait_id).order_by("on", "pk")
            last = latest.last()
            return last is not None and last.pk == pk
        if kind == "hatchrow":
            row = m.HatchRow.objects.live().filter(pk=pk).first()
            return row is not None and row.count > row.recorded.live().count()
        if kind == "statement":
            return m.Statement.objects.live().filter(pk=pk).exists()
        return pk in (self.animals if kind == "animal" else self.clutches)
