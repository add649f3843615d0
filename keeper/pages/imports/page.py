"""What the pages of an import show."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.core.paginator import Paginator

from keeper.domain.imports.rows import FATES, Checked, Fate, Problem, Row
from keeper.domain.imports.tables.heads import letter
from keeper.domain.imports.tables.meanings import Meaning
from keeper.models import Import, Stage

A_PAGE = 50
# What rows are shown by: a fate, or that something about them looks odd.
SHOWS: Mapping[str, str] = {
    "": "All rows",
    **{fate.value: FATES[fate].capitalize() for fate in reversed(Fate)},
    "odd": "Looks odd",
}


@dataclass(frozen=True)
class Narrowing:
    """One way to narrow the rows, with how many there are."""

    key: str
    label: str
    count: int
    is_shown: bool


@dataclass(frozen=True)
class Cell:
    """A cell of a row as it is shown."""

    column: int
    place: str
    head: str
    text: str
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True)
class RowShown:
    """A row of the dry run: what becomes of it, and why."""

    row: Row
    fate: str
    cells: tuple[Cell, ...]
    whole: tuple[Problem, ...]

    @property
    def fills(self) -> str:
        """Which empty fields it would fill."""
        return ", ".join(name.replace("_", " ") for name in self.row.fills)


@dataclass(frozen=True)
class DryRun:
    """The dry run on a page."""

    one: Import
    found: Checked
    narrowings: list[Narrowing]
    show: str
    page: Any
    rows: list[RowShown]

    @property
    def counts(self) -> list[tuple[str, int]]:
        """What would be written, in words with their counts."""
        counts = self.found.counts
        made = [
            ("new animal", counts[Fate.NEW]),
            ("new clutch", len(self.found.new_clutches)),
            ("new contact", len(self.found.contacts)),
            ("new trait", len(self.found.traits)),
            ("new line", len(self.found.lines)),
            ("animal filled in", sum(bool(row.fills) for row in self.found.of(Fate.THERE))),
        ]
        return [(name, count) for name, count in made if count]

    @property
    def problems(self) -> int:
        """How many rows are to be mended."""
        return self.found.counts[Fate.PROBLEM]

    @property
    def has_failed(self) -> bool:
        """Whether it was to be written and was not."""
        return self.one.stage == Stage.FAILED


def dry_run(one: Import, found: Checked, show: str, page: str | None) -> DryRun:
    """Return a page of the dry run."""
    show = show if show in SHOWS else ""
    numbers = {str(fate): count for fate, count in found.counts.items()}
    numbers |= {"": len(found.rows), "odd": len(found.remarked)}
    narrowings = [Narrowing(key, label, numbers[key], key == show) for key, label in SHOWS.items()]
    rows = _rows(found, show)
    shown = Paginator(rows, A_PAGE).get_page(page)
    return DryRun(
        one,
        found,
        [n for n in narrowings if n.count or n.is_shown or not n.key],
        show,
        shown,
        [row_shown(found, row) for row in shown],
    )


def _rows(found: Checked, show: str) -> list[Row]:
    if show == "odd":
        return found.remarked
    return found.of(Fate(show)) if show else found.rows


def row_shown(found: Checked, row: Row) -> RowShown:
    """Return a row as it is shown."""
    cells = []
    for column, meaning in enumerate(found.meanings):
        problems = tuple(one for one in row.problems if one.column == column)
        if (row.cells[column] and meaning != Meaning.LEFT) or problems:
            place = f"{letter(column)}{row.number}"
            cells.append(Cell(column, place, found.heads[column], row.cells[column], problems))
    whole = tuple(one for one in row.problems if one.column is None)
    return RowShown(row, FATES[row.fate], tuple(cells), whole)
