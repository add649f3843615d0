"""What the book refuses, shown in the form that asked for it."""

from collections.abc import Mapping
from types import MappingProxyType

from django import forms
from django.core.exceptions import ValidationError

_NOWHERE_ELSE: Mapping[str, str] = MappingProxyType({})


def take_error(
    form: forms.BaseForm,
    error: ValidationError,
    *others: forms.BaseForm,
    at: Mapping[str, str] = _NOWHERE_ELSE,
) -> None:
    """Show what was refused at the field it belongs to, in whichever form has it.

    What belongs to no field stands above the first form. `at` names the field that asks for
    something the book calls otherwise.
    """
    if not hasattr(error, "error_dict"):
        form.add_error(None, error)
        return
    for name, errors in error.error_dict.items():
        field = at.get(name, name)
        asking = next((one for one in (form, *others) if field in one.fields), None)
        if asking is None:
            form.add_error(None, errors)
        else:
            asking.add_error(field, errors)
