"""A person's data handed out, and the person taken out of the book; for the owner alone."""

import tempfile

from django import forms
from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from keeper.access import account, owner_only
from keeper.domain.book.refusing import Refused
from keeper.domain.erasure import taking_out, telling
from keeper.models import Contact
from keeper.pages.frame.requests import form_view, require_safe

_UNSWEPT = (
    "Somebody reads or writes just now, so that the database's file could not be written anew: "
    "its free parts may still hold the person. The next start does it, or `manage.py sweep`."
)


class ErasureForm(forms.Form):
    """The name, typed to say that this is meant."""

    name = forms.CharField(
        label="Type the name as it stands above", max_length=80, strip=True,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip


@owner_only
@form_view
def erase(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what an erasure takes out and what it leaves; with the name typed, do it."""
    one = get_object_or_404(Contact, pk=pk, erased_on=None)
    form = ErasureForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            _, swept = taking_out.erase(
                contact=one, typed=form.cleaned_data["name"], by=account(request)
            )
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.info(request, f"Erased. Person {pk} stands in their place from now on.")
            if not swept:
                messages.warning(request, _UNSWEPT)
            return redirect("register-contact", pk=pk)
    context = {"contact": one, "form": form, "preview": taking_out.preview(one)}
    return render(request, "register/erase.html", context)


@owner_only
@require_safe
def data(request: HttpRequest, pk: int) -> FileResponse:
    """Hand out all that the book holds of a person; the file is nowhere else afterwards."""
    one = get_object_or_404(Contact, pk=pk)
    file = tempfile.TemporaryFile()  # noqa: SIM115  # the answer closes it
    telling.write_out(one, file)
    file.seek(0)
    name = f"person-{pk}-{timezone.localdate():%Y-%m-%d}.zip"
    return FileResponse(file, as_attachment=True, filename=name, content_type="application/zip")
