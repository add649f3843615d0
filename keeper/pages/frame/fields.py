"""Fields and the reason that several areas ask for: days, chances, sums, traits, lines, scans."""

import re
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any, Self

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.utils import timezone

from keeper.domain.saying.typed_chance import as_typed
from keeper.models import (
    Line,
    Species,
    Trait,
    read_chance,
)
from keeper.models.chance import is_unclear
from keeper.models.selling.stock import currency_code

_LONGEST = 40

WHOLE, PART = "whole", "part"
_SCOPES = (
    (WHOLE, "A whole look: nothing else of the register was there"),
    (PART, "Only what is named here"),
)


class ChanceInput(forms.CharField):
    """A chance as a keeper writes it, given back in percent."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.widget.attrs.update(autocomplete="off", size="8", maxlength=str(_LONGEST))

    def prepare_value(self, value: Any) -> Any:
        """Show a chance of the book in percent, and what was typed as it was typed."""
        return as_typed(value) if isinstance(value, Fraction) else value

    def to_python(self, value: Any) -> Any:
        """Return the fraction, or None where nothing was typed."""
        text = super().to_python(value) or ""
        if len(text) > _LONGEST:
            raise ValidationError(
                f"That is too long for a chance. Write {_LONGEST} characters at most."
            )
        if is_unclear(text):
            meant = [as_typed(read_chance(text)), as_typed(read_chance(text) / 100)]
            raise ValidationError(
                "Do you mean %(share)s or %(percent)s?",
                code="unclear",
                params={
                    "share": meant[0],
                    "percent": meant[1],
                    "offers": {f"Save it with {one}": one for one in meant},
                },
            )
        return read_chance(text) if text else None


def chances(form: forms.BaseForm, **labels: str) -> None:
    """Let fields of a form take chances, under these labels; empty means the model's default."""
    for name, label in labels.items():
        old = form.fields[name]
        initial = Fraction(str(old.initial)) if old.initial not in (None, "") else None
        form.fields[name] = ChanceInput(
            label=label, help_text=old.help_text, required=old.required, initial=initial
        )
        # A new record holds its default as it is written in the model.
        default = form.initial.get(name)
        if default and isinstance(default, str):
            form.initial[name] = read_chance(default)


class DayInput(forms.DateInput):
    """A day, and beside it the same in words: browsers write days in an order of their own."""

    template_name = "components/day_input.html"

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        """Add the day itself, where what stands in the field is one."""
        context = super().get_context(name, value, attrs)
        context["day"] = parse_date_or_none(context["widget"]["value"])
        return context


def parse_date_or_none(text: str | None) -> date | None:
    """Return the day that a field holds, or None where it holds none."""
    try:
        return date.fromisoformat(text or "")
    except ValueError:
        return None


def day_input() -> forms.DateInput:
    """The one spelling of days that browsers read."""
    return DayInput(format="%Y-%m-%d", attrs={"type": "date"})


def has_come(day: date | None) -> date | None:
    """Return a day on which something was seen or said.

    Raises:
        ValidationError: it is still to come.
    """
    if day and day > timezone.localdate():
        raise ValidationError("That day is still to come. Enter today or an earlier day.")
    return day


def scope_field() -> forms.ChoiceField:
    """How far somebody looked; nothing is chosen for the keeper."""
    return forms.ChoiceField(choices=_SCOPES, widget=forms.RadioSelect, label="How far you looked")


def reason_field() -> forms.CharField:
    """Why a record is corrected; may be left empty."""
    return forms.CharField(
        max_length=200,
        required=False,
        label="Reason for the correction",
        help_text="Kept in its history and the daybook.",
    )


class TraitChoice(forms.ModelChoiceField):  # type: ignore[type-arg]  # the stubs want a type per use
    """A trait, named with its species where the book has several."""

    several = False

    def label_from_instance(self, obj: Any) -> str:
        """Name it."""
        return f"{obj.name} ({obj.species})" if self.several else str(obj.name)


def trait_field(
    species: Species | None, *, keep: int | None = None, required: bool = True
) -> TraitChoice:
    """Return the choice of a trait: of one species, or of all with their species named."""
    rows = Trait.objects.filter(Q(withdrawn_at=None) | Q(pk=keep)).select_related("species")
    if species is not None:
        rows = rows.filter(species=species)
    field = TraitChoice(rows.order_by("species__name", "name"), label="Trait", required=required)
    field.several = species is None and Species.objects.live().count() > 1
    return field


