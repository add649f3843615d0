"""What narrows the daybook."""

from django import forms
from django.db.models import QuerySet

from keeper.domain.book.daybook import written_by, written_on
from keeper.models import Account, DaybookEntry
from keeper.pages.frame.fields import day_input


class DaybookFilter(forms.Form):
    """By whom, and on which day."""

    by = forms.ModelChoiceField(
        Account.objects.order_by("name"), required=False, label="By", empty_label="everyone"
    )
    on = forms.DateField(
        required=False,
        label="On",
        widget=day_input(),
    )

    def narrow(self, entries: QuerySet[DaybookEntry]) -> QuerySet[DaybookEntry]:
        """Keep the entries that were asked for; what cannot be read does not filter."""
        if not self.is_bound or not self.is_valid():
            return entries
        if self.cleaned_data["by"]:
            entries = written_by(entries, self.cleaned_data["by"].pk)
        if self.cleaned_data["on"]:
            entries = written_on(entries, self.cleaned_data["on"])
        return entries
