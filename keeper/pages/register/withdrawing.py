"""Withdrawing what the register holds, and restoring it."""

from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from keeper.access import account
from keeper.domain.book.previewing import Preview, tried
from keeper.domain.book.writing import Refused
from keeper.domain.register.withdrawing import page_of, restore, withdraw
from keeper.models import (
    Contact,
    Interval,
    Line,
    Locus,
    NamedLook,
    Record,
    Showing,
    Species,
    Survival,
    Trait,
)
from keeper.pages.frame.editing import Editing, asked, edited, section, seen_by
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.moved import after_save
from keeper.pages.frame.refusals import said
from keeper.pages.frame.requests import form_view

# The word in the address → what it stands for and how a page names it.
_KINDS: dict[str, tuple[type[Record], str]] = {
    "species": (Species, "{}"),
    "traits": (Trait, "the trait {}"),
    "lines": (Line, "the line {}"),
    "looks": (NamedLook, "the look {}"),
    "contacts": (Contact, "{}"),
    "combinations": (Showing, "this combination"),
    "survivals": (Survival, "the survival of {}"),
    "links": (Interval, "the link {}"),
}
_PAGES: dict[type[Record], str] = {
    Species: "register-species",
    Trait: "register-trait",
    Line: "register-line",
    Locus: "register-locus",
    NamedLook: "register-look",
    Contact: "register-contact",
}


def _found(kind: str, pk: int) -> tuple[Any, str]:
    if kind not in _KINDS:
        raise Http404("no such kind of record")
    model, named = _KINDS[kind]
    record = get_object_or_404(model._default_manager.all(), pk=pk)
    return record, named.format(record)


def address_of(record: Record) -> str:
    """Return the address of the page on which a record of the register is shown."""
    shown_on = page_of(record)
    return reverse(_PAGES[type(shown_on)], args=[shown_on.pk])


@form_view
def withdraw_record(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """Ask why, and withdraw."""
    record, named = _found(kind, pk)
    if record.is_withdrawn:
        return redirect(address_of(record))
    form = ReasonForm.of_withdrawal(request.POST or None)
    page = Editing(
        heading=f"Withdraw {named}?",
        lead="It stays readable with its history, no longer counts, and can be restored.",
        forms=[form],
        sections=[section(form)],
        back=address_of(record),
        submit="Withdraw",
        harm=True,
    )
    return edited(
        request,
        page,
        save=lambda _: withdraw(
            record=record, by=account(request), reason=form.cleaned_data["reason"]
        ),
        to=lambda: address_of(record),
    )


@require_POST
def restore_record(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """Let a withdrawn record count again; if that moves numbers, once it is confirmed."""
    record, named = _found(kind, pk)
    if not record.is_withdrawn:
        return redirect(address_of(record))
    page = Editing(
        heading=f"Restore {named}?",
        lead="It counts again, with what was withdrawn together with it.",
        forms=[],
        sections=[],
        back=address_of(record),
        submit="Restore",
    )
    try:
        outcome = tried(lambda: restore(record=record, by=account(request)), seen=seen_by(request))
        if isinstance(outcome, Preview):
            return asked(request, replace(page, preview=outcome))
        return after_save(address_of(record), outcome)
    except (Refused, ValidationError) as refused:
        messages.error(request, said(refused))
    return redirect(address_of(record))
