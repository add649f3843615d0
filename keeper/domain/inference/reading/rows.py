"""The rows that bear on what animals carry, read in a few queries and kept as plain values."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import Any, NamedTuple, TypeVar, cast

from django.db.models import Model, QuerySet

import genetics
from keeper import models as m
from keeper.domain.inference.reading.looks import (
    LOOKED,
    OBSERVED,
    SeenRow,
    Telling,
    not_seen_at_hatch,
    seen_rows,
)
from keeper.domain.inference.reading.statements import STATED, StatedRow, stated_row


class AnimalRow(NamedTuple):
    """An animal: its parents are those of its clutch, or stated, or none."""

    pk: int
    code: str
    sex: "genetics.Sex"
    dam: int | None
    sire: int | None
    clutch: int | None
    row: int | None

    @property
    def is_founder(self) -> bool:
        """Whether no parents of it are known."""
        return self.clutch is None and self.dam is None and self.sire is None


class ClutchRow(NamedTuple):
    """A clutch with its possible sires.

    Attributes:
        sires: sire, None for one not recorded or `ALONE`, with chances that sum to 1.
        parents: ids of all that may be a parent.
    """

    pk: int
    code: str
    dam: int | None
    paternity: "genetics.Paternity"
    sires: tuple[tuple[int | None, Fraction], ...]
    parents: frozenset[int]


@dataclass(frozen=True, slots=True)
class TallyRow:
    """A row of a hatch: all hatchlings, and those of them without a record."""

    pk: int
    clutch: int
    sex: "genetics.Sex"
    count: int
    tally: int
    seen: frozenset[int]
    unseen: frozenset[int]


class TestedRow(NamedTuple):
    """A laboratory's result on one line of an animal."""

    pk: int
    line: int
    found: str
    misses: Fraction
    mistakes: Fraction


Row = TypeVar("Row", bound=Model)

# What is read of a result, a row of a hatch and what was seen on it.
TESTED = ("pk", "animal_id", "line_id", "found", "laboratory__misses", "laboratory__mistakes")
TALLIED = ("pk", "clutch_id", "sex", "count", "whole", "clutch__hatched_on")
SIGHTED = ("row_id", "trait_id", "seen")
Values = Sequence[Any]

# In the place of a sire: there was none, the young are the dam's alone. No row has this id.
ALONE = 0

# Above so many ids a query names none and reads the whole species: it is as quick by then, and
# databases limit what one query may name.
_MOST_NAMED = 5000
_NOBODY: frozenset[int] = frozenset()
# What is read of everyone, wherever the attention is.
_OF_ALL = {
    *("animals", "clutches", "children", "hatched", "bred"),
    *("arisen", "all_shown", "all_tested", "all_hatched_looks", "telling"),
}


def named(rows: QuerySet[Row], column: str, pks: Collection[int]) -> QuerySet[Row]:
    """Narrow a query to some ids, where they are few enough to name them."""
    return rows if len(pks) > _MOST_NAMED else rows.filter(**{f"{column}__in": pks})


def shared(
    candidates: list[tuple[int | None, Fraction]],
) -> tuple[tuple[int | None, Fraction], ...]:
    """Sires by their part in the whole; none named is a male not recorded."""
    if len(candidates) < 2:
        return ((candidates[0][0] if candidates else None, Fraction(1)),)
    whole = sum((share for _, share in candidates), Fraction(0))
    return tuple((sire, share / whole) for sire, share in candidates)


