"""The rows of a species read only as far as somebody walks: what a save or a question needs.

The same rows as `Rows`, by the same rules; but nothing is read before it is asked for, and then of
those alone who are named. Whoever walks says first whom he will ask about (`reach`, `attend`), so
that a step takes a handful of queries however many animals it is about. What was not announced is
read when it is asked for, one by one.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from fractions import Fraction
from functools import lru_cache
from typing import Any, NoReturn, TypeVar, overload

from django.db.models import F, Q, QuerySet

from keeper import models as m
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.looks import (
    AT_ANY_AGE,
    LOOKED,
    OBSERVED,
    SeenRow,
    seen_rows,
)
from keeper.domain.inference.reading.prepared import Prepared
from keeper.domain.inference.reading.rows import (
    ALONE,
    SIGHTED,
    TALLIED,
    TESTED,
    AnimalRow,
    ClutchRow,
    Rows,
    TallyRow,
    TestedRow,
    shared,
)
from keeper.domain.inference.reading.statements import STATED, StatedRow
from keeper.domain.inference.walking import kin

V = TypeVar("V")
D = TypeVar("D")


class Reached(dict[int, V]):
    """Values by id, read when they are asked for; who is in it at all cannot be asked."""

    def __init__(self, read: Callable[[list[int]], Mapping[int, V]]) -> None:
        super().__init__()
        self._read = read
        self._asked: set[int] = set()

    def ask(self, pks: Iterable[int]) -> None:
        """Read those that were not read yet, a query for all of them."""
        missing = sorted({pk for pk in pks if pk not in self._asked})
        if missing:
            self._asked.update(missing)
            for pk, value in self._read(missing).items():
                super().setdefault(pk, value)

    def put(self, pk: int, value: V) -> None:
        """Take in what was read elsewhere, or made up."""
        self._asked.add(pk)
        super().setdefault(pk, value)

    def __setitem__(self, pk: int, value: V) -> None:
        self._asked.add(pk)
        super().__setitem__(pk, value)

    def __missing__(self, pk: int) -> V:
        if pk in self._asked:
            raise KeyError(pk)
        self.ask([pk])
        return self[pk]

    def __contains__(self, pk: object) -> bool:
        if isinstance(pk, int) and pk not in self._asked:
            self.ask([pk])
        return super().__contains__(pk)

    @overload
    def get(self, pk: int, default: None = None, /) -> V | None: ...
    @overload
    def get(self, pk: int, default: V, /) -> V: ...
    @overload
    def get(self, pk: int, default: D, /) -> V | D: ...
    def get(self, pk: int, default: Any = None, /) -> Any:
        """The value of one, read if need be."""
        if pk not in self._asked:
            self.ask([pk])
        return super().get(pk, default)

    def _refuse(self) -> NoReturn:
        raise TypeError("only those who were asked for are known here")

    def __iter__(self) -> Iterator[int]:
        self._refuse()

    def keys(self) -> Any:
        """Refused: nobody knows all of them."""
        self._refuse()

    def values(self) -> Any:
        """Refused: nobody knows all of them."""
        self._refuse()

    def items(self) -> Any:
        """Refused: nobody knows all of them."""
        self._refuse()


class ReachedRows(Rows):
    """The live rows of one species, read as far as they are asked for."""

    def __init__(self, species: int) -> None:
        super().__init__(species)
        self.animals: Reached[AnimalRow] = Reached(self._animals)
        self.clutches: Reached[ClutchRow] = Reached(self._clutches)
        self.hatched: Reached[list[int]] = Reached(self._hatched)
        self.bred: Reached[list[int]] = Reached(self._bred)
        self.children: Reached[list[int]] = Reached(self._children)
        self.observations: Reached[dict[int, SeenRow]] = Reached(self._observations)
        self.statements: Reached[list[StatedRow]] = Reached(self._statements)
        self.lab_tests: Reached[list[TestedRow]] = Reached(self._lab_tests)
        self.tallies: Reached[list[TallyRow]] = Reached(self._tallies)

    def reach(self, animals: Collection[int]) -> None:
        """Read some animals with everyone who shares a clutch or a parentage with them."""
        self.animals.ask(animals)
        self.bred.ask(animals)
        clutches = {clutch for pk in animals for clutch in self.bred[pk]}
        clutches |= {self.animals[pk].clutch for pk in animals} - {None}  # type: ignore[arg-type]
        self.clutches.ask(clutches)
        self.hatched.ask(clutches)
        self.children.ask(animals)

    def read_ahead(
        self, inheritance: Inheritance, groups: Iterable[LocusGroup], animals: Collection[int]
    ) -> set[int]:
        """Read what a walk from some animals will come by, in a few queries; return these animals.

        Whoever walks asks as ever: what is not found here is read at its step.
        """
        found = kin.around(inheritance, groups, animals)
        clutches = found.every_clutch
        self.animals.ask(found.breeders)
        self.clutches.ask(clutches)
        self.hatched.ask(clutches)
        everyone = found.breeders.union(*(self.hatched[pk] for pk in clutches))
        # The others of those who bred lead no further.
        onwards = found.doubtful | (everyone - found.breeders)
        self.bred.ask(onwards)
        self.children.ask(onwards)
        return everyone

    def with_parents(self, animals: Collection[int]) -> None:
        """Read some animals with the clutches that name their parents."""
        self.animals.ask(animals)
        clutches = {self.animals[pk].clutch for pk in animals} - {None}
        self.clutches.ask(clutches)  # type: ignore[arg-type]

    def with_ancestors(self, animals: Collection[int]) -> None:
        """Read some animals with all who may be ancestors of theirs."""
        everyone, clutches = kin.ancestry(animals)
        self.animals.ask(everyone)
        self.clutches.ask(clutches)

    def attend(self, animals: Iterable[int], clutches: Iterable[int]) -> "ReachedRows":
        """Read the looks, papers and results of some animals, and some clutches' tallies."""
        wanted = set(animals)
        self.animals.ask(wanted)
        for of_animals in (self.observations, self.statements, self.lab_tests):
            of_animals.ask(wanted)
        self.tallies.ask(clutches)
        return self

    # --- what is read of those named ----------------------------------------------------------
    #
    # The ids alone name the rows, and the species is compared here: a database that knows little
    # of its tables would rather go through all rows of the species.

    def _animals(self, pks: list[int]) -> dict[int, AnimalRow]:
        return {one.pk: one for one in self._found(_ANIMALS, pks)}

    def _found(self, which: Prepared, pks: list[int]) -> list[AnimalRow]:
        """Animals by id. A parent or a clutch that was withdrawn is one not recorded."""
        found, own = [], self.species
        for (
            species, pk, code, sex, row,
            dam, dam_gone, dam_of, sire, sire_gone, sire_of, clutch, clutch_gone, clutch_of,
        ) in which.rows(pks):  # fmt: skip
            if species == own:
                dam = dam if dam_gone is None and dam_of == own else None
                sire = sire if sire_gone is None and sire_of == own else None
                clutch = clutch if clutch_gone is None and clutch_of == own else None
                found.append(AnimalRow(pk, code, sex, dam, sire, clutch, row))
        return sorted(found)

    def _counting(self, pk: int | None, withdrawn_at: object, species: int | None) -> int | None:
        return pk if withdrawn_at is None and species == self.species else None

    def _clutches(self, pks: list[int]) -> dict[int, ClutchRow]:
        candidates: dict[int, list[tuple[int, int | None, Fraction]]] = defaultdict(list)
        for pk, clutch, share, alone, *sire in _CANDIDATES.rows(pks):
            candidates[clutch].append((pk, ALONE if alone else self._counting(*sire), share))
        found = {}
        for species, pk, code, paternity, *mother in _CLUTCHES.rows(pks):
            if species == self.species:
                dam = self._counting(*mother)
                sires = shared([(sire, share) for _, sire, share in sorted(candidates[pk])])
                parents = frozenset(one for one in (dam, *(s for s, _ in sires)) if one)
                found[pk] = ClutchRow(pk, code, dam, paternity, sires, parents)
        return found

    def _hatched(self, pks: list[int]) -> dict[int, list[int]]:
        found: dict[int, list[int]] = {pk: [] for pk in pks}
        for one in self._found(_HATCHED, pks):
            self.animals.put(one.pk, one)
            if one.clutch is not None:
                found[one.clutch].append(one.pk)
        return found

    def _bred(self, pks: list[int]) -> dict[int, list[int]]:
        named: dict[int, set[int]] = {pk: set() for pk in pks}
        for prepared in (_LAID, _SIRED):
            for clutch, parent in prepared.rows(pks):
                named[parent].add(clutch)
        # Those that they hatched in are asked for next by whoever walks: in one go.
        own = {self.animals[pk].clutch for pk in pks if pk in self.animals} - {None}
        self.clutches.ask(own.union(*named.values()))  # type: ignore[arg-type]
        return {
            pk: sorted(
                clutch
                for clutch in clutches
                if (row := self.clutches.get(clutch)) is not None and pk in row.parents
            )
            for pk, clutches in named.items()
        }

    def _children(self, pks: list[int]) -> dict[int, list[int]]:
        self.bred.ask(pks)
        self.hatched.ask(clutch for pk in pks for clutch in self.bred[pk])
        found: dict[int, set[int]] = {pk: set() for pk in pks}
        for pk in pks:
            found[pk].update(*(self.hatched[clutch] for clutch in self.bred[pk]))
        for young in self._found(_STATED_YOUNG, pks):
            self.animals.put(young.pk, young)
            if young.clutch is None:
                for parent in (young.dam, young.sire):
                    if parent is not None and parent in found:
                        found[parent].add(young.pk)
        return {pk: sorted(young) for pk, young in found.items()}

    def _observations(self, pks: list[int]) -> dict[int, dict[int, SeenRow]]:
        seen = observed(self.traits, aged=bool(self.telling.limited))
        looks = seen_rows(seen.rows(pks), _WHOLE_LOOKS.rows(pks), self.telling, self.traits)
        return {pk: looks.get(pk, {}) for pk in pks}

    def _statements(self, pks: list[int]) -> dict[int, list[StatedRow]]:
        self.animals.ask(pks)
        return self.stated(_STATEMENTS.rows(pks))

    def _lab_tests(self, pks: list[int]) -> dict[int, list[TestedRow]]:
        return self.tested(_LAB_TESTS.rows(pks))

    def _tallies(self, pks: list[int]) -> dict[int, list[TallyRow]]:
        self.hatched.ask(pks)
        self.clutches.ask(pks)
        recorded: dict[int, int] = defaultdict(int)
        for pk in pks:
            for young in self.hatched[pk]:
                row = self.animals[young].row
                if row is not None:
                    recorded[row] += 1
        return self._tallied(pks, recorded)

    def _tallied(
        self, pks: Collection[int], recorded: Mapping[int, int]
    ) -> dict[int, list[TallyRow]]:
        return self.tallied(_HATCH_ROWS.rows(pks), _SIGHTINGS.rows(pks), recorded)


