"""What a table means: the file, its sheet and heads, its columns, and what holds for every row."""

from collections import Counter
from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from keeper.domain.imports.choices import Choices, choices_of
from keeper.domain.imports.queries import species_there
from keeper.domain.imports.table import Table, table_of
from keeper.domain.imports.tables import cells, days, files
from keeper.domain.imports.tables.meanings import MEANINGS, Meaning
from keeper.models import Import

_UNITS = {"": "as each cell says", "g": "grams", "oz": "ounces"}
_CODES = {
    "": "They do not: I mend them",
    "name": "From the name",
    "series": "Counted on from a first code",
}
_DAYS = (Meaning.HATCHED, Meaning.ACQUIRED)


class UploadForm(forms.Form):
    """The file."""

    file = forms.FileField(
        label="The table",
        allow_empty_file=True,
        max_length=None,
        help_text="A spreadsheet (xlsx, ods, xls) or a table of plain text (csv, tsv), up to "
        f"{files.LARGEST // 1024**2} MB and {files.MOST_ROWS:,} rows.",
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx,.xlsm,.ods,.xls"}),
    )


class HeadsForm(forms.Form):
    """Which sheet, and which row of it has the heads."""

    sheet = forms.ChoiceField(label="Sheet", required=False)
    head_row = forms.IntegerField(
        label="Row of the heads", min_value=0, max_value=files.MOST_ROWS,
        help_text="0: the table has none.",
    )  # fmt: skip
    head_rows = forms.TypedChoiceField(
        label="The heads take", coerce=int, choices=[(1, "one row"), (2, "two rows")]
    )

    def __init__(self, *args: Any, of: Import, **kwargs: Any) -> None:
        initial = {"sheet": of.sheet, "head_row": of.head_row, "head_rows": of.head_rows or 1}
        super().__init__(*args, **kwargs)
        self.initial.update(initial)
        sheets: Any = self.fields["sheet"]
        sheets.choices = [(one, one) for one in of.sheets]
        if len(of.sheets) < 2:
            del self.fields["sheet"]