@dataclass
class Rows:
    """The live rows of one species.

    The pedigree and what brings genes into it are read whole. Looks, papers and tallies are read
    for those alone on whom `attend` has fixed the attention; without it for everyone.
    """

    species: int
    attention: tuple[frozenset[int], frozenset[int]] | None = None
    # Of looks those at these traits alone, where they are named.
    traits: frozenset[int] | None = None

    def attend(self, animals: Iterable[int], clutches: Iterable[int]) -> "Rows":
        """The same rows to be asked for the looks, papers and tallies of these alone."""
        view = replace(self, attention=(frozenset(animals), frozenset(clutches)))
        read = self.__dict__.items()
        view.__dict__.update({name: value for name, value in read if name in _OF_ALL})
        return view

    @cached_property
    def animals(self) -> dict[int, AnimalRow]:
        """Animals by id. A parent that was withdrawn is one not recorded."""
        columns = ("pk", "code", "sex", "dam_id", "sire_id", "clutch_id", "hatch_row_id")
        live = m.Animal.objects.live().filter(species=self.species).order_by("pk")
        found = {row[0]: AnimalRow._make(row) for row in live.values_list(*columns)}
        known = {None, *found}
        clutches = {None, *self.clutches}
        for pk, one in found.items():
            if one.dam not in known or one.sire not in known or one.clutch not in clutches:
                found[pk] = one._replace(
                    dam=one.dam if one.dam in known else None,
                    sire=one.sire if one.sire in known else None,
                    clutch=one.clutch if one.clutch in clutches else None,
                )
        return found

    @cached_property
    def clutches(self) -> dict[int, ClutchRow]:
        """Clutches by id."""
        withdrawn = m.Animal.objects.withdrawn().filter(species=self.species)
        gone = set(withdrawn.values_list("pk", flat=True))
        candidates: dict[int, list[tuple[int | None, Fraction]]] = defaultdict(list)
        named = m.CandidateSire.objects.live().filter(clutch__species=self.species).order_by("pk")
        columns = ("clutch_id", "sire_id", "alone", "share")
        for clutch, sire, alone, share in named.values_list(*columns):
            candidates[clutch].append((ALONE if alone else None if sire in gone else sire, share))
        found = {}
        live = m.Clutch.objects.live().filter(species=self.species).order_by("pk")
        for pk, code, dam, paternity in live.values_list("pk", "code", "dam_id", "paternity"):
            dam = None if dam in gone else dam
            sires = shared(candidates.get(pk, []))
            parents = frozenset(one for one in (dam, *(s for s, _ in sires)) if one)
            found[pk] = ClutchRow(pk, code, dam, paternity, sires, parents)
        return found

    def shown(self, animals: Collection[int] | None = None) -> dict[int, set[int]]:
        """Animal → traits that were ever seen on it; such a gene is in the book by it."""
        found: dict[int, set[int]] = defaultdict(set)
        seen: QuerySet[m.Observation] = m.Observation.objects.live().filter(
            animal__species=self.species, seen=m.Seen.YES
        )
        if animals is not None:
            seen = named(seen, "animal", animals)
        for animal, trait in seen.values_list("animal_id", "trait_id"):
            found[animal].add(trait)
        return dict(found)

    def hatched_looks(self, clutches: Collection[int] | None = None) -> dict[int, set[int]]:
        """Clutch → traits that were seen on its hatchlings without records."""
        found: dict[int, set[int]] = defaultdict(set)
        seen: QuerySet[m.RowSighting] = m.RowSighting.objects.live().filter(
            row__clutch__species=self.species, row__withdrawn_at=None, seen=True
        )
        if clutches is not None:
            seen = named(seen, "row__clutch", clutches)
        for clutch, trait in seen.values_list("row__clutch_id", "trait_id"):
            found[clutch].add(trait)
        return dict(found)

    @cached_property
    def all_tested(self) -> dict[int, set[int]]:
        """Animal → lines that a laboratory found in it; such a gene is in the book by it."""
        found: dict[int, set[int]] = defaultdict(set)
        tests = m.LabTest.objects.live().filter(animal__species=self.species)
        there = tests.exclude(found=m.Found.NONE)
        for animal, line in there.values_list("animal_id", "line_id"):
            found[animal].add(line)
        return dict(found)

    @cached_property
    def arisen(self) -> dict[int, dict[int, int]]:
        """Animal → line that began with it → the row that says so."""
        found: dict[int, dict[int, int]] = defaultdict(dict)
        # A handful of rows, compared here: asked for a species, a database may begin with that.
        began = m.Arising.objects.live().order_by()
        columns = ("animal__species_id", "pk", "animal_id", "line_id")
        for species, pk, animal, line in began.values_list(*columns):
            if species == self.species:
                found[animal][line] = pk
        return dict(found)

    @cached_property
    def all_shown(self) -> dict[int, set[int]]:
        """`shown` of everyone, read once."""
        return self.shown()

    @cached_property
    def all_hatched_looks(self) -> dict[int, set[int]]:
        """`hatched_looks` of all clutches, read once."""
        return self.hatched_looks()

    @cached_property
    def tallies(self) -> dict[int, list[TallyRow]]:
        """Hatch rows by clutch."""
        recorded: dict[int, int] = defaultdict(int)
        for one in self.animals.values():
            if one.row is not None:
                recorded[one.row] += 1
        told: QuerySet[m.RowSighting] = m.RowSighting.objects.live().filter(row__withdrawn_at=None)
        rows: QuerySet[m.HatchRow] = m.HatchRow.objects.live()
        told = told.filter(row__clutch__species=self.species)
        rows = rows.filter(clutch__species=self.species)
        if self.attention is not None:
            told = named(told, "row__clutch", self.attention[1])
            rows = named(rows, "clutch", self.attention[1])
        counted = rows.order_by("pk").values_list(*TALLIED)
        return self.tallied(counted, told.values_list(*SIGHTED), recorded)

    def tallied(
        self, rows: Iterable[Values], told: Iterable[Values], recorded: Mapping[int, int]
    ) -> dict[int, list[TallyRow]]:
        """Hatch rows by clutch, of which so many hatchlings are `recorded`."""
        sighted: dict[int, dict[bool | None, set[int]]] = defaultdict(lambda: defaultdict(set))
        for row, trait, is_seen in told:
            sighted[row][is_seen].add(trait)
        found: dict[int, list[TallyRow]] = defaultdict(list)
        for pk, clutch, kind, count, whole, on in rows:
            if clutch in self.clutches:
                sex = cast("genetics.Sex", kind)  # the database holds no other value
                left = max(0, count - recorded.get(pk, 0))
                own = sighted[pk]
                unseen = not_seen_at_hatch(
                    self.telling, on, whole=whole, not_seen=own[False], named=own[True] | own[None]
                )
                seen = frozenset(own[True])
                found[clutch].append(TallyRow(pk, clutch, sex, count, left, seen, unseen))
        return dict(found)

    @cached_property
    def observations(self) -> dict[int, dict[int, SeenRow]]:
        """Animal → trait → what counts of what was seen, the latest first."""
        observed: QuerySet[m.Observation] = m.Observation._base_manager.order_by()
        observed = observed.filter(animal__species=self.species)
        looks: QuerySet[m.Look] = m.Look.objects.live().order_by()
        looks = looks.filter(animal__species=self.species)
        if self.attention is not None:
            observed = named(observed, "animal", self.attention[0])
            looks = named(looks, "animal", self.attention[0])
        if self.traits is not None:
            observed = observed.filter(trait__in=self.traits)
        return seen_rows(
            observed.values_list(*OBSERVED), looks.values_list(*LOOKED), self.telling, self.traits
        )

    @cached_property
    def telling(self) -> Telling:
        """When the species' traits are looked for and can be told."""
        return Telling.of(self.species)

    @cached_property
    def lab_tests(self) -> dict[int, list[TestedRow]]:
        """Animal → what laboratories found."""
        tests: QuerySet[m.LabTest] = m.LabTest.objects.live().filter(animal__species=self.species)
        if self.attention is not None:
            tests = named(tests, "animal", self.attention[0])
        return self.tested(tests.order_by("pk").values_list(*TESTED))

    def tested(self, tests: Iterable[Values]) -> dict[int, list[TestedRow]]:
        """Results by animal."""
        found: dict[int, list[TestedRow]] = defaultdict(list)
        for pk, animal, *row in tests:
            found[animal].append(TestedRow(pk, *row))
        return dict(found)

    @cached_property
    def statements(self) -> dict[int, list[StatedRow]]:
        """Animal → what is said of it, in the order in which it was entered."""
        said: QuerySet[m.Statement] = m.Statement.objects.live()
        said = said.filter(animal__species=self.species)
        if self.attention is not None:
            said = named(said, "animal", self.attention[0])
        return self.stated(said.order_by("pk").values_list(*STATED))

    def stated(self, said: Iterable[Values]) -> dict[int, list[StatedRow]]:
        """Statements by animal."""
        found: dict[int, list[StatedRow]] = defaultdict(list)
        for values in said:
            animal, row = stated_row(values)
            if animal in self.animals:
                found[animal].append(row)
        return dict(found)

    def first_words(self, animal: int) -> list[StatedRow]:
        """What a founder is by: of each trait the first word that was said of it."""
        one = self.animals[animal]
        if not one.is_founder:
            return []
        first: dict[int, StatedRow] = {}
        for said in self.statements.get(animal, ()):
            if said.claim != m.Claim.RESULTS:
                first.setdefault(said.trait, said)
        return list(first.values())

    def other_words(self, animal: int) -> list[StatedRow]:
        """What is said besides, and weighed against what follows from elsewhere.

        A chance that was worked out from parents, or by papers, would count twice; it is noted, not
        weighed.
        """
        every = self.statements.get(animal)
        if not every:
            return []
        first = {said.pk for said in self.first_words(animal)}
        return [
            said
            for said in every
            if said.pk not in first and said.claim not in (m.Claim.POSSIBLE, m.Claim.PAPERS)
        ]

    def with_parents(self, animals: Collection[int]) -> None:
        """Say whose parents will be asked for."""

    def with_ancestors(self, animals: Collection[int]) -> None:
        """Say whose ancestors will be asked for."""

    def parents(self, animal: AnimalRow) -> frozenset[int]:
        """Ids of all that may be its parents."""
        if animal.clutch is not None:
            return self.clutches[animal.clutch].parents
        if animal.dam is None and animal.sire is None:
            return _NOBODY
        return frozenset({animal.dam, animal.sire} - {None})  # type: ignore[arg-type]

    @cached_property
    def children(self) -> dict[int, list[int]]:
        """Animal → its recorded young."""
        found: dict[int, list[int]] = defaultdict(list)
        for one in self.animals.values():
            for parent in self.parents(one):
                found[parent].append(one.pk)
        return dict(found)

    def with_descendants(self, animals: Iterable[int]) -> set[int]:
        """The animals and everyone who may descend from them."""
        found = set(animals)
        waiting = list(found)
        while waiting:
            for child in self.children.get(waiting.pop(), ()):
                if child not in found:
                    found.add(child)
                    waiting.append(child)
        return found

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