def _animal_values(rows: QuerySet[m.Animal]) -> QuerySet[m.Animal, Any]:
    return rows.values_list(
        "species_id", "pk", "code", "sex", "hatch_row_id",
        "dam_id", "dam__withdrawn_at", "dam__species_id",
        "sire_id", "sire__withdrawn_at", "sire__species_id",
        "clutch_id", "clutch__withdrawn_at", "clutch__species_id",
    )  # fmt: skip


_ANIMALS = Prepared(
    lambda pks: _animal_values(m.Animal.objects.live().filter(pk__in=pks)), as_stored=True
)
_HATCHED = Prepared(
    lambda pks: _animal_values(m.Animal.objects.live().filter(clutch__in=pks)), as_stored=True
)
_STATED_YOUNG = Prepared(
    lambda pks: _animal_values(m.Animal.objects.live().filter(Q(dam__in=pks) | Q(sire__in=pks))),
    as_stored=True,
)
_CLUTCHES = Prepared(
    lambda pks: (
        m.Clutch.objects.live()
        .filter(pk__in=pks)
        .values_list(
            *("species_id", "pk", "code", "paternity"),
            *("dam_id", "dam__withdrawn_at", "dam__species_id"),
        )
    ),
    as_stored=True,
)
_CANDIDATES = Prepared(
    lambda pks: (
        m.CandidateSire.objects.live()
        .filter(clutch__in=pks)
        .values_list(
            *("pk", "clutch_id", "share", "alone"),
            *("sire_id", "sire__withdrawn_at", "sire__species_id"),
        )
    )
)
_LAID = Prepared(
    lambda pks: m.Clutch.objects.live().filter(dam__in=pks).values_list("pk", "dam_id")
)
_SIRED = Prepared(
    lambda pks: (
        m.CandidateSire.objects.live().filter(sire__in=pks).values_list("clutch_id", "sire_id")
    )
)
_WHOLE_LOOKS = Prepared(
    lambda pks: m.Look.objects.live().filter(animal__in=pks).values_list(*LOOKED)
)
_STATEMENTS = Prepared(
    lambda pks: (
        m.Statement.objects.live().filter(animal__in=pks).order_by("pk").values_list(*STATED)
    )
)
_LAB_TESTS = Prepared(
    lambda pks: m.LabTest.objects.live().filter(animal__in=pks).order_by("pk").values_list(*TESTED)
)
_HATCH_ROWS = Prepared(
    lambda pks: (
        m.HatchRow.objects.live().filter(clutch__in=pks).order_by("pk").values_list(*TALLIED)
    )
)
_SIGHTINGS = Prepared(
    lambda pks: (
        m.RowSighting.objects.live()
        .filter(row__withdrawn_at=None, row__clutch__in=pks)
        .values_list(*SIGHTED)
    )
)


@lru_cache(maxsize=256)
def observed(traits: frozenset[int] | None, *, aged: bool) -> Prepared:
    """The looks at some animals, for some traits or for all; with ages, or without."""
    every = m.Observation._base_manager.all()
    if traits is not None:
        # The trait as a sum, which no index holds: a database might go through all looks at it.
        # Of no traits it is one that nothing is.
        every = every.annotate(about=F("trait") + 0).filter(about__in=sorted(traits) or [0])
    columns = OBSERVED if aged else AT_ANY_AGE
    return Prepared(lambda pks: every.filter(animal__in=pks).values_list(*columns))
