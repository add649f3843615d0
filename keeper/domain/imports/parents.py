"""The dry run, third step: who the parents are, in the file or in the book, in any order."""

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from difflib import get_close_matches

from keeper.domain.animals.odd import too_young
from keeper.domain.imports.genes import Answer
from keeper.domain.imports.naming import Known
from keeper.domain.imports.rows import Parent, Problem, Question, Row
from keeper.domain.imports.table import Table
from keeper.domain.imports.tables.meanings import Meaning
from keeper.models import Animal, Sex

_NOBODY = {"", "?", "-", "unknown", "not known", "n/a", "none", "na", "tbd"}
_SEVERAL = re.compile(r"\s*(?:/|\||;|,|\bor\b)\s*", re.I)
_SEX = {Meaning.DAM: Sex.FEMALE, Meaning.SIRE: Sex.MALE}
_NEAR = 4


class Parents:
    """Finds the parents of rows by code, else by name."""

    def __init__(self, table: Table, known: Known, answers: Mapping[str, Answer]) -> None:
        self.table, self.known, self.answers = table, known, answers
        self.asked: dict[str, Question] = {}
        self.rows: dict[str, Row] = {}
        self.named: dict[str, list[Parent]] = defaultdict(list)
        for row in table.rows:
            if row.is_out or not row.code:
                continue
            self.rows.setdefault(row.code.lower(), row)
            if row.name and row.is_new:
                self.named[row.name.casefold()].append(row)
        for name, animals in known.by_name.items():
            self.named[name] += animals
        self.names = sorted({row.code for row in self.rows.values()} | set(known.by_code))

    def find(self) -> list[Question]:
        """Put its parents into each row; return what has to be asked, answered or not."""
        columns = {one: self.table.columns(one) for one in _SEX}
        for row in self.table.rows:
            if not row.is_new:
                continue
            for meaning, places in columns.items():
                for column in places:
                    found = list(self._named(row, column, meaning))
                    if meaning == Meaning.DAM:
                        row.dam = found[0] if found else None
                    else:
                        row.sires = list(dict.fromkeys(found))
        self._tell_sexes(columns)
        for row in self.table.rows:
            if row.is_new:
                self._check(row, columns)
        self._refuse_cycles(columns)
        return list(self.asked.values())

    def _named(self, row: Row, column: int, meaning: Meaning) -> Iterator[Parent]:
        text = row.cells[column]
        if text.casefold() in _NOBODY or text.startswith("="):
            return
        parts = [text]
        if not self._matches(text, meaning):
            parts = [part for part in _SEVERAL.split(text) if part.casefold() not in _NOBODY]
        if meaning == Meaning.DAM and len(parts) > 1:
            row.problems.append(Problem(column, "A dam is one: write one code or name."))
            return
        for part in parts:
            found = self._matches(part, meaning) or self._answered(row, column, part, meaning)
            if len(found) > 1:
                codes = ", ".join(one.code for one in found[:3])
                said = f"Several are called so: {codes}. Write the code."
                row.problems.append(Problem(column, said, found[0].code))
            elif found:
                yield found[0]

    def _matches(self, text: str, meaning: Meaning) -> list[Parent]:
        """Who a text may mean: the one of that code, else those of that name and a fitting sex."""
        low = text.strip().lower()
        row = self.rows.get(low)
        if row is not None:
            return [row if row.there is None else row.there]
        if (animal := self.known.by_code.get(low)) is not None:
            return [animal]
        named = self.named.get(text.strip().casefold(), [])
        return [one for one in named if one.sex in {_SEX[meaning], Sex.UNKNOWN}] or named

    def _answered(self, row: Row, column: int, text: str, meaning: Meaning) -> list[Parent]:
        """Who the keeper says is meant; what is noted instead goes to the notes."""
        key = f"parent:{' '.join(text.casefold().split())}"[:200]
        answer = self.answers.get(key)
        before = self.asked.get(key)
        near = before.near if before else tuple(
            get_close_matches(text.lower(), self.names, n=_NEAR, cutoff=0.7)
        )  # fmt: skip
        rows = (*(before.rows if before else ()), row.number)
        first = before.text if before else text
        self.asked[key] = Question(key, "parent", first, meaning.value, near, rows)
        if answer is None:
            row.asks.append(key)
        elif answer["is"] == "note":
            row.notes.append(f"{self.table.heads[column]}: {text}")
        else:
            found = self._matches(answer["code"], meaning)
            if not found:
                row.asks.append(key)
            return found
        return []

    def _tell_sexes(self, columns: Mapping[Meaning, list[int]]) -> None:
        """Who is named as a dam alone is female, and as a sire alone male."""
        roles: dict[int, tuple[Row, set[Sex]]] = {}
        for row in self.table.rows:
            pairs = [(row.dam, Sex.FEMALE), *((one, Sex.MALE) for one in row.sires)]
            for parent, sex in pairs:
                if isinstance(parent, Row) and parent.sex == Sex.UNKNOWN:
                    roles.setdefault(id(parent), (parent, set()))[1].add(sex)
        for parent, sexes in roles.values():
            if len(sexes) == 1:
                parent.sex, parent.has_bred = sexes.pop(), True

    def _check(self, row: Row, columns: Mapping[Meaning, list[int]]) -> None:
        """Refuse parents of the wrong sex, species or age, and remark on those too young."""
        pairs = [(Meaning.DAM, row.dam), *((Meaning.SIRE, one) for one in row.sires)]
        for meaning, parent in pairs:
            if parent is None:
                continue
            column = next(iter(columns[meaning]), None)
            said = _wrong(row, parent, meaning)
            if said:
                row.problems.append(Problem(column, said))
            elif row.hatched_on is not None:
                row.remarks += too_young(_as_animal(parent), row.hatched_on, "hatched")

    def _refuse_cycles(self, columns: Mapping[Meaning, list[int]]) -> None:
        """Refuse rows that would be ancestors of their own; who is in the book cannot be."""
        for row in _in_cycles([row for row in self.table.rows if row.is_new]):
            column = next(iter(columns[Meaning.DAM] or columns[Meaning.SIRE]), None)
            said = f"{row.code} would be an ancestor of its own. Correct its dam or its sire."
            row.problems.append(Problem(column, said))


