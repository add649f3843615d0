"""What all forms of records share: what is refused is said, whichever field asks for it."""

import base64
import binascii
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from types import MappingProxyType
from typing import Any, ClassVar, TypeVar

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Model

from keeper.discretion import sees_people, sees_prices
from keeper.models import Contact
from keeper.pages.frame.fields import ChanceInput

Row = TypeVar("Row", bound=Model)

# The largest number of a row that a database keeps.
_LARGEST = 2**63 - 1


class BookForm(forms.ModelForm[Row]):
    """A form of a record.

    The record may refuse a field that this form does not ask for, or asks for by another name
    (`asked_as`): that is said there, or above the form.
    """

    asked_as: ClassVar[Mapping[str, str]] = MappingProxyType({})

    def add_error(self, field: str | None, error: Any) -> None:
        """Say what is wrong at its field, or above the form where it asks for no such thing."""
        if field is None and hasattr(error, "error_dict"):
            for name, errors in error.error_dict.items():
                asked = self.asked_as.get(name, name)
                super().add_error(asked if asked in self.fields else None, errors)
            return
        super().add_error(field, error)


def leave_people_out(form: forms.BaseForm, *names: str) -> None:
    """Take the fields that name sources, buyers or sellers out of a form, if they are not shown.

    What stands there stays as it is; what is new is entered without.
    """
    if not sees_people():
        _leave_out(form, names)


def leave_prices_out(form: forms.BaseForm, *names: str) -> None:
    """Take the fields of prices out of a form in the same way."""
    if not sees_prices():
        _leave_out(form, names)


def _leave_out(form: forms.BaseForm, names: Iterable[str]) -> None:
    for name in names:
        form.fields.pop(name, None)


class SeveralChoice(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]  # the stubs want a type per use
    """Several rows to choose; a number that no database keeps names none of them."""

    def _check_values(self, value: Any) -> Any:
        """Return the rows of these numbers."""
        for pk in value if isinstance(value, list | tuple) else ():
            if str(pk).isdecimal() and (len(str(pk)) > 19 or int(pk) > _LARGEST):
                message = self.error_messages["invalid_choice"]
                raise ValidationError(message, code="invalid_choice", params={"value": pk})
        return super()._check_values(value)  # type: ignore[misc]  # the stubs leave it out


class SignedFile(forms.Form):
    """A signed file of another book; sent once, and then carried along by the page as `paper`."""

    missing: ClassVar[str]

    file = forms.FileField(
        required=False, widget=forms.FileInput(attrs={"accept": ".json,application/json"})
    )
    paper = forms.CharField(required=False, widget=forms.HiddenInput)

    def clean(self) -> dict[str, Any]:
        """Put the bytes of the file into `data`, whichever way they came."""
        cleaned: dict[str, Any] = super().clean() or {}
        file, sent = cleaned.get("file"), cleaned.get("paper", "")
        try:
            data = file.read() if file else base64.b64decode(sent, validate=True)
        except binascii.Error as error:
            raise ValidationError("The file was lost on the way. Choose it again.") from error
        if not data:
            raise ValidationError({"file": self.missing})
        return cleaned | {"data": data}


class SignerForm(forms.Form):
    """Whose a signed file is, as far as it is taken, and whether its key was compared."""

    source = forms.ModelChoiceField(
        Contact.objects.none(), required=False, empty_label="a new contact"
    )
    name = forms.CharField(max_length=80, required=False, label="Name of the new contact")
    trust = ChanceInput(required=False, label="How far you take the new contact’s word")
    compared = forms.BooleanField(required=False)

    def __init__(self, *args: Any, signers: Sequence[Contact], issuer: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        source: Any = self.fields["source"]
        source.queryset = Contact.objects.live()
        self.initial.update(
            source=signers[0] if signers else None,
            name="" if signers else issuer,
            trust=Fraction(1),
        )

    def clean_trust(self) -> Fraction:
        """Take nothing for the whole."""
        trust: Fraction | None = self.cleaned_data["trust"]
        return Fraction(1) if trust is None else trust
