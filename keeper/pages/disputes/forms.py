"""What is asked when an explanation is adopted, or a base rate is changed."""

from django import forms

from keeper.models import BaseRate
from keeper.pages.frame.fields import ChanceInput
from keeper.pages.frame.forms import BookForm


class AdoptForm(forms.Form):
    """Why an explanation is taken for what happened; `seen` stands for what was looked at."""

    reason = forms.CharField(
        label="Why this one",
        required=False,
        max_length=200,
        help_text="What you looked at, who remembered what. Kept in the daybook.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    seen = forms.CharField(required=False, max_length=64, widget=forms.HiddenInput)


class RateForm(BookForm[BaseRate]):
    """How often one kind of thing happens here, and how the keeper knows."""

    chance = ChanceInput(
        label="How often it happens here",
        help_text="Such as 1/200 or 0.5 %. Never and always are no rates: they leave no odds.",
    )

    class Meta:
        model = BaseRate
        fields = ["chance", "ground"]
        labels = {"ground": "How you know"}
        help_texts = {"ground": "Your own count, a study, or your guess: it stands beside it."}
