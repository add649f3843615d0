"""The dry run, fourth step: the clutches that rows hatched from, of the book or made of them."""

from collections import Counter, defaultdict
from collections.abc import Callable

from django.db.models import Count, F, Q

from keeper.domain.imports.rows import Parent, PlannedClutch, Problem, Row
from keeper.domain.imports.table import Table
from keeper.domain.imports.tables.meanings import Meaning
from keeper.models import Animal, CandidateSire, Clutch, HatchRow

_NO_PARENT = (
    "This clutch names no parent, in any row. Write the dam or the sire, or pick the column as a "
    "note."
)
_SIRES = "Several sires need a clutch: write its code, or the day on which it hatched, or one sire."
_TALLY = (
    "Clutch {0} has hatchlings counted without a record, and this may be one of them. Record it on "
    "the clutch's page, or leave this row out."
)
_OTHERS = "Clutch {0} has other parents {1}. Correct the parents, or write another code."


class Clutches:
    """Sorts rows with parents into clutches."""

    def __init__(self, table: Table) -> None:
        self.table = table
        self.columns = {
            one: next(iter(table.columns(one)), None)
            for one in (Meaning.CLUTCH, Meaning.SIRE, Meaning.DAM)
        }
        self.there = list(Clutch.objects.live().select_related("species", "dam"))
        self.by_code = {one.code.lower(): one for one in self.there}
        self.sires = _sires_of()
        self.by_parents = {
            (one.dam_id, self._males(one), one.hatched_on): one
            for one in self.there
            if one.hatched_on is not None
        }
        self.tallied = _tallied()

    def _males(self, one: Clutch) -> frozenset[object]:
        return frozenset(sire.pk for sire in self.sires.get(one.pk, ()) if sire is not None)

    def plan(self) -> list[PlannedClutch]:
        """Return the clutches, each with its rows; a row of one is not of stated parents."""
        groups: dict[object, list[Row]] = defaultdict(list)
        for row in self.table.rows:
            if not row.is_new or row.species is None:
                continue
            if row.clutch_code:
                groups["code", row.clutch_code.lower()].append(row)
            elif row.parents and row.hatched_on is not None:
                sires = frozenset(map(_key, row.sires))
                dam = None if row.dam is None else _key(row.dam)
                groups[dam, sires, row.hatched_on].append(row)
            elif len(row.sires) > 1:
                row.problems.append(Problem(self.columns[Meaning.SIRE], _SIRES))
        free = self._free_codes()
        planned = [
            self._by_code(rows) if rows[0].clutch_code else self._by_day(rows)
            for rows in groups.values()
        ]
        for one in planned:
            for row in one.rows:
                row.clutch = one
            if one.there is None and not one.code:
                one.code = free(one.hatched_on.year if one.hatched_on else 0)
            elif one.there is not None and one.there.pk in self.tallied:
                for row in one.rows:
                    said = _TALLY.format(one.there.code)
                    row.problems.append(Problem(self.columns[Meaning.CLUTCH], said))
        return [one for one in planned if one.dam is not None or one.sires]

    def _by_code(self, rows: list[Row]) -> PlannedClutch:
        """The clutch of rows that name its code; their parents must be the same."""
        first = next((row for row in rows if row.parents), rows[0])
        day = min((row.hatched_on for row in rows if row.hatched_on), default=None)
        assert first.species is not None
        one = PlannedClutch(
            first.clutch_code, first.species, first.dam, list(first.sires), day, rows=rows
        )
        there = self.by_code.get(first.clutch_code.lower())
        if there is not None:
            one.there, one.dam = there, there.dam
            one.sires = [sire for sire in self.sires.get(there.pk, ()) if sire is not None]
        column = self.columns[Meaning.CLUTCH]
        for row in rows:
            if row.parents and _differ(row, one):
                where = "in the book" if there is not None else f"in row {first.number}"
                row.problems.append(Problem(column, _OTHERS.format(one.code, where)))
            elif not (one.dam or one.sires):
                row.problems.append(Problem(column, _NO_PARENT))
        return one

    def _by_day(self, rows: list[Row]) -> PlannedClutch:
        first = rows[0]
        assert first.species is not None
        one = PlannedClutch(
            "", first.species, first.dam, list(first.sires), first.hatched_on, rows=rows
        )
        if all(isinstance(parent, Animal) for parent in first.parents):
            dam = None if first.dam is None else _key(first.dam)
            sires = frozenset(map(_key, first.sires))
            one.there = self.by_parents.get((dam, sires, first.hatched_on))
        return one

    def _free_codes(self) -> Callable[[int], str]:
        """Return what gives the next free code of a year: 24-01, 24-02, …"""
        used = set(self.by_code) | {row.clutch_code.lower() for row in self.table.rows}
        used |= {row.code.lower() for row in self.table.rows}
        used |= {code.lower() for code in Animal.objects.live().values_list("code", flat=True)}
        last: Counter[int] = Counter()

        def next_of(year: int) -> str:
            while True:
                last[year] += 1
                if (code := f"{year % 100:02}-{last[year]:02}") not in used:
                    return code

        return next_of


def _key(parent: Parent) -> object:
    return parent.pk if isinstance(parent, Animal) else id(parent)


def _differ(row: Row, one: PlannedClutch) -> bool:
    """Whether a row names another dam than its clutch has, or a sire that may not be its."""
    dam = row.dam is not None and (one.dam is None or _key(row.dam) != _key(one.dam))
    return dam or not {_key(sire) for sire in row.sires} <= {_key(sire) for sire in one.sires}


def _sires_of() -> dict[int, list[Animal | None]]:
    """Return the candidates of every clutch, by its id; None: a male not recorded."""
    found: dict[int, list[Animal | None]] = defaultdict(list)
    for row in CandidateSire.objects.live().select_related("sire"):
        found[row.clutch_id].append(row.sire)
    return found


def _tallied() -> set[int]:
    """Return the ids of clutches that have hatchlings without a record."""
    recorded = Count("recorded", filter=Q(recorded__withdrawn_at=None))
    rows = HatchRow.objects.live().annotate(own=recorded).filter(count__gt=F("own"))
    return set(rows.values_list("clutch_id", flat=True))
