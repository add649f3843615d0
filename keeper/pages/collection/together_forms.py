"""Several animals of the list, and what is to be so of all of them."""

from typing import Any

from django import forms
from django.db.models import QuerySet

from keeper.domain.animals.together import Together
from keeper.domain.stock.money import money
from keeper.domain.stock.queries import last_currency
from keeper.models import Animal, Status
from keeper.pages.frame.fields import AmountField, CurrencyField, ask_currency, day_input, has_come
from keeper.pages.frame.forms import SeveralChoice, leave_prices_out

_AS_IT_IS = ("", "as it is")


class TogetherForm(forms.Form):
    """Which animals, and what changes; an empty field leaves it as it is."""

    animals = SeveralChoice(
        Animal.objects.none(),
        label="Which",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one."},
    )
    status = forms.ChoiceField(required=False, choices=[_AS_IT_IS, *Status.choices])
    since = forms.DateField(required=False, label="Since", widget=day_input())
    asked = AmountField(label="Asked for each", help_text="Of those that are for sale.")
    currency = CurrencyField()
    place = forms.CharField(required=False, max_length=40, label="Place")
    review_on = forms.DateField(
        required=False,
        label="Look again on",
        help_text="Of those that are held back for a project.",
        widget=day_input(),
    )
    reason = forms.CharField(required=False, max_length=200, label="Why")

    def __init__(self, *args: Any, offered: QuerySet[Animal], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        animals: Any = self.fields["animals"]
        animals.queryset = offered
        self.fields["currency"].initial = last_currency()
        leave_prices_out(self, "asked", "currency")

    def clean_since(self) -> Any:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["since"])

    def clean(self) -> dict[str, Any]:
        """Refuse a day without a status, and nothing at all."""
        cleaned = super().clean() or {}
        if cleaned.get("since") and not cleaned.get("status"):
            self.add_error("status", "Say what they are since that day.")
        asked = cleaned.get("asked") is not None
        if asked and cleaned.get("status") not in ("", Status.OFFERED):
            self.add_error("asked", "A price is asked of what is for sale. Choose that status.")
        ask_currency(self, cleaned.get("asked"))
        changes = asked or any(cleaned.get(one) for one in ("status", "place", "review_on"))
        if not (self.errors or changes):
            self.add_error(
                "status", "Say what changes: status, price, place, or the day to look again."
            )
        return cleaned

    def together(self) -> Together:
        """Return what is to be so of all of them."""
        given = self.cleaned_data
        return Together(
            status=Status(given["status"]) if given["status"] else None,
            since=given["since"],
            place=given["place"] or None,
            review_on=given["review_on"],
            asked=money(given.get("asked"), given.get("currency", "")),
        )
