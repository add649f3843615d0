"""The whole dry run of an import: every row's fate, every problem at its cell, every question.

It reads the file's table and the book and writes nothing. What it says holds for one state of both;
writing makes it again inside the lock and goes on only if it says the same.
"""

import hashlib
from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from difflib import get_close_matches
from threading import Lock

from keeper.domain.animals.odd import odd_animal
from keeper.domain.book.daybook import moment
from keeper.domain.imports.choices import Choices, choices_of
from keeper.domain.imports.clutches import Clutches
from keeper.domain.imports.genes import Answer, Genes, Said, under_a_name, under_hets
from keeper.domain.imports.naming import Known, find_known, give_codes
from keeper.domain.imports.parents import Parents
from keeper.domain.imports.reading import check_fields, read_cells, species_by_name
from keeper.domain.imports.rows import Checked, Problem, Question, Row
from keeper.domain.imports.table import Table, table_of
from keeper.domain.imports.tables.meanings import Meaning, key_of
from keeper.domain.mates.queries import genes_of
from keeper.domain.sources.writes import too_many_copies
from keeper.models import Animal, Contact, Import, Line, Species, Statement, Trait

# Dry runs of the imports looked at last: a page of one asks for it with every turn.
_KEPT = 3
_runs: OrderedDict[tuple[object, ...], Checked] = OrderedDict()
_lock = Lock()

_SPECIES = "Say above of which species the animals of this table are."
_SEX_TWICE = "The traits say another sex than the row. Correct one of the two."


def checked(one: Import) -> Checked:
    """Return the dry run of an import as it and the book stand; kept while both stay so."""
    # By its time too: the ids of a book put back from a copy begin again.
    key = (one.pk, one.begun, one.version, moment())
    with _lock:
        if key in _runs:
            _runs.move_to_end(key)
            return _runs[key]
    found = check(one)
    with _lock:
        _runs[key] = found
        while len(_runs) > _KEPT:
            _runs.popitem(last=False)
    return found


def check(one: Import) -> Checked:
    """Return the dry run of an import, made anew."""
    return _Run(one).run()


