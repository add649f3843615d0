"""What narrows the daybook, and the list of what was withdrawn."""

from typing import Any

from django import forms
from django.db.models import QuerySet

from keeper.domain.book import daybook
from keeper.domain.daybook.withdrawn import kinds
from keeper.models import Account, DaybookEntry
from keeper.pages.frame.fields import day_input
from keeper.pages.frame.forms import leave_people_out


class DaybookFilter(forms.Form):
    """By whom, about what, when, with which words, and what became of it."""

    by = forms.ModelChoiceField(
        Account.objects.order_by("name"), required=False, label="By", empty_label="everyone"
    )
    about = forms.ChoiceField(
        required=False,
        label="About",
        choices=[
            ("", "everything"),
            *((name, words) for name, (words, _) in daybook.KINDS.items()),
        ],
    )
    since = forms.DateField(required=False, label="From", widget=day_input())
    until = forms.DateField(required=False, label="Until", widget=day_input())
    q = forms.CharField(required=False, max_length=100, label="With the words")
    only = forms.ChoiceField(
        required=False,
        label="Only",
        choices=[
            ("", "all of it"),
            ("moved", "what moved figures"),
            ("back", "what was taken back"),
        ],
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # What a search finds would tell of the names in it.
        leave_people_out(self, "q")

    def narrow(self, entries: QuerySet[DaybookEntry]) -> QuerySet[DaybookEntry]:
        """Keep the entries that were asked for; what cannot be read does not filter."""
        if not self.is_bound:
            return entries
        self.is_valid()
        asked = self.cleaned_data
        if asked.get("by"):
            entries = daybook.written_by(entries, asked["by"].pk)
        if asked.get("about"):
            entries = daybook.about_kind(entries, asked["about"])
        entries = daybook.written_between(entries, asked.get("since"), asked.get("until"))
        if asked.get("q"):
            entries = daybook.saying(entries, asked["q"])
        if asked.get("only") == "moved":
            entries = daybook.that_moved(entries)
        if asked.get("only") == "back":
            entries = daybook.taken_back(entries)
        return entries


class WithdrawnFilter(forms.Form):
    """Of which kind."""

    kind = forms.ChoiceField(required=False, label="Kind")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        named = [(name, str(model._meta.verbose_name)) for name, model in kinds().items()]
        kind: Any = self.fields["kind"]
        kind.choices = [("", "every kind"), *sorted(named, key=lambda one: one[1])]

    def asked(self) -> str:
        """Return the kind that was asked for; nothing stands for every kind."""
        return str(self.cleaned_data.get("kind", "")) if self.is_bound and self.is_valid() else ""
