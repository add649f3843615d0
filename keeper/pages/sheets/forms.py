"""For whom a sheet is issued, why one is taken back, and what became of a key."""

from typing import Any

from django import forms

from keeper.models import Contact, Ended
from keeper.pages.frame.fields import ReasonForm


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
