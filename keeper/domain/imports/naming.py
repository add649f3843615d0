"""The dry run, second step: each row's code, and whether the animal is known already."""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from keeper.domain.clutches.hatching import series
from keeper.domain.imports.choices import Choices
from keeper.domain.imports.genes import Answer
from keeper.domain.imports.rows import Problem, Question, Row
from keeper.domain.imports.table import Table
from keeper.domain.imports.tables.meanings import Meaning
from keeper.models import Animal, Sex
from keeper.models.plain_text import looks_like

_LONGEST = 24
_BETWEEN = re.compile(r"(?<=[a-z])[\W_]+(?=\d)|(?<=\d)[\W_]+(?=[a-z])")
_NAUGHTS = re.compile(r"(?<!\d)0+(?=\d)")
_FITS = re.compile(r"[^\W_][\w.-]*")
_NO_CODE = "This animal has no code. Write one, or choose above how such rows get theirs."
_NO_FIT = (
    "A code has letters, figures, and - . _ between them; no spaces. Write it so, or choose above "
    "that codes are made to fit."
)


@dataclass
class Known:
    """The animals of the book by what they may be called in a table.

    Attributes:
        by_code: by their codes in small letters.
        by_name: by their names in small letters; several may have one.
        alike: by what their codes look like.
    """

    by_code: dict[str, Animal] = field(default_factory=dict)
    by_name: dict[str, list[Animal]] = field(default_factory=lambda: defaultdict(list))
    alike: dict[str, list[Animal]] = field(default_factory=lambda: defaultdict(list))

    @classmethod
    def read(cls) -> "Known":
        """Read every animal that counts."""
        known = cls()
        for animal in Animal.objects.live().select_related("species", "clutch").order_by("pk"):
            known.by_code[animal.code.lower()] = animal
            known.alike[alike(animal.code)].append(animal)
            if animal.name:
                known.by_name[animal.name.casefold()].append(animal)
        return known


def alike(code: str) -> str:
    """Return what a code looks like: small plain letters, no signs between letters and figures.

    Nor naughts before a number.

    >>> alike("F-014") == alike("f14"), alike("24-1-11") == alike("24-11-1")
    (True, False)
    """
    plain = re.sub(r"[\W_]+", "-", _BETWEEN.sub("", looks_like(code.strip())))
    return _NAUGHTS.sub("", plain)


def give_codes(table: Table, choices: Choices, known: Known) -> None:
    """Give each row its code, made to fit or made anew where the keeper says so."""
    column = next(iter(table.columns(Meaning.CODE)), None)
    new = _series(choices, known, table)
    for row in table.rows:
        if row.is_out:
            continue
        if not row.code and choices.codes == "name" and row.name:
            row.code = fitted(row.name)
        elif not row.code and new is not None:
            row.code = next(new)
        if not row.code:
            row.problems.append(Problem(column, _NO_CODE))
            continue
        if _FITS.fullmatch(row.code) and len(row.code) <= _LONGEST:
            continue
        if choices.fit_codes and (fits := fitted(row.code)):
            row.notes.append(f"Code in the file: {row.code}")
            row.code = fits
        else:
            row.problems.append(Problem(column, _NO_FIT, fitted(row.code)))


def fitted(text: str) -> str:
    """Return a text as a code: what a code cannot have becomes a dash.

    >>> fitted("Old lady #2")
    'Old-lady-2'
    """
    plain = re.sub(r"[^\w.-]+", "-", text).strip("-._")[:_LONGEST].rstrip("-._")
    return plain if _FITS.fullmatch(plain) else ""


def _series(choices: Choices, known: Known, table: Table) -> Iterator[str] | None:
    if choices.codes != "series" or not re.search(r"\d{1,9}$", choices.first_code):
        return None
    used = known.by_code.keys() | {row.code.lower() for row in table.rows}
    many = series(choices.first_code, len(table.rows) + len(used) + 1)
    return (code for code in many if code.lower() not in used)


def find_known(
    table: Table, choices: Choices, known: Known, answers: Mapping[str, Answer]
) -> list[Question]:
    """Match rows with the book and with each other; return what has to be asked."""
    column = next(iter(table.columns(Meaning.CODE)), None)
    rows = [row for row in table.rows if not row.is_out and row.code]
    codes: dict[str, Row] = {}
    for row in rows:
        low = row.code.lower()
        if low in codes:
            said = f"Row {codes[low].number} has the code {row.code} too. Change or leave out one."
            row.problems.append(Problem(column, said))
        else:
            codes[low] = row
        row.there = known.by_code.get(low)
    twins = _Twins(rows)
    found = [
        question
        for row in rows
        if row.there is None and (question := _likely(row, twins, known, answers)) is not None
    ]
    for row in rows:
        if row.there is not None:
            _fill(row, row.there, choices)
    return found


class _Twins:
    """Rows by what their codes look like, and by name and hatch day."""

    def __init__(self, rows: Iterable[Row]) -> None:
        self.alike: dict[str, list[Row]] = defaultdict(list)
        self.named: dict[tuple[str, object], list[Row]] = defaultdict(list)
        for row in rows:
            self.alike[alike(row.code)].append(row)
            if row.name and row.hatched_on:
                self.named[row.name.casefold(), row.hatched_on].append(row)

    def before(self, row: Row) -> Row | None:
        """The first row above that may be the same animal under another code."""
        likely = list(self.alike[alike(row.code)])
        if row.name and row.hatched_on:
            likely += self.named[row.name.casefold(), row.hatched_on]
        above = (one for one in likely if one.number < row.number)
        return next((one for one in above if one.code.lower() != row.code.lower()), None)


def _likely(
    row: Row, twins: _Twins, known: Known, answers: Mapping[str, Answer]
) -> Question | None:
    """Ask whether a row is an animal that the book, or a row above, has under another code."""
    other: Animal | Row | None = next(iter(known.alike.get(alike(row.code), ())), None)
    if other is None and row.name and row.hatched_on:
        same = known.by_name.get(row.name.casefold(), ())
        other = next((one for one in same if one.hatched_on == row.hatched_on), None)
    other = other or twins.before(row)
    if other is None:
        return None
    key = f"same:{row.number}:{row.code.lower()}:{_code(other).lower()}"
    answer = answers.get(key)
    if answer is None:
        row.asks.append(key)
    elif answer["is"] == "same":
        if isinstance(other, Animal):
            row.there = other
        else:
            row.is_out = True
    where = "in the book" if isinstance(other, Animal) else f"in row {other.number}"
    named = f" {other.name}" if other.name else ""
    about = f"{other.code}{named}, {where}"
    return Question(key, "same", f"{row.code} {row.name}".strip(), about, rows=(row.number,))


def _code(other: Animal | Row) -> str:
    return other.code


# Fields of an animal in the book that a row may fill where they are empty.
_FILLED = ("name", "hatched_on", "acquired_on", "place", "notes")


def _fill(row: Row, there: Animal, choices: Choices) -> None:
    """Note which empty fields of an animal in the book the row would fill."""
    if not choices.fill:
        return
    values: dict[str, object] = {
        "name": row.name,
        "hatched_on": row.hatched_on,
        "acquired_on": row.acquired_on,
        "place": row.place,
        "notes": "\n".join(row.notes),
    }
    year_fits = there.hatched_year in {None, row.hatched_year}
    row.fills = {
        name: values[name]
        for name in _FILLED
        if values[name] and not getattr(there, name) and (name != "hatched_on" or year_fits)
    }
    if row.sex != Sex.UNKNOWN and there.sex == Sex.UNKNOWN:
        row.fills["sex"] = row.sex
