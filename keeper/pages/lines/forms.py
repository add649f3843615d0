"""What a source says of two lines, and how likely a pair that is opened again is held."""

from typing import Any

from django import forms
from django.utils import timezone

from keeper.domain.register.queries import counted_contacts
from keeper.models import Contact, PairWord
from keeper.pages.frame.fields import ChanceInput, chances, day_input
from keeper.pages.frame.forms import BookForm


class WordForm(BookForm[PairWord]):
    """A source's word on two lines."""

    one_gene = forms.TypedChoiceField(
        label="It says that they are",
        choices=[("one", "one gene (compatible)"), ("two", "two genes (not compatible)")],
        coerce=lambda value: value == "one",
        widget=forms.RadioSelect,
    )

    class Meta:
        model = PairWord
        fields = ["one_gene", "source", "weight", "on", "says"]
        labels = {"source": "Who says so", "on": "When", "says": "In their own words"}
        help_texts = {"says": ""}
        widgets = {
            "on": day_input(),
            "says": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chances(self, weight="How far you take this word")
        self.fields["weight"].help_text = (
            "50 % multiplies the odds of what it says by three, 80 % by nine; 0 % keeps it without "
            "counting it, 100 % settles the pair."
        )
        source: Any = self.fields["source"]
        source.queryset = counted_contacts(Contact.objects.live()).order_by("name")
        source.empty_label = "not named"
        if self.instance.pk:
            self.initial["one_gene"] = "one" if self.instance.one_gene else "two"

    def clean_on(self) -> Any:
        """Refuse a day that has not come."""
        day = self.cleaned_data["on"]
        if day and day > timezone.localdate():
            raise forms.ValidationError("That day is still to come. Enter today or an earlier day.")
        return day


class ReopenForm(forms.Form):
    """How likely two lines are held to be one gene now that it is open again."""

    prior = ChanceInput(
        label="How likely they are one gene",
        initial="50 %",
        help_text="As you hold it before any cross; what hatched here is weighed by the book.",
    )
    reason = forms.CharField(
        label="Why it is opened again",
        max_length=200,
        help_text="The cross, the word or the doubt that opened it.",
    )
