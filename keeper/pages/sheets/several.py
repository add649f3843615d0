"""Sheets of several animals at once: read together, issued in one entry, kept in one file."""

from collections.abc import Sequence
from io import BytesIO
from typing import Any
from zipfile import ZipFile, ZipInfo

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from keeper.access import account
from keeper.domain.book.writing import Refused
from keeper.domain.sheets import writes as domain
from keeper.domain.sheets.living import picture_file
from keeper.domain.sheets.queries import issued_in
from keeper.models import Animal, DaybookEntry, Sheet
from keeper.pages.frame.files import printed_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import take_error
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.sheets import page as contexts
from keeper.pages.sheets.forms import IssueForm
from keeper.paper.typesetting import SIZES, CannotPrint, typeset

MOST_AT_ONCE = 50


@form_view
def new(request: HttpRequest) -> HttpResponse:
    """Show what sheets of some animals (`?animal=…&animal=…`) will say, and issue all of them."""
    asked = {pk for pk in (request.POST or request.GET).getlist("animal") if pk.isdecimal()}
    if len(asked) > MOST_AT_ONCE:
        messages.error(request, f"More than {MOST_AT_ONCE} sheets are not issued at once.")
        return redirect("animals-stock")
    by, rows = account(request), list(_animals(asked))
    if not rows:
        messages.error(request, "Tick the animals that you want sheets of first.")
        return redirect("animals-stock")
    form = IssueForm(request.POST or None)
    if form.is_valid():
        # Each animal was sent with the mark of what was read of it.
        marks = dict(
            zip(request.POST.getlist("animal"), request.POST.getlist("mark"), strict=False)
        )
        read = [marks.get(str(animal.pk), "") for animal in rows]
        try:
            _, entry = domain.issue_several(
                animals=rows, by=by, buyer=form.cleaned_data["buyer"], read=read
            )
            return after_save("sheets-several", entry, pk=entry.pk)
        except (Refused, ValidationError) as error:
            take_error(form, error)
    told = [(animal, contexts.preview(animal, by=by)) for animal in rows]
    context = {"told": told, "form": form}
    return render(request, "sheets/several_new.html", context)


def _animals(asked: set[str]) -> Any:
    rows = Animal.objects.live().filter(pk__in=[pk for pk in asked if len(pk) < 19])
    return rows.select_related("species", "source", "clutch__dam", "dam", "sire").order_by("code")


@require_safe
def several(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the sheets that one entry issued, each and all in one file."""
    entry = get_object_or_404(DaybookEntry, pk=pk)
    sheets = _issued(entry)
    context = {"entry": entry, "sheets": sheets, "sizes": SIZES, "moved": just_moved(request)}
    return render(request, "sheets/several.html", context)


@require_safe
def archive(request: HttpRequest, pk: int, size: str) -> HttpResponse:
    """Return the PDFs of these sheets in one ZIP file."""
    entry = get_object_or_404(DaybookEntry, pk=pk)
    sheets = [one for one in _issued(entry) if not one.is_withdrawn]
    name = f"sheets-{entry.pk}-{size}.zip"
    return printed_file(request, name, "application/zip", lambda: _zipped(sheets, size))


def _issued(entry: DaybookEntry) -> list[Sheet]:
    sheets = list(issued_in(entry))
    if not sheets:
        raise Http404
    return sheets


def _zipped(sheets: Sequence[Sheet], size: str) -> bytes:
    out = BytesIO()
    with ZipFile(out, "w") as file:
        for sheet in sheets:
            picture = picture_file(sheet.animal, sheet.content.get("photo", {}))
            try:
                made = typeset(sheet.content, source="sheet", size=size, picture=picture)
            except CannotPrint as error:
                raise CannotPrint(f"Sheet {sheet.numbered}: {error}") from error
            day = (*sheet.content["issued"], 0, 0, 0)
            file.writestr(ZipInfo(f"sheet-{sheet.numbered}-{size}.pdf", day), made)
    return out.getvalue()
