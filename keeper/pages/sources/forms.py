"""Sources: contacts, their papers, and what they state of one trait."""

from datetime import date
from typing import Any

from django import forms
from django.db.models import Q

from keeper.models import Contact, Paper
from keeper.pages.frame.fields import (
    chances,
    day_input,
    has_come,
    reason_field,
    scan_field,
)
from keeper.pages.frame.forms import BookForm
from keeper.pages.frame.said import StatementForm


class CorrectStatementForm(StatementForm):
    """A statement that was wrong, with the reason of the correction."""

    reason = reason_field()


class PaperForm(BookForm[Paper]):
    """A document or message of a source."""

    upload = scan_field("Scan or photo")

    class Meta:
        model = Paper
        fields = ["source", "dated", "says"]
        labels = {"source": "Whose paper", "dated": "Dated", "says": "What it says"}
        widgets = {"dated": day_input(), "says": forms.Textarea(attrs={"rows": 4})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sources: Any = self.fields["source"]
        sources.queryset = Contact.objects.filter(
            Q(withdrawn_at=None) | Q(pk=self.instance.source_id)
        )

    def clean_dated(self) -> date | None:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["dated"])


class CorrectPaperForm(PaperForm):
    """A paper that was wrong, with the reason of the correction."""

    reason = reason_field()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.scan:
            self.fields["upload"].label = "Another scan in place of the one it has"


class ContactForm(BookForm[Contact]):
    """Somebody animals come from or go to."""

    class Meta:
        model = Contact
        fields = ["name", "reach", "reliability", "notes", "kept_until", "kept_why"]
        labels = {
            "reach": "How to reach them",
            "kept_until": "Must be kept until",
            "kept_why": "Why it must be kept",
        }
        widgets = {"kept_until": day_input()}
        help_texts = {"reach": "Telephone, mail, where they stand at fairs."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chances(self, reliability="How far you take their word")
        self.fields["reliability"].help_text = (
            "100 %: what they state counts as it is said. 80 %: in one case of five you count it "
            "as not said. Your own judgement; it moves figures, and buyers never see it."
        )
        self.fields["notes"].widget.attrs["rows"] = 3