class PicksForm(forms.Form):
    """What each column means, and what holds for every row."""

    species = forms.ModelChoiceField(
        species_there().none(), label="Species", required=False, empty_label="as each row says"
    )
    order = forms.ChoiceField(label="Days are written", required=False)
    unit = forms.ChoiceField(label="Weights are in", required=False, choices=_UNITS.items())
    codes = forms.ChoiceField(
        label="Rows without a code get one", required=False, choices=_CODES.items()
    )
    first_code = forms.CharField(label="First code", required=False, max_length=24)
    fit_codes = forms.BooleanField(
        label="Make codes fit: what a code cannot have becomes a dash", required=False
    )
    visual_seen = forms.BooleanField(
        label="What animals without parents are said to be (visual) is seen on them as well",
        required=False,
    )
    whole = forms.BooleanField(
        label="The traits of a row are everything that could be seen on the animal",
        required=False,
        help_text="Then what a row does not name was looked for and was not there.",
    )
    fill = forms.BooleanField(
        label="Fill empty fields of animals that are in the book already",
        required=False,
        help_text="Nothing that stands there is ever overwritten.",
    )

    def __init__(self, *args: Any, of: Import, **kwargs: Any) -> None:
        chosen = choices_of(of)
        initial = {name: getattr(chosen, name) for name in Choices.__dataclass_fields__}
        super().__init__(*args, **kwargs)
        self.initial.update(initial)
        self.of = of
        self.table = table_of(of)
        species: Any = self.fields["species"]
        species.queryset = species_there()
        order: Any = self.fields["order"]
        shown = days.ORDERS.get(days.order_of(self.table.cells(*_DAYS)), "")
        told = f"as the table shows: {shown}" if shown else "not told by the table: choose"
        order.choices = [("", told), *days.ORDERS.items()]
        for number, head in enumerate(of.heads):
            self.fields[f"column_{number}"] = forms.ChoiceField(
                label=head,
                choices=[(one.value, told.label) for one, told in MEANINGS.items()],
                initial=of.picks[number],
            )

    @property
    def columns(self) -> list[tuple[forms.BoundField, Sequence[str]]]:
        """The columns, each with some of its cells."""
        return [
            (self[f"column_{number}"], _samples(self.table, number))
            for number in range(len(self.of.heads))
        ]

    @property
    def picks(self) -> list[str]:
        """What was picked."""
        return [self.cleaned_data[f"column_{number}"] for number in range(len(self.of.heads))]

    def clean(self) -> dict[str, Any]:
        """Refuse a meaning that two columns have, and ask what the cells do not tell."""
        cleaned = super().clean() or {}
        if self.errors:
            return cleaned
        picks = [Meaning(one) for one in self.picks]
        for meaning, count in Counter(picks).items():
            if count > 1 and not MEANINGS[meaning].several:
                last = max(n for n, one in enumerate(picks) if one == meaning)
                self.add_error(
                    f"column_{last}",
                    f"Two columns cannot both be {MEANINGS[meaning].label.lower()}: choose another "
                    "for one, such as notes.",
                )
        self._clean_codes(picks, cleaned)
        if cleaned["species"] is None and Meaning.SPECIES not in picks:
            self.add_error("species", "Choose the species of these animals.")
        table = Table(self.table.heads, picks, self.table.rows)
        if not cleaned["order"] and not days.order_of(table.cells(*_DAYS)):
            self.add_error(
                "order", "Every day of this table can be read in two ways: choose which is meant."
            )
        if not cleaned["unit"] and cells.has_bare_weight(table.cells(Meaning.WEIGHT)):
            self.add_error("unit", "Some weights have no unit: choose it.")
        return cleaned

    def _clean_codes(self, picks: Sequence[Meaning], cleaned: dict[str, Any]) -> None:
        if cleaned["codes"] == "series" and not cleaned["first_code"][-1:].isdecimal():
            self.add_error("first_code", "Write a first code with a number at its end: A-001.")
        if Meaning.CODE not in picks and not cleaned["codes"]:
            self.add_error("codes", "No column has codes: choose how each animal gets one.")
        if cleaned["codes"] == "name" and Meaning.NAME not in picks:
            self.add_error("codes", "No column has names: choose one, or another way.")

    def choices(self) -> Choices:
        """What holds for every row."""
        given = {name: self.cleaned_data[name] for name in Choices.__dataclass_fields__}
        species = given.pop("species")
        return Choices(species=species.pk if species else None, **given)


def _samples(table: Table, column: int) -> list[str]:
    """Some cells of a column, each once."""
    found: dict[str, None] = {}
    for row in table.rows:
        if row.cells[column]:
            found[row.cells[column][:60]] = None
        if len(found) == 3:
            break
    return list(found)


class MendForm(forms.Form):
    """The cells of one row that have a problem, or all of them."""

    def __init__(self, *args: Any, heads: Sequence[str], cells: dict[int, str], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.columns = list(cells)
        for column, text in cells.items():
            self.fields[f"cell_{column}"] = forms.CharField(
                label=heads[column], required=False, initial=text, max_length=files.LONGEST
            )
            self.fields[f"was_{column}"] = forms.CharField(
                required=False, initial=text, widget=forms.HiddenInput
            )

    def texts(self) -> dict[int, tuple[str, str]]:
        """By column what stood there, and what shall."""
        given = self.cleaned_data
        return {
            column: (given[f"was_{column}"], files.readable(given[f"cell_{column}"]))
            for column in self.columns
        }


def version_of(data: Any) -> int:
    """Return the version of the import that a page was made from.

    Raises:
        ValidationError: it says none.
    """
    sent = str(data.get("version", ""))
    if not sent.isdecimal() or len(sent) > 9:
        raise ValidationError("This page is not whole. Open it again.")
    return int(sent)
