"""Species, contacts and traits, and how a chance is typed."""

from fractions import Fraction
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from keeper.domain.saying.typed_chance import as_typed
from keeper.models import Contact, Shown, Species, Trait, read_chance

_LONGEST = 40


class ChanceInput(forms.CharField):
    """A chance as a keeper writes it, given back in percent."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.widget.attrs.update(autocomplete="off", size="8", maxlength=str(_LONGEST))

    def prepare_value(self, value: Any) -> Any:
        """Show a chance of the book in percent, and what was typed as it was typed."""
        return as_typed(value) if isinstance(value, Fraction) else value

    def to_python(self, value: Any) -> Any:
        """Return the fraction, or None where nothing was typed."""
        text = super().to_python(value) or ""
        if len(text) > _LONGEST:
            raise ValidationError(f"That is too long for a chance: {_LONGEST} characters at most.")
        return read_chance(text) if text else None


def chances(form: forms.BaseForm, **labels: str) -> None:
    """Let fields of a form take chances, under these labels; empty means the model's default."""
    for name, label in labels.items():
        old = form.fields[name]
        initial = Fraction(str(old.initial)) if old.initial not in (None, "") else None
        form.fields[name] = ChanceInput(
            label=label, help_text=old.help_text, required=old.required, initial=initial
        )
        # A new record holds its default as it is written in the model.
        default = form.initial.get(name)
        if default and isinstance(default, str):
            form.initial[name] = read_chance(default)


class ReasonForm(forms.Form):
    """Why a record is changed; kept in its history."""

    reason = forms.CharField(label="Why it changes", max_length=200, required=False)


class WithdrawForm(forms.Form):
    """Why a record is withdrawn."""

    reason = forms.CharField(label="Why it is withdrawn", max_length=200)


class SpeciesForm(forms.ModelForm[Species]):
    """A species and what its clutches are like."""

    class Meta:
        model = Species
        fields = [
            *("name", "scientific_name", "sex_determination"),
            *("female_mature_months", "male_mature_months"),
            *("eggs_usual", "hatch_rate", "incubation_days", "incubation_note", "cautions"),
        ]
        labels = {
            "sex_determination": "Sex chromosomes",
            "female_mature_months": "Females breed from (months)",
            "male_mature_months": "Males breed from (months)",
            "eggs_usual": "Eggs in a usual clutch",
            "incubation_days": "Incubation (days)",
            "incubation_note": "How you incubate",
        }
        help_texts = {
            "sex_determination": "Where your own records and what is published differ, "
            "take what is published.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chances(self, hatch_rate="Hatch rate")
        for name in ("female_mature_months", "male_mature_months", "eggs_usual", "incubation_days"):
            self.fields[name].widget.attrs["inputmode"] = "numeric"
        self.fields["cautions"].widget.attrs["rows"] = 3


class ContactForm(forms.ModelForm[Contact]):
    """Somebody animals come from or go to."""

    class Meta:
        model = Contact
        fields = ["name", "reach", "reliability", "notes"]
        labels = {"reach": "How to reach them"}
        help_texts = {"reach": "Telephone, mail, where they stand at fairs."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chances(self, reliability="How far you take their word")
        self.fields["reliability"].help_text = (
            "100 %: what they state counts as it is said. 80 %: in one case of five you count it "
            "as not said. Your own judgement; it moves numbers, and buyers never see it."
        )
        self.fields["notes"].widget.attrs["rows"] = 3


class TraitForm(forms.ModelForm[Trait]):
    """A trait: how many copies show it, what it hides, what is wrong with it."""

    class Meta:
        model = Trait
        fields = [
            *("name", "shown", "base", "hides", "hides_all"),
            *("penetrance", "mistaken", "harm", "harm_source", "notes"),
        ]
        labels = {
            "name": "Name of the trait",
            "shown": "What shows it",
            "base": "Double form of",
            "hides": "It hides",
            "hides_all": "It hides every other trait",
            "harm": "Harm",
            "harm_source": "Source of that",
        }
        widgets = {
            "shown": forms.RadioSelect,
            "hides": forms.CheckboxSelectMultiple,
            "harm": forms.Textarea(attrs={"rows": 3}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *args: Any, species: Species, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.species = species
        chances(self, penetrance="Penetrance", mistaken="Taken for it by mistake")
        others = Trait.objects.live().filter(species=species).exclude(pk=self.instance.pk)
        base: Any = self.fields["base"]
        base.queryset = others.filter(shown=Shown.SINGLE).order_by("name")
        base.empty_label = "choose"
        hides: Any = self.fields["hides"]
        hides.queryset = others.order_by("name")
        if not others.exists():
            del self.fields["hides"]

    def clean(self) -> dict[str, Any]:
        """Let go of a base that was chosen before another kind was."""
        cleaned = super().clean() or {}
        if cleaned.get("shown") != Shown.EVERY:
            cleaned["base"] = None
        return cleaned

    def hidden_traits(self) -> list[Trait]:
        """Return the traits it hides."""
        return list(self.cleaned_data.get("hides") or [])
