"""What the book refuses, shown in the form that asked for it, or on the page it is sent back to."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponseRedirect
from django.shortcuts import redirect

from keeper.domain.book.writing import Questioned, Refused
from keeper.models import DaybookEntry
from keeper.pages.frame.moved import after_save

_NOWHERE_ELSE: Mapping[str, str] = MappingProxyType({})


def written(
    write: Callable[[], DaybookEntry],
    form: forms.BaseForm,
    *others: forms.BaseForm,
    at: Mapping[str, str] = _NOWHERE_ELSE,
    whole: str | None = None,
) -> DaybookEntry | None:
    """Write; None where the book refuses it, which then stands in the form with all that was typed.

    `at` and `whole` as `take_error` has them.
    """
    try:
        return write()
    except (Refused, ValidationError) as error:
        take_error(form, error, *others, at=at, whole=whole)
        return None


def written_for_reason(
    form: forms.BaseForm, write: Callable[[str], DaybookEntry]
) -> DaybookEntry | None:
    """Write with the reason that was sent; None where none was, or the book refuses it."""
    if not form.is_valid():
        return None
    return written(lambda: write(form.cleaned_data["reason"]), form)


def written_at_once(
    request: HttpRequest, write: Callable[[], DaybookEntry], page: str
) -> HttpResponseRedirect:
    """Write what a button alone asks for, and go to a page that tells what came of it."""
    try:
        return after_save(page, write())
    except (Refused, ValidationError) as error:
        messages.error(request, said(error))
        return redirect(page)


def said(error: Refused | ValidationError) -> str:
    """Return a refusal in words."""
    return " ".join(error.messages) if isinstance(error, ValidationError) else str(error)


def take_error(
    form: forms.BaseForm,
    error: Refused | ValidationError,
    *others: forms.BaseForm,
    at: Mapping[str, str] = _NOWHERE_ELSE,
    whole: str | None = None,
) -> None:
    """Show what was refused at the field it belongs to, in whichever form has it.

    What belongs to no field stands above the first form, or at the field `whole`. `at` names the
    field that asks for something the book calls otherwise.
    """
    if isinstance(error, Questioned):
        return  # what is asked stands above the form by itself
    if isinstance(error, Refused):
        form.add_error(whole, str(error))
        return
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
