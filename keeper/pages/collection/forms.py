"""What may be asked of the collection. Every filter lives in the address."""

import re
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.http import QueryDict

from keeper.domain.collection.queries import SORTS, Carrying, Filters
from keeper.models import Line, NamedLook, SavedView, Sex, Species, Status, Trait, Word
from keeper.pages.frame.forms import BookForm

# How many genes can be asked for at once.
GENES = ("", "2", "3")
# What an address may say, in the order in which it says it.
PARAMETERS = (
    *("q", "species", "sex", "status", "place", "year"),
    *(f"{name}{number}" for number in GENES for name in ("gene", "has", "least")),
    *("mixed", "disputed", "sort"),
)
_STANDARD = {
    "sort": "code",
    "status": "here",
    "has": "carries",
    "has2": "carries",
    "has3": "carries",
}

SEXES = [
    ("", "any sex"),
    (Sex.MALE.value, "1.0 males"),
    (Sex.FEMALE.value, "0.1 females"),
    (Sex.UNKNOWN.value, "0.0.1 not known"),
]
STATUSES = [
    ("", "here"),
    *((status.value, status.label) for status in Status),
    ("all", "any, gone ones too"),
    ("withdrawn", "withdrawn from the book"),
]
HAS = [
    ("", "carries it"),
    ("shows", "shows it"),
    ("two", "has two copies"),
    (
        "in the words of the book",
        [(word.value, word.label) for word in Word if word != Word.VISUAL],
    ),
]

MIXED = [
    ("", "any"),
    ("certain", "mixed for certain"),
    ("possible", "possibly mixed"),
    ("any", "mixed or possibly"),
    ("not", "not mixed"),
]


def plain_query(data: Mapping[str, Any]) -> str:
    """Return an address's filters in one spelling: what says nothing is left out."""
    kept = [
        (name, value)
        for name in PARAMETERS
        if (value := str(data.get(name, "")).strip()) and value != _STANDARD.get(name)
    ]
    return urlencode(kept)


