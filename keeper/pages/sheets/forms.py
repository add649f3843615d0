"""For whom a sheet is issued, and why one is taken back."""

from typing import Any

from django import forms

from keeper.models import Contact


class IssueForm(forms.Form):
    """The buyer, if the sheet shall name one; and which preview was read."""

    buyer = forms.ModelChoiceField(
        Contact.objects.none(),
        required=False,
        label="For",
        empty_label="nobody named",
        help_text="A buyer among your contacts; the sheet then names them.",
    )
    mark = forms.CharField(max_length=64, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        buyer: Any = self.fields["buyer"]
        buyer.queryset = Contact.objects.live()
