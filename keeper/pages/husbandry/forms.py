"""Forms of husbandry: one record, a round over a place, one animal of a round."""

import re
from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from keeper.domain.husbandry.writes import Fed
from keeper.models import (
    Animal,
    Cleaning,
    HealthNote,
    HusbandryRecord,
    Meal,
    Outcome,
    Quarantine,
    Shed,
    Treatment,
    Weight,
)
from keeper.pages.frame.fields import day_input, has_come, reason_field
from keeper.pages.frame.forms import BookForm

# Grams in an avoirdupois ounce, exactly by its definition (international agreement of 1959,
# quoted from memory).
OUNCE = Decimal("28.349523125")
_TENTH = Decimal("0.1")
_WEIGHT = re.compile(r"(\d{1,7}(?:[.,]\d{1,4})?)\s*(g|kg|oz|ounces?|grams?)?", re.IGNORECASE)
_UNITS = {"k": Decimal(1000), "o": OUNCE, "g": Decimal(1)}
NOT_OFFERED = "none"
_OUTCOMES = [
    (Outcome.TAKEN.value, "took"),
    (Outcome.REFUSED.value, "refused"),
    (Outcome.OFFERED.value, "left"),
    (NOT_OFFERED, "not offered"),
]


class WeightInput(forms.CharField):
    """A weight as a scale shows it, in grams, or with its unit: 480, 480,5, 1.2 kg, 17 oz."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.widget.attrs.update(inputmode="decimal", autocomplete="off", maxlength="16")

    def prepare_value(self, value: Any) -> Any:
        """Show a weight of the book as it would be typed."""
        return f"{value:f}".removesuffix(".0") if isinstance(value, Decimal) else value

    def to_python(self, value: Any) -> Any:
        """Return grams to a tenth, or None where nothing was typed."""
        text = super().to_python(value) or ""
        return read_weight(text) if text else None


def read_weight(text: str) -> Decimal:
    """Return the grams of a weight as it was typed, to a tenth of a gram.

    Raises:
        ValidationError: it is no weight.

    >>> read_weight("1.2 kg"), read_weight("17 oz")
    (Decimal('1200.0'), Decimal('481.9'))
    """
    found = _WEIGHT.fullmatch(text.strip())
    if found is None:
        raise ValidationError("That is no weight. Write grams, such as 480, or 17 oz.")
    try:
        number = Decimal(found[1].replace(",", "."))
    except InvalidOperation as error:  # pragma: no cover - the pattern lets no such text through
        raise ValidationError("That is no weight. Write grams, such as 480.") from error
    unit = _UNITS[(found[2] or "g")[0].lower()]
    return (number * unit).quantize(_TENTH, ROUND_HALF_UP)


class CareForm(BookForm[Any]):
    """What all forms of one record share: its day, and why it is corrected."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"].label = "Day"
        self.fields["on"].widget = day_input()
        if self.instance.pk is None:
            self.initial["on"] = self.initial.get("on") or timezone.localdate()
        else:
            self.fields["reason"] = reason_field()
        if "note" in self.fields:
            self.fields["note"].label = "Note"

    def clean_on(self) -> Any:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["on"])


