"""Several lines of one gene, and the names of what their combinations show."""

from typing import Any

from django import forms

from keeper.domain.register.complexes import (
    FEWEST,
    MOST,
    Combination,
    all_combinations,
    unnamed_lines,
)
from keeper.models import Line, Locus, Species
from keeper.pages.register.line_forms import LineForm
from keeper.pages.register.template_forms import ask_since, names_taken

_ROWS = 3


class ComplexForm(forms.Form):
    """What the complex as a whole is called."""

    name = forms.CharField(
        label="What you call the complex",
        max_length=60,
        help_text="The gene that all of its lines share.",
    )

    def __init__(self, *args: Any, species: Species, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.species = species
        ask_since(self, species)

    def clean_name(self) -> str:
        """Refuse the name of another locus."""
        name = str(self.cleaned_data["name"])
        if Locus.objects.live().filter(species=self.species, name__iexact=name).exists():
            raise forms.ValidationError("This name is in use already. Choose another.")
        return name


class LooksForm(forms.Form):
    """A name for each combination that has one of its own."""

    def __init__(self, *args: Any, species: Species, codes: dict[int, str], **kwargs: Any) -> None:
        """Ask about the lines with these codes, by the row that each stands in."""
        super().__init__(*args, **kwargs)
        self.species, self.codes = species, codes
        self.combinations = {_field(one): one for one in all_combinations(codes)}
        for name, one in self.combinations.items():
            self.fields[name] = forms.CharField(
                label=_label([codes[row] for row in one], len(one)),
                max_length=60,
                required=False,
                widget=forms.TextInput(attrs={"autocomplete": "off"}),
            )

    def clean(self) -> dict[str, Any]:
        """Refuse a name that another trait has, and a line of which nothing is said."""
        cleaned = super().clean() or {}
        taken = names_taken(self.species)
        for name in self.combinations:
            if (cleaned.get(name) or "").casefold() in taken:
                self.add_error(name, "This name is in use already. Choose another.")
        for row in unnamed_lines(self.codes, self._named(cleaned)):
            self.add_error(
                _field((row,)),
                f"{self.codes[row]} is in no combination that has a name. Name one, or take the "
                "line out.",
            )
        return cleaned

    def _named(self, cleaned: dict[str, Any]) -> dict[Combination, str]:
        return {one: cleaned.get(name) or "" for name, one in self.combinations.items()}

    def names(self) -> dict[Combination, str]:
        """Return the name of each combination, its lines counted from 0 in their order."""
        place = {row: number for number, row in enumerate(self.codes)}
        return {
            tuple(place[row] for row in one): name
            for one, name in self._named(self.cleaned_data).items()
        }

    def of(self, copies: int, *, alike: bool = True) -> list[str]:
        """Return the fields for one copy, for two alike, or for two that are not."""
        return [
            name
            for name, one in self.combinations.items()
            if len(one) == copies and (len(set(one)) == 1) == alike
        ]


def _field(one: Combination) -> str:
    return "-".join(str(row) for row in one)


def _label(codes: list[str], copies: int) -> str:
    if copies == 1:
        return f"{codes[0]} with normal"
    return f"{codes[0]} with {codes[1]}"


class Complex:
    """Everything that is asked about a complex: first its lines, then their combinations.

    `sent` says how many lines the page had that was sent, `rows` how many are wanted now.
    """

    def __init__(self, data: Any = None, *, species: Species, sent: int = 0, rows: int = 0) -> None:
        count = min(max(rows, sent or _ROWS), MOST)
        self.rows = count
        self.more = count + 1 if count < MOST else None
        self.head = ComplexForm(data, species=species)
        self.lines = [
            LineForm(
                data if row < (sent or count) else None,
                prefix=f"line{row}",
                first=True,
                optional=True,
            )
            for row in range(count)
        ]
        self.named = self._named() if data is not None else {}
        self.looks: LooksForm | None = None
        self.is_asked = False
        # Sent along, so that a line that came later is asked about before anything is kept.
        self.asked = ",".join(str(row) for row in self.named)
        if data is not None and len(self.named) < FEWEST and not self._faulty():
            self.head.add_error(None, "Name two lines at least: code and name of each.")
        if len(self.named) >= FEWEST:
            self.is_asked = data.get("asked") == self.asked
            self.looks = LooksForm(
                data if self.is_asked or "asked" in data else None,
                prefix="look",
                species=species,
                codes={row: line.cleaned_data["code"] for row, line in self.named.items()},
            )

    def _faulty(self) -> bool:
        """Whether a line is filled in that is not in order."""
        return any(form.errors for form in self.lines if form.has_changed())

    def _named(self) -> dict[int, LineForm]:
        """The lines that are filled in and in order, by row; a code stands for one line only."""
        found: dict[int, LineForm] = {}
        for row, form in enumerate(self.lines):
            if not (form.is_bound and form.has_changed() and form.is_valid()):
                continue
            code = form.cleaned_data["code"]
            if any(other.cleaned_data["code"] == code for other in found.values()):
                form.add_error("code", f"Another line here has the code {code}. Choose another.")
            else:
                found[row] = form
        return found

    @property
    def forms(self) -> list[forms.BaseForm]:
        """All forms that must be in order."""
        return [self.head, *([self.looks] if self.looks else []), *self.lines]

    def chosen(self) -> list[Line]:
        """Return the lines, in the order in which combinations count them."""
        return [form.instance for form in self.named.values()]
