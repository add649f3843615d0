"""What is asked when an explanation is adopted."""

from django import forms


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
