"""For whom a sheet is issued, what they were told since, and what became of a key."""

from datetime import date
from typing import Any

from django import forms
from django.utils import timezone

from keeper.models import Contact, Ended, How
from keeper.pages.frame.fields import ReasonForm, day_input, has_come


class IssueForm(forms.Form):
    """The buyer, if the sheet shall name one; and which preview was read."""

    buyer = forms.ModelChoiceField(
        Contact.objects.none(),
        required=False,
        label="For",
        empty_label="nobody named",
        help_text="A buyer among your contacts; the paper then names them, its public page never.",
    )
    mark = forms.CharField(max_length=64, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        buyer: Any = self.fields["buyer"]
        buyer.queryset = Contact.objects.live()


class LostForm(ReasonForm):
    """What became of a key, and how that is known."""

    how = forms.ChoiceField(
        label="What became of it",
        widget=forms.RadioSelect,
        choices=[
            (Ended.LOST, "It is gone: nobody has it"),
            (Ended.TAKEN, "Others have it, or may have it"),
        ],
    )
    field_order = ("how", "reason")


class TellForm(forms.Form):
    """The message as it is going to be sent, and how, when and with what answer it was."""

    message = forms.CharField(
        required=False,
        label="The message",
        help_text="Change what you like. What stands here is kept as what they were told.",
        widget=forms.Textarea(attrs={"rows": 14, "spellcheck": "true"}),
    )
    how = forms.ChoiceField(label="How they were told", choices=[("", "choose"), *How.choices])
    on = forms.DateField(label="On", widget=day_input(), initial=timezone.localdate)
    note = forms.CharField(
        max_length=200, required=False, label="Note", help_text="What they said, or why not."
    )
    upto = forms.IntegerField(widget=forms.HiddenInput)

    @property
    def told(self) -> dict[str, Any]:
        """What was typed, as it is written."""
        return {**self.cleaned_data, "how": How(self.cleaned_data["how"])}

    def clean_on(self) -> date | None:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["on"])
