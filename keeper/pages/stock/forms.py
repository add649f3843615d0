"""What is asked for an animal, and the steps of a sale."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.utils import timezone

from keeper.domain.stock.money import Money, money
from keeper.domain.stock.queries import last_currency
from keeper.models import Animal, Contact, Offer, Sale, StockPage
from keeper.pages.frame.fields import (
    AmountField,
    CurrencyField,
    ask_currency,
    day_input,
    has_come,
    reason_field,
)
from keeper.pages.frame.forms import BookForm, leave_prices_out


class OfferForm(forms.Form):
    """What is asked for one animal, and since when."""

    asked = AmountField(label="Asked", help_text="Empty: on asking.")
    currency = CurrencyField()
    on = forms.DateField(label="From", widget=day_input())

    def __init__(self, *args: Any, before: Offer | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"].initial = timezone.localdate
        self.fields["currency"].initial = last_currency()
        if before is not None:
            self.fields["asked"].initial = before.asked
            self.fields["currency"].initial = before.currency or last_currency()
            self.fields["reason"] = forms.CharField(
                required=False, max_length=200, label="Why another price"
            )
        leave_prices_out(self, "asked", "currency")

    def clean_on(self) -> Any:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["on"])

    def clean(self) -> dict[str, Any]:
        """Ask for the currency of a sum."""
        cleaned = super().clean() or {}
        ask_currency(self, cleaned.get("asked"))
        return cleaned

    def money(self) -> Money | None:
        """Return what is asked, if it was said."""
        given = self.cleaned_data
        return money(given.get("asked"), given.get("currency", ""))


class EndForm(forms.Form):
    """From when something is so, and a word on it."""

    on = forms.DateField(label="On", widget=day_input(), initial=timezone.localdate)
    note = forms.CharField(required=False, max_length=200, label="Note")

    def __init__(self, *args: Any, note: str = "Note", help_text: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["note"].label, self.fields["note"].help_text = note, help_text

    def clean_on(self) -> Any:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["on"])


class _ToSomebody(forms.Form):
    """To whom an animal goes: a contact of the list, or somebody new to the book."""

    new_buyer = forms.CharField(
        required=False, max_length=80, label="Or somebody new to the book", help_text="The name."
    )

    def clean(self) -> dict[str, Any]:
        """Refuse two buyers."""
        cleaned = super().clean() or {}
        if cleaned.get("buyer") and cleaned.get("new_buyer"):
            self.add_error("new_buyer", "Choose a contact or name a new one, not both.")
        return cleaned

    def new_contact(self) -> Contact | None:
        """Return the buyer who was named for the first time, unsaved."""
        name = self.cleaned_data["new_buyer"].strip()
        return Contact(name=name) if name else None


HOLD, SELL, GO = "hold", "sell", "go"
_STEPS = [
    (HOLD, "Held for them"),
    (SELL, "Sold, still here"),
    (GO, "Sold and handed over"),
]


class SaleForm(_ToSomebody):
    """Animals held for one buyer or sold to them, each at its price."""

    step = forms.ChoiceField(label="What is so", choices=_STEPS, widget=forms.RadioSelect)
    buyer = forms.ModelChoiceField(
        Contact.objects.none(), required=False, label="To whom", empty_label="nobody named"
    )
    on = forms.DateField(label="On", widget=day_input())
    held_until = forms.DateField(
        required=False,
        label="Held until",
        help_text="Of what is held; empty: no day was agreed.",
        widget=day_input(),
    )
    currency = CurrencyField()
    note = forms.CharField(required=False, max_length=200, label="Note")

    def __init__(
        self,
        *args: Any,
        animals: Sequence[Animal],
        held: Mapping[int, Sale],
        asked: Mapping[int, Offer],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.animals, self.held = animals, held
        first: Sale | None = next(iter(held.values()), None)
        buyer: Any = self.fields["buyer"]
        buyer.queryset = Contact.objects.live()
        buyer.initial = first.buyer_id if first else None
        self.fields["step"].initial = SELL if first else HOLD
        self.fields["on"].initial = timezone.localdate
        rows: list[Sale | Offer] = [*held.values(), *asked.values()]
        currencies = [one.currency for one in rows if one.currency]
        self.fields["currency"].initial = currencies[0] if currencies else last_currency()
        for one in animals:
            self._add_sums(one, held.get(one.pk), asked.get(one.pk))
        leave_prices_out(self, "currency", *self.sums)

    def _add_sums(self, animal: Animal, held: Sale | None, asked: Offer | None) -> None:
        price = held.price if held else asked.asked if asked else None
        self.fields[f"price-{animal.pk}"] = AmountField(label="Price", initial=price)
        self.fields[f"deposit-{animal.pk}"] = AmountField(
            label="Deposit", initial=held.deposit if held else None
        )

    @property
    def sums(self) -> list[str]:
        """The names of the fields for sums, animal by animal."""
        return [f"{kind}-{one.pk}" for one in self.animals for kind in ("price", "deposit")]

    @property
    def rows(self) -> list[tuple[Animal, list[forms.BoundField]]]:
        """Each animal with its fields."""
        names = [
            (one, [f"{kind}-{one.pk}" for kind in ("price", "deposit")]) for one in self.animals
        ]
        return [(one, [self[name] for name in of if name in self.fields]) for one, of in names]

    @property
    def said(self) -> list[forms.BoundField]:
        """The fields that are about all of them."""
        names = ("step", "buyer", "new_buyer", "on", "held_until", "currency", "note")
        return [self[name] for name in names if name in self.fields]

    def clean_on(self) -> Any:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["on"])

    def clean(self) -> dict[str, Any]:
        """Refuse a sum without its currency, and a deposit beyond the price."""
        cleaned = super().clean()
        ask_currency(self, *(cleaned.get(name) for name in self.sums))
        for one in self.animals:
            price, deposit = (cleaned.get(f"{kind}-{one.pk}") for kind in ("price", "deposit"))
            if price is not None and deposit is not None and deposit > price:
                self.add_error(f"deposit-{one.pk}", "This is more than the price. Correct one.")
        return cleaned

    def sales(self) -> list[Sale]:
        """Return the sales, those that are on hold going on; nothing is saved."""
        return [self._sale(one) for one in self.animals]

    def _sale(self, animal: Animal) -> Sale:
        given = self.cleaned_data
        sale = self.held.get(animal.pk) or Sale(animal=animal)
        sale.buyer = given["buyer"] if not given["new_buyer"].strip() else sale.buyer
        if f"price-{animal.pk}" in self.fields:
            sale.price, sale.deposit = given[f"price-{animal.pk}"], given[f"deposit-{animal.pk}"]
            said = sale.price is not None or sale.deposit is not None
            sale.currency = given["currency"] if said else ""
        sale.note = given["note"] or sale.note
        if given["step"] == HOLD:
            sale.held_on, sale.held_until = given["on"], given["held_until"]
        else:
            sale.sold_on = given["on"]
        if given["step"] == GO:
            sale.handed_on = given["on"]
        return sale


class SaleEditForm(_ToSomebody, BookForm[Sale]):
    """A sale corrected: who, for what, and its days."""

    price = AmountField(label="Price")
    deposit = AmountField(label="Deposit")
    currency = CurrencyField()
    reason = reason_field()

    class Meta:
        model = Sale
        fields = [
            *("buyer", "price", "deposit", "currency", "held_on", "held_until"),
            *("sold_on", "handed_on", "ended_on", "note"),
        ]
        labels = {
            "buyer": "To whom",
            "held_on": "Held since",
            "held_until": "Held until",
            "sold_on": "Sold on",
            "handed_on": "Handed over on",
            "ended_on": "Called off or returned on",
        }
        help_texts = dict.fromkeys(
            ("held_on", "held_until", "sold_on", "handed_on", "ended_on"), ""
        )
        widgets = {
            name: day_input()
            for name in ("held_on", "held_until", "sold_on", "handed_on", "ended_on")
        }

    field_order = [
        *("buyer", "new_buyer", "price", "deposit", "currency", "held_on", "held_until"),
        *("sold_on", "handed_on", "ended_on", "note", "reason"),
    ]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        buyer: Any = self.fields["buyer"]
        buyer.queryset = Contact.objects.filter(Q(withdrawn_at=None) | Q(pk=self.instance.buyer_id))
        leave_prices_out(self, "price", "deposit", "currency")
        if not self.instance.ended_as:
            del self.fields["ended_on"]

    def clean(self) -> dict[str, Any]:
        """Refuse days still to come, and a sale without any day."""
        cleaned = super().clean()
        for name in Sale.event_days:
            try:
                has_come(cleaned.get(name))
            except ValidationError as error:
                self.add_error(name, error)
        if not self.errors and not (cleaned.get("held_on") or cleaned.get("sold_on")):
            self.add_error("sold_on", "Say since when it is held, or on which day it was sold.")
        return cleaned


class PublicForm(forms.Form):
    """Whether the public page says what is asked."""

    prices = forms.BooleanField(required=False, label="Say what is asked")

    def __init__(self, *args: Any, found: StockPage | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["prices"].initial = bool(found and found.prices)
