"""Species and traits."""

from fractions import Fraction
from typing import Any

from django import forms
from django.utils import timezone

from keeper.domain.register.queries import has_whole_looks
from keeper.models import Shown, Species, Trait
from keeper.models.species import WAY_STEPS
from keeper.pages.frame.fields import chances, day_input
from keeper.pages.frame.forms import BookForm, SeveralChoice

ENDS = ("least", "most")


class SpeciesForm(BookForm[Species]):
    """A species and what its clutches are like."""

    class Meta:
        model = Species
        fields = [
            *("name", "scientific_name", "sex_determination"),
            *("female_mature_months", "male_mature_months"),
            *("eggs_usual", "eggs_most", "hatch_rate"),
            *("incubation_days", "incubation_least", "incubation_most", "incubation_note"),
            *("figures_source", "bearing", *(f"{one}_{end}" for one in WAY_STEPS for end in ENDS)),
            *("fertile_days", "lock_weight", "stores_sperm", "alone_known"),
            *("way_source", "loss_percent", "loss_laid_percent", "loss_weeks", "refusals_usual"),
            "cautions",
        ]
        labels = {
            "sex_determination": "What decides sex",
            "female_mature_months": "Females breed from (months)",
            "male_mature_months": "Males breed from (months)",
            "eggs_usual": "Eggs in a usual clutch",
            "eggs_most": "Most eggs",
            "incubation_days": "Incubation (days)",
            "incubation_least": "At least (days)",
            "incubation_most": "At most (days)",
            "figures_source": "Where these figures are from",
            "incubation_note": "How you incubate",
            "bearing": "Young",
            "ovulation_shed_least": "Ovulation to the shed before laying, at least (days)",
            "ovulation_shed_most": "At most (days)",
            "shed_laying_least": "That shed to laying, at least (days)",
            "shed_laying_most": "At most (days)",
            "ovulation_birth_least": "Ovulation to birth, at least (days)",
            "ovulation_birth_most": "At most (days)",
            "hatch_shed_least": "Hatching to the first shed, at least (days)",
            "hatch_shed_most": "At most (days)",
            "shed_meal_least": "First shed to the first meal, at least (days)",
            "shed_meal_most": "At most (days)",
            "fertile_days": "A mating may count for so many days before laying",
            "lock_weight": "A seen lock weighs, where being put together weighs 1",
            "stores_sperm": "Females keep sperm from one season to the next",
            "way_source": "Where these are from",
            "loss_percent": "Loss of weight (percent)",
            "loss_laid_percent": "Loss of weight of a dam that laid (percent)",
            "loss_weeks": "Looking back (weeks)",
            "refusals_usual": "Refusals in a row",
        }
        help_texts = {
            "eggs_most": "More are asked about. Empty: three times the usual.",
            "incubation_least": "Fewer are asked about. Empty: two thirds of the usual.",
            "incubation_most": "More are asked about. Empty: half as much again.",
            "ovulation_birth_least": "Of those that bear live young.",
            "way_source": "Empty: common practice, no source. Days left empty are, of those that "
            "lay eggs, taken as with pythons.",
            "loss_percent": "A greater loss is pointed out. Your own figure: common practice, no "
            "source.",
            "sex_determination": "Of some geckos and most turtles temperature does: then no gene "
            "sits on a sex chromosome, and no figure of the book takes males and females to be "
            "even. Where your own records and what is published differ, take what is published.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chances(self, hatch_rate="Hatch rate")
        for name, field in self.fields.items():
            if name.startswith(("loss_", "refusals_")):
                # Asked by no form of an earlier day: empty is as it was.
                field.required = False
                field.widget.attrs["inputmode"] = "numeric"
            if name.endswith(("_months", "_days", "_usual", "_least", "_most")):
                field.widget.attrs["inputmode"] = "numeric"
        # What is not sent is as the book takes it without being told.
        for name in ("bearing", "fertile_days", "lock_weight"):
            self.fields[name].required = False
        self.fields["cautions"].widget.attrs["rows"] = 3


class TraitForm(BookForm[Trait]):
    """A trait: how many copies show it, what it hides, what is wrong with it."""

    class Meta:
        model = Trait
        fields = [
            *("name", "shown", "base", "hides", "hides_all"),
            *("told_from", "told_until", "looked_for_since"),
            *("penetrance", "mistaken", "overlooked", "harm", "harm_source", "notes"),
        ]
        field_classes = {"hides": SeveralChoice}
        labels = {
            "name": "Name of the trait",
            "shown": "What shows it",
            "base": "Double form of",
            "hides": "It hides",
            "hides_all": "It hides every other trait",
            "harm": "Harm",
            "harm_source": "Source of that",
            "told_from": "Can be told from, in days after hatching",
            "told_until": "Fades, in days after hatching",
            "looked_for_since": "Looked for since",
        }
        widgets = {
            "looked_for_since": day_input(),
            "shown": forms.RadioSelect,
            "hides": forms.CheckboxSelectMultiple,
            "harm": forms.Textarea(attrs={"rows": 3}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *args: Any, species: Species, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.species = species
        chances(
            self,
            penetrance="Penetrance",
            mistaken="Other animals mistaken for it",
            overlooked="Passed over by mistake",
        )
        self.fields["overlooked"].required = False
        if not self.instance.pk and has_whole_looks(species):
            # What was looked at before was not looked at for it, unless the keeper says so.
            self.initial["looked_for_since"] = timezone.localdate()
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
        cleaned["overlooked"] = cleaned.get("overlooked") or Fraction(0)
        return cleaned

    def hidden_traits(self) -> list[Trait]:
        """Return the traits it hides."""
        return list(self.cleaned_data.get("hides") or [])
