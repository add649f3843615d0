"""What is said and seen of traits: its form, and the rows in which several are entered at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q

from keeper.models import TYPED_CLAIMS, Contact, Paper, Species, Statement
from keeper.pages.frame.fields import (
    chances,
    day_input,
    has_come,
    line_field,
    trait_field,
)
from keeper.pages.frame.forms import BookForm, leave_people_out

_LINE_HELP = (
    "Where nobody told which, leave it at “line not known”: the word then counts for each line of "
    "the trait by the share that the register gives it."
)


class TraitOfLine(forms.BaseForm):
    """A form with a trait and a line: a line says its trait as well."""

    def clean(self) -> dict[str, Any]:
        """Take the trait from the line where it was left out."""
        cleaned = super().clean() or {}
        if cleaned.get("line") and not cleaned.get("trait"):
            cleaned["trait"] = cleaned["line"].trait
        if not cleaned.get("trait") and "trait" not in self.errors:
            self.add_error("trait", "Choose a trait, or one of its lines.")
        return cleaned


def only_typed(field: Any) -> None:
    """Offer of what may be claimed only what people type, and not what signed papers say."""
    field.choices = [*(one for one in field.choices if not one[0]), *TYPED_CLAIMS]


class StatementForm(TraitOfLine, BookForm[Statement]):
    """What a source says of one trait. A line says its trait as well."""

    class Meta:
        model = Statement
        fields = ["trait", "line", "claim", "chance", "source", "paper", "on"]
        labels = {
            "claim": "What it is said to be",
            "chance": "How likely",
            "source": "On whose word",
            "on": "When it was said",
        }
        widgets = {
            "on": day_input(),
        }

    def __init__(self, *args: Any, species: Species | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chances(self, chance="How likely")
        only_typed(self.fields["claim"])
        self.fields["chance"].widget.attrs.update(inputmode="decimal", placeholder="66 %")
        self.fields["trait"] = trait_field(species, keep=self.instance.trait_id, required=False)
        self.fields["line"] = line_field(species, keep=self.instance.line_id)
        animal_id = self.instance.animal_id
        if "paper" in self.fields:
            papers: Any = self.fields["paper"]
            of_animal = Paper.objects.live().filter(animal=animal_id)
            papers.queryset = of_animal.select_related("source", "animal")
        if "source" in self.fields:
            self.fields["line"].help_text = _LINE_HELP
            sources: Any = self.fields["source"]
            sources.queryset = Contact.objects.filter(
                Q(withdrawn_at=None) | Q(pk=self.instance.source_id)
            )
        leave_people_out(self, "source", "paper")

    def clean_on(self) -> date | None:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["on"])


# Rows offered, and how many of them are not folded away on the page.
_ROWS, _OPEN = 8, 2


@dataclass(frozen=True)
class Offered:
    """The choices of traits and lines, read once for all rows."""

    traits: list[Any]
    lines: list[Any]

    @classmethod
    def read(cls) -> "Offered":
        """Read them."""
        trait: Any = trait_field(None)
        line: Any = line_field(None)
        return cls(list(trait.choices), list(line.choices))


def _offer(form: Any, **choices: list[Any]) -> None:
    for name, values in choices.items():
        form.fields[name].choices = values


class TraitRows(forms.BaseFormSet[Any]):
    """Rows of which each names a trait at most once; the first few are open on the page."""

    @property
    def first(self) -> list[Any]:
        """The rows shown at once."""
        return self.forms[:_OPEN]

    @property
    def rest(self) -> list[Any]:
        """The rows folded away."""
        return self.forms[_OPEN:]

    @property
    def rest_is_used(self) -> bool:
        """Whether something stands in a row folded away."""
        return self.is_bound and any(row.has_changed() for row in self.rest)

    def clean(self) -> None:
        """Refuse a trait that is named twice."""
        traits = [
            row.cleaned_data["trait"] for row in self.filled() if row.cleaned_data.get("trait")
        ]
        twice = {str(trait) for trait in traits if traits.count(trait) > 1}
        if twice:
            raise ValidationError(f"Named twice: {', '.join(sorted(twice))}. Keep one row.")

    def filled(self) -> Sequence[Any]:
        """Return the rows that say something."""
        return [row for row in self.forms if row.has_changed()]

    def suit(self, species: Species) -> bool:
        """Refuse traits of another species; return whether there were none."""
        wrong = [
            row
            for row in self.filled()
            if (trait := row.cleaned_data.get("trait")) and trait.species_id != species.pk
        ]
        for row in wrong:
            row.add_error(
                "trait",
                f"{row.cleaned_data['trait']} is no trait of {species}. Choose one that is.",
            )
        return not wrong