class _Run:
    def __init__(self, one: Import) -> None:
        self.one, self.choices = one, choices_of(one)
        self.answers: Mapping[str, Answer] = one.answers
        self.table = table_of(one)
        self.found = Checked(self.table.heads, self.table.meanings, self.table.rows)
        self.questions: list[Question] = []

    def run(self) -> Checked:
        table, choices = self.table, self.choices
        read_cells(table, choices, self.one.mended)
        self._species()
        known = Known.read()
        give_codes(table, choices, known)
        self.questions += find_known(table, choices, known, self.answers)
        readers = self._genes()
        self.questions += Parents(table, known, self.answers).find()
        self.found.clutches = Clutches(table).plan()
        self._contacts()
        for row in table.rows:
            if row.is_new:
                self._fits(row)
        for reader in readers:
            self.found.traits += reader.traits.values()
            self.found.lines += reader.lines.values()
        asked = {key for row in table.rows for key in row.asks}
        self.found.questions = [one for one in self.questions if one.key in asked]
        self.found.digest = _digest(self.found)
        return self.found

    # --- species -----------------------------------------------------------------------------

    def _species(self) -> None:
        every = list(Species.objects.live())
        by_name = species_by_name(every)
        default = next((one for one in every if one.pk == self.choices.species), None)
        column = self.found.column(Meaning.SPECIES)
        rows: dict[str, list[int]] = {}
        for row in self.table.rows:
            text = "" if column is None else row.cells[column]
            if row.is_out:
                continue
            if not text:
                row.species = default
                if default is None:
                    row.problems.append(Problem(column, _SPECIES))
                continue
            row.species = by_name.get(text.casefold())
            if row.species is None:
                key = f"species:{text.casefold()}"
                rows.setdefault(text, []).append(row.number)
                answer = self.answers.get(key)
                row.species = by_name.get(answer["name"].casefold()) if answer else None
                if row.species is None:
                    row.asks.append(key)
        names = [one.name for one in every]
        for text, numbers in rows.items():
            near = tuple(get_close_matches(text, names, n=3, cutoff=0.5)) or tuple(names)
            key = f"species:{text.casefold()}"
            self.questions.append(Question(key, "species", text, near=near, rows=tuple(numbers)))

    # --- genes -------------------------------------------------------------------------------

    def _genes(self) -> list[Genes]:
        """Read what is said of traits, species by species."""
        texts: dict[int, dict[int, list[tuple[int, str]]]] = {}
        species: dict[int, Species] = {}
        for row in self.table.rows:
            if row.is_new and row.species is not None:
                species[row.species.pk] = row.species
                texts.setdefault(row.species.pk, {})[id(row)] = self._texts(row)
        readers = {
            pk: Genes(pk, genes_of(species[pk]), self.answers, _every(of_rows.values()))
            for pk, of_rows in texts.items()
        }
        asked: dict[str, Question] = {}
        for row in self.table.rows:
            if row.is_new and row.species is not None:
                reader = readers[row.species.pk]
                self._said(row, reader, texts[row.species.pk][id(row)], asked)
        self.questions += asked.values()
        self._copies()
        return list(readers.values())

    def _texts(self, row: Row) -> list[tuple[int, str]]:
        """The cells of a row that speak of traits, each with its column."""
        found = []
        for column, meaning in enumerate(self.table.meanings):
            cell = row.cells[column]
            if meaning == Meaning.GENE:
                cell = under_a_name(cell, self.table.heads[column])
            elif meaning == Meaning.GENES:
                cell = under_hets(cell, key_of(self.table.heads[column]))
            else:
                continue
            if cell and not cell.startswith("="):
                found.append((column, cell))
        return found

    def _said(
        self, row: Row, reader: Genes, texts: list[tuple[int, str]], asked: dict[str, Question]
    ) -> None:
        said = Said()
        for column, text in texts:
            here = reader.said(text)
            row.problems += [Problem(column, one) for one in here.problems]
            for one in here.asked:
                row.asks.append(one.key)
                new = Question(one.key, one.kind, one.text, one.about, one.near)
                before = asked.get(one.key, new)
                asked[one.key] = replace(before, rows=(*before.rows, row.number))
            if here.noted:
                row.notes.append(f"{self.table.heads[column]}: {row.cells[column]}")
            twice = {one.trait for one in said.words} & {one.trait for one in here.words}
            if twice:
                row.problems.append(
                    Problem(column, "A trait is said twice in this row: leave one word of it.")
                )
            said = replace(
                said,
                words=said.words + tuple(one for one in here.words if one.trait not in twice),
                sex=said.sex or here.sex,
                normal=said.normal or here.normal,
            )
        row.said = said
        self._sex(row, said, texts)

    def _sex(self, row: Row, said: Said, texts: list[tuple[int, str]]) -> None:
        """Take the sex that stands with the traits, unless the row says another."""
        if said.sex is None:
            return
        column = self.found.column(Meaning.SEX)
        if column is None or not row.cells[column]:
            row.sex = said.sex
        elif row.sex != said.sex:
            row.problems.append(Problem(texts[0][0], _SEX_TWICE))

    def _copies(self) -> None:
        """Refuse words that need more copies at one place than an animal has."""
        traits = Trait.objects.prefetch_related("lines__locus").in_bulk()
        lines = Line.objects.select_related("locus").in_bulk()
        verdicts: dict[tuple[object, ...], str] = {}
        for row in self.table.rows:
            words = row.said.words if row.said else ()
            key = tuple((one.trait, one.line, one.claim) for one in words)
            if key not in verdicts:
                verdicts[key] = too_many_copies(
                    (
                        Statement(
                            trait=traits[one.trait],
                            line=lines[one.line] if one.line is not None else None,
                            claim=one.claim,
                        ),
                        one.text,
                    )
                    for one in words
                    if one.trait > 0 and (one.line is None or one.line > 0)
                )
            if verdicts[key]:
                column = self.found.column(Meaning.GENES) or self.found.column(Meaning.GENE)
                row.problems.append(Problem(column, verdicts[key]))

    # --- what is left ------------------------------------------------------------------------

    def _contacts(self) -> None:
        """Find the sellers that are new to the book, each once however its letters are."""
        there = {name.casefold() for name in Contact.objects.live().values_list("name", flat=True)}
        new: dict[str, str] = {}
        for row in self.table.rows:
            if row.is_new and row.source and row.source.casefold() not in there:
                new.setdefault(row.source.casefold(), row.source)
        self.found.contacts = list(new.values())

    def _fits(self, row: Row) -> None:
        """Let the record refuse what it cannot hold, and note what looks odd."""
        if row.species is None or not row.code:
            return
        animal = animal_of(row)
        column = self.found.column
        check_fields(
            row,
            animal,
            {
                "code": column(Meaning.CODE), "name": column(Meaning.NAME),
                "hatched_on": column(Meaning.HATCHED), "hatched_year": column(Meaning.HATCHED),
                "acquired_on": column(Meaning.ACQUIRED), "place": column(Meaning.PLACE),
            },
        )  # fmt: skip
        if row.hatched_on and row.acquired_on and row.acquired_on < row.hatched_on:
            said = "It came before it hatched. Correct one of the two days."
            row.problems.append(Problem(column(Meaning.ACQUIRED), said))
        row.remarks += odd_animal(animal)


def animal_of(row: Row) -> Animal:
    """Return the animal that a row makes, without its parents and its source."""
    return Animal(
        species=row.species,
        code=row.code,
        name=row.name,
        sex=row.sex,
        sex_told="bred" if row.has_bred else "",
        hatched_on=row.hatched_on,
        hatched_year=row.hatched_year,
        acquired_on=row.acquired_on,
        status=row.status,
        place=row.place,
        notes="\n".join(row.notes),
    )


def _every(of_rows: Iterable[list[tuple[int, str]]]) -> Iterable[str]:
    return (text for texts in of_rows for _, text in texts)


def _digest(found: Checked) -> str:
    """What stands for everything that would be written."""
    rows = [
        (
            row.number, row.fate.value, row.code, row.species and row.species.pk, str(row.sex),
            str(row.there), sorted(row.fills), tuple(map(str, row.parents)),
            None if row.clutch is None else (row.clutch.code, row.clutch.there is None),
            row.said.words if row.said else (), row.remarks,
        )
        for row in found.rows
    ]  # fmt: skip
    whole = repr((rows, found.contacts, found.traits, found.lines))
    return hashlib.sha256(whole.encode()).hexdigest()[:32]


__all__ = ["Choices", "Table", "animal_of", "check", "checked"]
