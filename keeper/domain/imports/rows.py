"""What the dry run knows of each row: what it says, what is wrong with it, what becomes of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from keeper.domain.imports.genes import NewLine, NewTrait, Said
from keeper.domain.imports.tables.meanings import Meaning
from keeper.models import Animal, Clutch, Sex, Species, Status


class Fate(StrEnum):
    """What becomes of a row."""

    NEW = "new"
    THERE = "there"
    OUT = "out"
    ASKED = "asked"
    PROBLEM = "problem"


FATES: Mapping[Fate, str] = {
    Fate.NEW: "a new animal",
    Fate.THERE: "in the book already",
    Fate.OUT: "left out",
    Fate.ASKED: "waits for an answer",
    Fate.PROBLEM: "to be mended",
}


@dataclass(frozen=True)
class Problem:
    """Something that keeps a row from being written: where, what, and what could stand there."""

    column: int | None
    said: str
    offer: str = ""


@dataclass(frozen=True)
class Question:
    """Something that the keeper answers once for all rows that it is about.

    Attributes:
        key: what the answer is kept under.
        kind: trait, line, parent, species or same.
        text: as it stands in the file.
        about: more of it in words: the trait of a line, the row of a likely double.
        near: answers that look likely.
        rows: the numbers of the rows that ask it.
    """

    key: str
    kind: str
    text: str
    about: str = ""
    near: tuple[str, ...] = ()
    rows: tuple[int, ...] = ()


@dataclass(eq=False, repr=False)
class Row:
    """A row of the table, its cells with what was mended in them."""

    number: int
    cells: list[str]
    problems: list[Problem] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    asks: list[str] = field(default_factory=list)
    is_out: bool = False
    there: Animal | None = None
    fills: dict[str, object] = field(default_factory=dict)
    code: str = ""
    name: str = ""
    species: Species | None = None
    sex: Sex = Sex.UNKNOWN
    has_bred: bool = False
    hatched_on: date | None = None
    hatched_year: int | None = None
    acquired_on: date | None = None
    status: Status = Status.KEPT
    place: str = ""
    source: str = ""
    clutch_code: str = ""
    said: Said | None = None
    dam: "Parent | None" = None
    sires: "list[Parent]" = field(default_factory=list)
    clutch: "PlannedClutch | None" = None

    @property
    def fate(self) -> Fate:
        """What becomes of it."""
        if self.is_out:
            return Fate.OUT
        if self.problems:
            return Fate.PROBLEM
        if self.asks:
            return Fate.ASKED
        return Fate.THERE if self.there is not None else Fate.NEW

    @property
    def is_new(self) -> bool:
        """Whether it would be an animal of its own once all is mended."""
        return not self.is_out and self.there is None

    @property
    def parents(self) -> "list[Parent]":
        """Everybody it may descend from directly."""
        return [*([self.dam] if self.dam is not None else []), *self.sires]

    def __str__(self) -> str:
        return self.code or self.name or f"row {self.number}"


Parent = Row | Animal


@dataclass(eq=False, repr=False)
class PlannedClutch:
    """A clutch that rows hatch from: one of the book, or one that is made of them."""

    code: str
    species: Species
    dam: Parent | None
    sires: list[Parent]
    hatched_on: date | None
    there: Clutch | None = None
    rows: list[Row] = field(default_factory=list)


@dataclass(repr=False)
class Checked:
    """The dry run of a whole table.

    Attributes:
        heads, meanings: of its columns.
        rows: every row with something in it.
        questions: those not answered yet, in the order in which they came up.
        clutches: those that rows hatch from.
        contacts: names of new contacts.
        traits, lines: what the register gets.
    """

    heads: Sequence[str]
    meanings: Sequence[Meaning]
    rows: list[Row]
    questions: list[Question] = field(default_factory=list)
    clutches: list[PlannedClutch] = field(default_factory=list)
    contacts: list[str] = field(default_factory=list)
    traits: list[NewTrait] = field(default_factory=list)
    lines: list[NewLine] = field(default_factory=list)
    digest: str = ""

    def of(self, fate: Fate) -> list[Row]:
        """Return the rows of a fate."""
        return [row for row in self.rows if row.fate == fate]

    @property
    def counts(self) -> dict[Fate, int]:
        """How many rows there are of each fate."""
        found = dict.fromkeys(Fate, 0)
        for row in self.rows:
            found[row.fate] += 1
        return found

    @property
    def new_clutches(self) -> list[PlannedClutch]:
        """Clutches that are made."""
        return [one for one in self.clutches if one.there is None]

    @property
    def remarked(self) -> list[Row]:
        """Rows about which something looks odd."""
        return [row for row in self.rows if row.remarks and not row.is_out]

    @property
    def is_ready(self) -> bool:
        """Whether nothing waits for the keeper and there is something to write."""
        counts = self.counts
        waits = counts[Fate.PROBLEM] or counts[Fate.ASKED] or self.questions
        fills = any(row.fills for row in self.rows if row.fate == Fate.THERE)
        return not waits and bool(counts[Fate.NEW] or fills)

    def column(self, meaning: Meaning) -> int | None:
        """Return the column of a meaning."""
        return next((n for n, one in enumerate(self.meanings) if one == meaning), None)
