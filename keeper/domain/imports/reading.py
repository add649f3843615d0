"""The dry run, first step: what the cells of each row say by themselves."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date

from django.core.exceptions import ValidationError
from django.utils import timezone

from keeper.domain.imports.choices import Choices
from keeper.domain.imports.rows import Problem, Row
from keeper.domain.imports.table import Table
from keeper.domain.imports.tables import cells, days
from keeper.domain.imports.tables.meanings import Meaning, key_of
from keeper.models import Animal, Species

# Heads under which a cell needs no head before it in the notes.
_NOTES = {"note", "notes", "remark", "remarks", "comment", "comments"}
_FORMULA = "This cell holds a formula. Write what it gives."
_DAYS = (Meaning.HATCHED, Meaning.ACQUIRED)


def order_of_days(table: Table, choices: Choices) -> str:
    """Return the order of days in a table, or nothing where it has to be asked."""
    return choices.order or days.order_of(table.cells(*_DAYS))


def read_cells(table: Table, choices: Choices, mended: Mapping[str, Mapping[str, str]]) -> None:
    """Put into each row what its cells say; what cannot be read becomes a problem there."""
    read = _Cells(table, choices, mended)
    for row in table.rows:
        if not row.is_out:
            read.row(row)


class _Cells:
    def __init__(
        self, table: Table, choices: Choices, mended: Mapping[str, Mapping[str, str]]
    ) -> None:
        self.table, self.mended, self.unit = table, mended, choices.unit
        self.order = order_of_days(table, choices)
        self.counted = cells.counts_sexes(table.cells(Meaning.SEX))
        self.today = timezone.localdate()
        self.steps: Sequence[tuple[int, Meaning]] = [
            (n, one) for n, one in enumerate(table.meanings) if one != Meaning.LEFT
        ]
        self.takes: Mapping[Meaning, Callable[[Row, int, str], None]] = {
            Meaning.SEX: self._sex,
            Meaning.HATCHED: self._hatched,
            Meaning.ACQUIRED: self._acquired,
            Meaning.STATUS: self._status,
            Meaning.WEIGHT: self._weight,
            Meaning.NOTE: self._note,
        }
        self.kept = {
            Meaning.CODE: "code",
            Meaning.NAME: "name",
            Meaning.PLACE: "place",
            Meaning.SOURCE: "source",
            Meaning.CLUTCH: "clutch_code",
        }

    def row(self, row: Row) -> None:
        mended = self.mended.get(str(row.number), {})
        for column, meaning in self.steps:
            text = row.cells[column]
            if not text:
                continue
            if text.startswith("=") and str(column) not in mended:
                row.problems.append(Problem(column, _FORMULA))
            elif meaning in self.kept:
                self._keep(row, column, self.kept[meaning], text)
            elif meaning in self.takes:
                self.takes[meaning](row, column, text)

    def _keep(self, row: Row, column: int, name: str, text: str) -> None:
        model_field = _FIELDS.get(name)
        most = model_field if model_field is not None else 80
        if len(text) > most and name != "code":
            row.problems.append(
                Problem(column, f"{len(text)} letters, and {most} have room. Shorten it.")
            )
        setattr(row, name, text)

    def _sex(self, row: Row, column: int, text: str) -> None:
        try:
            row.sex = cells.sex(text, counted=self.counted)
        except ValueError as error:
            row.problems.append(Problem(column, str(error)))

    def _status(self, row: Row, column: int, text: str) -> None:
        try:
            row.status = cells.status(text)
        except ValueError as error:
            row.problems.append(Problem(column, str(error)))

    def _weight(self, row: Row, column: int, text: str) -> None:
        try:
            row.notes.append(f"Weight: {cells.weight(text, self.unit)}")
        except ValueError as error:
            row.problems.append(Problem(column, str(error)))

    def _note(self, row: Row, column: int, text: str) -> None:
        head = self.table.heads[column]
        row.notes.append(text if key_of(head) in _NOTES else f"{head}: {text}")

    def _hatched(self, row: Row, column: int, text: str) -> None:
        found = self._day(row, column, text)
        if isinstance(found, date):
            row.hatched_on, row.hatched_year = found, found.year
        elif found is not None:
            row.hatched_year = found

    def _acquired(self, row: Row, column: int, text: str) -> None:
        found = self._day(row, column, text)
        if isinstance(found, date):
            row.acquired_on = found
        elif found is not None:
            row.notes.append(f"{self.table.heads[column]}: {text}")

    def _day(self, row: Row, column: int, text: str) -> date | int | None:
        try:
            return days.read(text, self.order, self.today)
        except ValueError as error:
            offer = days.offered(text)
            said = f"{error} As a spreadsheet counts days it is {offer}." if offer else str(error)
            row.problems.append(Problem(column, said, offer))
            return None


_FIELDS: Mapping[str, int] = {
    "name": Animal._meta.get_field("name").max_length or 0,
    "place": Animal._meta.get_field("place").max_length or 0,
}


def check_fields(row: Row, animal: Animal, column_of: Mapping[str, int | None]) -> None:
    """Let the record itself refuse what it cannot hold, at the cell it came from."""
    skipped = {"species", "source", "dam", "sire", "clutch", "hatch_row"}
    try:
        animal.clean_fields(exclude=skipped)
    except ValidationError as error:
        wrong = {one.column for one in row.problems}
        for name, errors in error.error_dict.items():
            for one in errors if column_of.get(name) not in wrong else ():
                row.problems.append(Problem(column_of.get(name), " ".join(one.messages)))


def species_by_name(every: Sequence[Species]) -> dict[str, Species]:
    """Return species by their names and scientific names, in small letters."""
    found = {one.scientific_name.casefold(): one for one in every if one.scientific_name}
    return found | {one.name.casefold(): one for one in every}