class FiltersForm(forms.Form):
    """The filters of an address; one that means nothing is said so and not used."""

    use_required_attribute = False

    q = forms.CharField(required=False, max_length=100, label="Code or name")
    species = forms.ChoiceField(required=False)
    sex = forms.ChoiceField(required=False, choices=SEXES)
    status = forms.ChoiceField(required=False, choices=STATUSES)
    place = forms.CharField(required=False, max_length=40, label="Place begins with")
    year = forms.CharField(
        required=False,
        max_length=11,
        label="Hatched",
        widget=forms.TextInput({"placeholder": "2024-2026"}),
    )
    mixed = forms.ChoiceField(required=False, choices=MIXED, label="Mixed lines")
    disputed = forms.BooleanField(required=False, label="disputed only")
    sort = forms.CharField(required=False, max_length=20, widget=forms.HiddenInput)

    def __init__(self, data: QueryDict) -> None:
        super().__init__(data, auto_id="by_%s")
        self.names = _gene_names()
        choices = _gene_choices(self.names)
        for number in GENES:
            self.fields[f"gene{number}"] = forms.ChoiceField(
                required=False, choices=choices, label="Trait or line"
            )
            self.fields[f"has{number}"] = forms.ChoiceField(
                required=False, choices=HAS, label="How"
            )
            self.fields[f"least{number}"] = forms.DecimalField(
                required=False,
                min_value=0,
                max_value=100,
                label="At least, %",
                widget=forms.TextInput({"inputmode": "decimal"}),
            )
        kinds = list(Species.objects.live().order_by("name").values_list("pk", "name"))
        self.species_names = {str(pk): name for pk, name in kinds}
        species = self.fields["species"]
        assert isinstance(species, forms.ChoiceField)
        species.choices = [("", "any species"), *self.species_names.items()]

    @property
    def gene_rows(self) -> list[tuple[forms.BoundField, forms.BoundField, forms.BoundField]]:
        """The fields of each condition on a gene."""
        return [(self[f"gene{n}"], self[f"has{n}"], self[f"least{n}"]) for n in GENES]

    @property
    def asks_for_more(self) -> bool:
        """Whether a second or third gene is asked for, whose fields must then be open."""
        return any(
            self.data.get(f"{name}{n}") for n in GENES[1:] for name in ("gene", "has", "least")
        )

    def clean_year(self) -> tuple[int, int] | None:
        """Read "2026" and "2024-2026"."""
        typed = str(self.cleaned_data["year"])
        if not typed:
            return None
        found = re.fullmatch(r"(\d{4})(?:\s*[-–]\s*(\d{4}))?", typed)
        if not found:
            raise forms.ValidationError("Write a year like 2026, or two like 2024-2026.")
        first, last = int(found[1]), int(found[2] or found[1])
        return min(first, last), max(first, last)

    def clean_sort(self) -> str:
        """Read the column to sort by; an unknown one is the code."""
        key = str(self.cleaned_data["sort"])
        return key if key.removeprefix("-") in SORTS else "code"

    def filters(self) -> Filters:
        """Return what is asked, without what could not be read."""
        self.is_valid()
        said = self.cleaned_data
        return Filters(
            text=said.get("q", ""),
            species=int(said["species"]) if said.get("species") else None,
            sex=said.get("sex", ""),
            status=said.get("status") or "here",
            place=said.get("place", ""),
            years=said.get("year"),
            carrying=tuple(one for n in GENES if (one := self._carrying(n)) is not None),
            mixed=said.get("mixed", ""),
            disputed=bool(said.get("disputed")),
            sort=said.get("sort") or "code",
        )

    def problems(self) -> list[str]:
        """Return what could not be read, in words."""
        return [
            f"{self.fields[name].label or name.capitalize()}: {text}"
            for name, texts in self.errors.items()
            for text in texts
        ]

    def label_of(self, name: str) -> str:
        """Return the words of a choice that was made."""
        field, value = self.fields[name], self.cleaned_data.get(name, "")
        assert isinstance(field, forms.ChoiceField)
        choices: Any = field.choices
        return str(dict(choices).get(value, "")) if value else ""

    def carrying_in_words(self) -> list[str]:
        """Return each condition on a gene in words: "carries Saltgrass HAR, at least 50 %"."""
        return [
            self._condition_in_words(one, self.cleaned_data.get(f"gene{number}", ""))
            for number in GENES
            if (one := self._carrying(number)) is not None
        ]

    def _condition_in_words(self, one: Carrying, gene: str) -> str:
        name = self.names[gene][0] if gene else "any trait"
        how = {"carries": "carries", "shows": "shows", "two": "has two copies of"}.get(one.how)
        if one.look is not None and one.least == 0:
            return f"may show {name}"
        words = f"{how} {name}" if how else f"{name}: {Word(one.how).label}"
        if not one.least:
            return words
        if one.least >= 100:
            return f"{words}, for certain"
        return f"{words}, at least {one.least.normalize():f} %"

    def _carrying(self, number: str) -> Carrying | None:
        said = self.cleaned_data
        gene, how = said.get(f"gene{number}", ""), said.get(f"has{number}", "")
        least = said.get(f"least{number}")
        if not (gene or how or least):
            return None
        if gene.startswith("l"):
            return Carrying(look=int(gene[1:]), how="shows", least=least)
        trait, line = (int(part) if part else None for part in (f"{gene}-".split("-")[:2]))
        return Carrying(trait=trait, line=line, how=how or "carries", least=least)


class ViewForm(BookForm[SavedView]):
    """The name of a saved view."""

    class Meta:
        model = SavedView
        fields = ["name"]
        labels = {"name": "Name for this view"}


def _gene_names() -> dict[str, tuple[str, str]]:
    """`trait`, `trait-line` and `l` with a named look → what it is called, and its species."""
    names: dict[str, tuple[str, str]] = {}
    traits = Trait.objects.live().order_by("species__name", "name")
    lines: dict[int, list[tuple[int, str]]] = {}
    for line, trait, code in (
        Line.objects.live().order_by("code").values_list("pk", "trait", "code")
    ):
        lines.setdefault(trait, []).append((line, code))
    for trait, name, species in traits.values_list("pk", "name", "species__name"):
        names[str(trait)] = (name, species)
        for line, code in lines.get(trait, []):
            names[f"{trait}-{line}"] = (f"{name} {code}", species)
    looks = NamedLook.objects.live().order_by("species__name", "name")
    for look, name, species in looks.values_list("pk", "name", "species__name"):
        names[f"l{look}"] = (name, species)
    return names


def _gene_choices(names: dict[str, tuple[str, str]]) -> list[Any]:
    groups: dict[str, list[tuple[str, str]]] = {}
    for value, (name, species) in names.items():
        label = name if "-" in value else f"{name}, any line"
        if value.startswith("l"):
            label = f"{name} (look of several genes)"
        groups.setdefault(species, []).append((value, label))
    return [("", "any"), *groups.items()]
