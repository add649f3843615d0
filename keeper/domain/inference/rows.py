"""The rows that bear on what animals carry, read in a few queries and kept as plain values."""

from collections import defaultdict
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property

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


@dataclass
class Rows:
    """The live rows of one species."""

    species: int

    @cached_property
    def animals(self) -> dict[int, AnimalRow]:
        """Animals by id. A parent that was withdrawn is one not recorded."""
        columns = ("pk", "code", "sex", "dam_id", "sire_id", "clutch_id", "hatch_row_id")
        live = m.Animal.objects.live().filter(species=self.species).order_by("pk")
        found = {row[0]: AnimalRow(*row) for row in live.values_list(*columns)}
        gone = {
            pk: AnimalRow(
                pk, one.code, one.sex, one.dam if one.dam in found else None,
                one.sire if one.sire in found else None,
                one.clutch if one.clutch in self.clutches else None, one.row,
            )
            for pk, one in found.items()
            if not ({one.dam, one.sire} <= {None, *found} if one.clutch is None
                    else one.clutch in self.clutches)
        }  # fmt: skip
        return found | gone

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
    def tallies(self) -> dict[int, list[TallyRow]]:
        """Hatch rows by clutch."""
        recorded: dict[int, int] = defaultdict(int)
        for one in self.animals.values():
            if one.row is not None:
                recorded[one.row] += 1
        seen: dict[int, set[int]] = defaultdict(set)
        unseen: dict[int, set[int]] = defaultdict(set)
        told = m.RowSighting.objects.live().filter(row__clutch__species=self.species)
        for row, trait, is_seen in told.values_list("row_id", "trait_id", "seen"):
            (seen if is_seen else unseen)[row].add(trait)
        found: dict[int, list[TallyRow]] = defaultdict(list)
        rows = m.HatchRow.objects.live().filter(clutch__species=self.species).order_by("pk")
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
        sure = (
            m.Observation.objects.live()
            .filter(animal__species=self.species)
            .exclude(seen=m.Seen.UNSURE)
            .order_by("on", "pk")
        )
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

    def in_use(self) -> set[tuple[str, int]]:
        """Every row that counts as evidence: superseded and withdrawn ones do not."""
        found = {("animal", pk) for pk in self.animals} | {("clutch", pk) for pk in self.clutches}
        found |= {("statement", one.pk) for said in self.statements.values() for one in said}
        for seen in self.observations.values():
            found |= {("observation", row.pk) for row in seen.values()}
        for listed in self.tallies.values():
            found |= {("hatchrow", row.pk) for row in listed if row.tally}
        return found