class MealForm(CareForm):
    """A meal."""

    class Meta:
        model = Meal
        fields = ["outcome", "prey", "grams", "on", "note"]
        labels = {"outcome": "What became of it", "prey": "What", "grams": "Size (g)"}
        help_texts = {"outcome": "", "prey": "", "grams": ""}
        widgets = {
            "outcome": forms.RadioSelect,
            "grams": forms.NumberInput(attrs={"inputmode": "numeric", "min": 1}),
        }

    def __init__(self, *args: Any, last: Meal | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if last is not None and self.instance.pk is None:
            self.initial.update(prey=last.prey, grams=last.grams)


class WeightForm(CareForm):
    """A weight."""

    grams = WeightInput(label="Weight", help_text="Grams, or with its unit: 17 oz.")

    class Meta:
        model = Weight
        fields = ["grams", "on", "note"]


class ShedForm(CareForm):
    """A shed."""

    class Meta:
        model = Shed
        fields = ["came", "on", "note"]
        labels = {"came": "How it came off"}
        help_texts = {"came": ""}
        widgets = {"came": forms.RadioSelect}


class CleaningForm(CareForm):
    """A cleaning."""

    class Meta:
        model = Cleaning
        fields = ["what", "on", "note"]
        labels = {"what": "What was done"}
        help_texts = {"what": ""}
        widgets = {"what": forms.RadioSelect}


class HealthForm(CareForm):
    """A note of health, or what was found after a death."""

    class Meta:
        model = HealthNote
        fields = ["text", "on", "after_death"]
        labels = {"text": "What you saw", "after_death": "It died: this is what was found"}
        help_texts = {"text": "Signs, not causes: those are for a veterinarian to name."}
        widgets = {"text": forms.Textarea(attrs={"rows": 3})}


class TreatmentForm(CareForm):
    """A treatment."""

    class Meta:
        model = Treatment
        fields = ["what", "dose", "ordered_by", "on", "until", "note"]
        labels = {"what": "What", "ordered_by": "Ordered by", "until": "Last day"}
        help_texts = {
            "dose": "As your veterinarian wrote it. The book knows no doses: follow your "
            "veterinarian."
        }
        widgets = {"until": day_input()}


class QuarantineForm(CareForm):
    """A quarantine, and its end."""

    class Meta:
        model = Quarantine
        fields = ["on", "until", "why", "ended_on", "note"]
        labels = {"until": "Until", "why": "Why", "ended_on": "Ended on"}
        widgets = {"until": day_input(), "ended_on": day_input()}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"].label = "From"
        if self.instance.pk is None:
            del self.fields["ended_on"]


FORMS: dict[str, type[CareForm]] = {
    "meal": MealForm,
    "weight": WeightForm,
    "shed": ShedForm,
    "cleaning": CleaningForm,
    "health": HealthForm,
    "treatment": TreatmentForm,
    "quarantine": QuarantineForm,
}


class RoundForm(forms.Form):
    """A round: what was offered to all, and what became of it with each; all preset "took"."""

    prey = forms.CharField(
        required=False,
        max_length=40,
        label="What was offered",
        help_text="Empty: to each what it had last.",
    )
    grams = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=100_000,
        label="Size (g)",
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    on = forms.DateField(label="Day", widget=day_input())

    def __init__(self, *args: Any, animals: Sequence[Animal], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.animals = animals
        self.fields["on"].initial = timezone.localdate()
        for one in animals:
            self.fields[f"meal-{one.pk}"] = forms.ChoiceField(
                choices=_OUTCOMES,
                initial=Outcome.TAKEN.value,
                widget=forms.RadioSelect,
                label=f"Meal of {one.code}",
            )

    @property
    def said(self) -> list[forms.BoundField]:
        """The fields that are about all of them."""
        return [self["prey"], self["grams"], self["on"]]

    def clean_on(self) -> Any:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["on"])

    def fed(self) -> list[Fed]:
        """Return what became of the meals; who was offered none is left out."""
        told = ((one, self.cleaned_data[f"meal-{one.pk}"]) for one in self.animals)
        return [Fed(one, Outcome(said)) for one, said in told if said != NOT_OFFERED]


class EachForm(forms.Form):
    """One animal of a round: its meal, its weight, a word; each may be left out."""

    meal = forms.ChoiceField(
        choices=_OUTCOMES,
        initial=NOT_OFFERED,
        widget=forms.RadioSelect,
        label="Meal",
    )
    prey = forms.CharField(required=False, max_length=40, label="What")
    grams = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=100_000,
        label="Size (g)",
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    weight = WeightInput(required=False, label="Weight (g)")
    note = forms.CharField(required=False, max_length=200, label="Note")
    # When it was typed: what waited on a device for a connection may come a day later.
    on = forms.DateField(required=False, widget=forms.HiddenInput(attrs={"data-today": ""}))

    def __init__(self, *args: Any, last: Meal | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"].initial = timezone.localdate()
        if last is not None:
            self.fields["prey"].initial, self.fields["grams"].initial = last.prey, last.grams

    def clean_on(self) -> Any:
        """Take today where no day was sent, and none that is to come."""
        return has_come(self.cleaned_data["on"] or timezone.localdate())

    def clean(self) -> dict[str, Any]:
        """Ask what was offered, if something was; a note needs something that it is about."""
        cleaned = super().clean() or {}
        offered = cleaned.get("meal") not in (NOT_OFFERED, None)
        if offered and not cleaned.get("prey"):
            self.add_error("prey", "Say what was offered.")
        if cleaned.get("note") and not offered and not cleaned.get("weight") and not self.errors:
            self.add_error("note", "Mark the meal or type the weight that this is about.")
        return cleaned

    def records(self, animal: Animal) -> list[HusbandryRecord]:
        """Return what is to be noted; nothing where all was left out."""
        given, today = self.cleaned_data, self.cleaned_data["on"]
        found: list[HusbandryRecord] = []
        if given["meal"] != NOT_OFFERED:
            found.append(
                Meal(
                    animal=animal,
                    on=today,
                    outcome=given["meal"],
                    prey=given["prey"],
                    grams=given["grams"],
                    note=given["note"],
                )
            )
        if given["weight"] is not None:
            note = "" if found else given["note"]
            found.append(Weight(animal=animal, on=today, grams=given["weight"], note=note))
        return found
