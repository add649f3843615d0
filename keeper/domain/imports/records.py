"""The records that a dry run would write, in an order in which they can be kept."""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from fractions import Fraction

from django.utils import timezone

from keeper.domain.animals.looks import Looked, rows_of_look
from keeper.domain.imports.checking import animal_of
from keeper.domain.imports.choices import Choices
from keeper.domain.imports.rows import Checked, Fate, Parent, PlannedClutch, Row
from keeper.domain.saying.shorthand import Word
from keeper.models import (
    Account,
    Animal,
    CandidateSire,
    Claim,
    Clutch,
    Contact,
    HatchRow,
    Line,
    Record,
    Sex,
    Shown,
    Statement,
    Trait,
)

_HUNDRED = re.compile(r"\b100 ?%")


class Records:
    """Makes records of rows; `traits` and `lines` have those of the register by their ids, and
    those that the import adds by the ids below zero that stand for them.
    """

    def __init__(
        self,
        found: Checked,
        choices: Choices,
        by: Account,
        traits: Mapping[int, Trait],
        lines: Mapping[int, Line],
    ) -> None:
        self.found, self.choices, self.by = found, choices, by
        self.traits, self.lines = traits, lines
        self.doubles = {one.base_id: one for one in traits.values() if one.shown == Shown.EVERY}
        self.contacts = {one.name.casefold(): one for one in Contact.objects.live().order_by("-pk")}
        self.animals: dict[int, Animal] = {}
        self.clutches: dict[int, Clutch] = {}
        self.hatched: dict[tuple[int, Sex], HatchRow] = {}
        self.today = timezone.localdate()
        self.sizes: dict[tuple[int, Sex], int] = defaultdict(int)
        for row in found.of(Fate.NEW):
            if row.clutch is not None:
                self.sizes[id(row.clutch), row.sex] += 1

    def contacts_of(self) -> list[Record]:
        """Return the contacts that are new to the book."""
        new = [Contact(name=name) for name in self.found.contacts]
        self.contacts |= {one.name.casefold(): one for one in new}
        return [*new]

    def of(self, row: Row) -> Iterator[Record]:
        """Yield what a new animal brings with it; its parents' rows were asked for before."""
        animal = animal_of(row)
        self.animals[id(row)] = animal
        if row.source:
            animal.source = self.contacts[row.source.casefold()]
        if row.clutch is not None:
            yield from self._clutch(row.clutch)
            animal.clutch = self._clutch_of(row.clutch)
            animal.hatch_row, new = self._hatch_row(row)
            if new:
                yield animal.hatch_row
        else:
            animal.dam = self._animal(row.dam)
            animal.sire = self._animal(row.sires[0]) if row.sires else None
        yield animal
        yield from self._said(row, animal)

    def _animal(self, parent: Parent | None) -> Animal | None:
        return self.animals[id(parent)] if isinstance(parent, Row) else parent

    # --- clutches ----------------------------------------------------------------------------

    def _clutch_of(self, one: PlannedClutch) -> Clutch:
        return one.there if one.there is not None else self.clutches[id(one)]

    def _clutch(self, one: PlannedClutch) -> Iterator[Record]:
        """Yield a clutch that is not in the book, and its sires, the first time."""
        if one.there is not None or id(one) in self.clutches:
            return
        clutch = Clutch(
            species=one.species, code=one.code, dam=self._animal(one.dam), hatched_on=one.hatched_on
        )
        self.clutches[id(one)] = clutch
        yield clutch
        for sire in one.sires:
            yield CandidateSire(clutch=clutch, sire=self._animal(sire))

    def _hatch_row(self, row: Row) -> tuple[HatchRow, bool]:
        """The count that a hatchling is in: those of its clutch and sex in this table."""
        assert row.clutch is not None
        key = id(row.clutch), row.sex
        new = key not in self.hatched
        if new:
            clutch = self._clutch_of(row.clutch)
            self.hatched[key] = HatchRow(clutch=clutch, sex=row.sex, count=self.sizes[key])
        return self.hatched[key], new

    # --- genes -------------------------------------------------------------------------------

    def _said(self, row: Row, animal: Animal) -> Iterator[Record]:
        """Yield statements, and the look: of a founder as its form writes them.

        With parents recorded, what is said to be visual was seen; everything else is a word. A
        percentage is then noted and not weighed, as any that was worked out from parents.
        """
        if row.said is None:
            return
        seen: dict[Trait, str] = {}
        has_parents = row.clutch is not None or bool(row.parents)
        for word in row.said.words:
            trait = self._shown(word)
            if trait is not None and (has_parents or self._is_seen(word)):
                line = "" if word.line is None else f" {self.lines[word.line].label}"
                seen[trait] = f"said: {word.claim}{line}" if line else ""
            if not has_parents or trait is None:
                yield self._statement(word, animal, has_parents=has_parents)
        whole = self.choices.whole and bool(row.said.words or row.said.normal)
        if not (seen or whole):
            return
        day = self._day(row, has_parents=has_parents)
        note = "; ".join(filter(None, seen.values()))[:200] if has_parents else ""
        yield from rows_of_look(animal, Looked(day, tuple(seen), whole=whole, note=note), self.by)

    def _statement(self, word: Word, animal: Animal, *, has_parents: bool) -> Statement:
        claim, chance = word.claim, word.chance
        if has_parents and claim == Claim.CARRIES and _HUNDRED.search(f"{word.text} {word.note}"):
            # A percentage like any other: it says what the parents come to.
            claim, chance = Claim.POSSIBLE, Fraction(1)
        statement = Statement(
            animal=animal,
            source=animal.source,
            trait=self.traits[word.trait],
            line=None if word.line is None else self.lines[word.line],
            claim=claim,
            on=animal.acquired_on,
        )
        if chance is not None:
            statement.chance = chance
        return statement

    def _shown(self, word: Word) -> Trait | None:
        """The trait that is seen on an animal of which this is said; None: nothing need be."""
        trait = self.traits[word.trait]
        if word.claim == Claim.VISUAL:
            return trait
        if word.claim == Claim.DOUBLE:
            double = self.doubles.get(word.trait)
            return trait if double is None and trait.shown == Shown.RECESSIVE else double
        return None

    def _is_seen(self, word: Word) -> bool:
        """Whether what is said of a founder was seen too."""
        return self.choices.whole or (self.choices.visual_seen and word.claim == Claim.VISUAL)

    def _day(self, row: Row, *, has_parents: bool) -> date:
        """The day of the look: of young the hatch day, of others that on which they came."""
        first = row.hatched_on if has_parents else None
        return first or row.acquired_on or self.today


def in_order(rows: Iterable[Row]) -> list[Row]:
    """Return new rows so that parents come before their young."""
    found: list[Row] = []
    done: set[int] = set()
    for first in rows:
        waiting = [first]
        while waiting:
            row = waiting[-1]
            above = [one for one in _above(row) if id(one) not in done and one.fate == Fate.NEW]
            if above and id(row) not in done:
                waiting += above
                continue
            waiting.pop()
            if id(row) not in done:
                done.add(id(row))
                found.append(row)
    return found


def _above(row: Row) -> Iterator[Row]:
    """The rows of the parents; of a clutch, those that any of its rows names."""
    parents = row.parents
    if row.clutch is not None:
        parents = [*([row.clutch.dam] if row.clutch.dam else []), *row.clutch.sires]
    yield from (one for one in parents if isinstance(one, Row))