def scan_field(label: str) -> forms.FileField:
    """Return the field for a scan, as `keeper.domain.sources.writes.attach` takes it."""
    return forms.FileField(
        required=False,
        label=label,
        help_text="PDF, JPEG, PNG or WebP, up to 20 MB.",
        widget=forms.FileInput(attrs={"accept": "application/pdf,image/*"}),
    )


class LineChoice(forms.ModelChoiceField):  # type: ignore[type-arg]  # the stubs want a type per use
    """A line, named with its trait; none: line not known."""

    def label_from_instance(self, obj: Any) -> str:
        """Name it."""
        return f"{obj.trait.name} {obj.code} ({obj.name})"


def line_field(species: Species | None, *, keep: int | None = None) -> LineChoice:
    """Return the choice of a line, with "line not known" first."""
    rows = Line.objects.filter(Q(withdrawn_at=None) | Q(pk=keep)).select_related("trait")
    if species is not None:
        rows = rows.filter(trait__species=species)
    return LineChoice(
        rows.order_by("trait__name", "code"),
        required=False,
        empty_label="line not known",
        label="Line",
    )


class ReasonForm(forms.Form):
    """Why something is done, in a few words."""

    reason = forms.CharField(max_length=200, label="Why")

    def __init__(
        self,
        *args: Any,
        label: str = "Why",
        help_text: str = "",
        required: bool = True,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        reason = self.fields["reason"]
        reason.label, reason.help_text = label, help_text
        reason.required = reason.widget.is_required = required

    @classmethod
    def of_change(cls, data: Any) -> Self:
        """Why a record is changed; may be left empty."""
        return cls(data, label="Why it changes", required=False)

    @classmethod
    def of_record(cls, data: Any) -> Self:
        """Why something that was written down is taken out of the account."""
        return cls(data, label="Reason", help_text="Kept in its history.")

    @classmethod
    def of_withdrawal(cls, data: Any) -> Self:
        """Why a record is withdrawn."""
        return cls(data, label="Why it is withdrawn")


# --- sums of money --------------------------------------------------------------------------------

_AMOUNT = re.compile(r"(\d{1,3}(?:[ \u202f\u00a0]\d{3})+|\d{1,10})(?:[.,](\d{1,2}))?")


class AmountField(forms.CharField):
    """A sum as it is written: 250, 249.50, 249,50; exact to the hundredth."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"required": False, **kwargs})
        self.widget.attrs.update(inputmode="decimal", autocomplete="off", maxlength="16")

    def prepare_value(self, value: Any) -> Any:
        """Show a sum of the book as it would be typed."""
        return f"{value:f}".removesuffix(".00") if isinstance(value, Decimal) else value

    def to_python(self, value: Any) -> Any:
        """Return the sum, or None where nothing was typed."""
        text = super().to_python(value) or ""
        return read_amount(text) if text else None


def read_amount(text: str) -> Decimal:
    """Return a sum as it was typed.

    Raises:
        ValidationError: it is none, or has more than two decimals.

    >>> read_amount("1 250"), read_amount("249,5")
    (Decimal('1250'), Decimal('249.5'))
    """
    found = _AMOUNT.fullmatch(text.strip())
    if found is None:
        raise ValidationError(
            "That is no sum. Write it such as 250 or 249.50, without the currency."
        )
    whole = re.sub(r"\D", "", found[1])
    return Decimal(f"{whole}.{found[2]}" if found[2] else whole)


class CurrencyField(forms.CharField):
    """A currency by its three letters, however they were typed."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            required=False,
            max_length=3,
            label="Currency",
            help_text="Three letters, such as EUR.",
            validators=[currency_code],
            **kwargs,
        )
        self.widget.attrs.update(autocapitalize="characters", size="4", autocomplete="off")

    def to_python(self, value: Any) -> str:
        """Return it in capitals."""
        return (super().to_python(value) or "").upper()


def ask_currency(form: forms.Form, *sums: Decimal | None) -> None:
    """Ask in which currency the sums of a form are, if one was typed."""
    said = any(one is not None for one in sums)
    if said and not form.cleaned_data.get("currency") and "currency" not in form.errors:
        form.add_error("currency", "Say in which currency.")