def _wrong(row: Row, parent: Parent, meaning: Meaning) -> str:
    right = _SEX[meaning]
    if parent is row:
        return f"{row.code} cannot be its own parent. Write another."
    if parent.sex != right:
        also = "in the book" if isinstance(parent, Animal) else f"in row {parent.number}"
        return (
            f"{parent.code} is not recorded as {right.label} {also}. "
            "Correct its sex there, or write another."
        )
    if parent.species is not None and row.species is not None and parent.species != row.species:
        return f"{parent.code} is a {parent.species}. Write one of its own species."
    born, of_parent = row.hatched_on, parent.hatched_on
    if born and of_parent and of_parent >= born:
        return f"{parent.code} did not hatch before {row.code}. Correct a day, or write another."
    years = row.hatched_year, parent.hatched_year
    if years[0] and years[1] and years[1] > years[0]:
        return f"{parent.code} hatched in {years[1]}, later. Correct a day, or write another."
    return ""


def _as_animal(parent: Parent) -> Animal:
    if isinstance(parent, Animal):
        return parent
    return Animal(
        code=parent.code, species=parent.species, sex=parent.sex,
        hatched_on=parent.hatched_on, hatched_year=parent.hatched_year,
    )  # fmt: skip


def _in_cycles(rows: list[Row]) -> Iterator[Row]:
    """Yield the rows that are on a way from themselves to themselves: what peeling leaves over.

    Whoever has no parents, and then whoever has none left, is taken away; then the same from the
    other end, so that descendants of a circle are not named with it.
    """
    above = {id(row): [one for one in row.parents if isinstance(one, Row)] for row in rows}
    left = _peeled({id(row): row for row in rows}, above)
    below: dict[int, list[Row]] = {key: [] for key in left}
    for row in left.values():
        for parent in above[id(row)]:
            if id(parent) in below:
                below[id(parent)].append(row)
    yield from _peeled(left, below).values()


def _peeled(rows: dict[int, Row], needs: Mapping[int, list[Row]]) -> dict[int, Row]:
    """Return what is left when whoever needs nobody that is left is taken away, again and again."""
    waits = {key: {id(one) for one in needs[key] if id(one) in rows} for key in rows}
    needed: dict[int, list[int]] = defaultdict(list)
    for key, others in waits.items():
        for other in others:
            needed[other].append(key)
    free = [key for key, others in waits.items() if not others]
    left = dict(rows)
    while free:
        key = free.pop()
        del left[key]
        for other in needed[key]:
            waits[other].discard(key)
            if not waits[other]:
                free.append(other)
    return left
