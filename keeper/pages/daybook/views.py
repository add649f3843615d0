"""The daybook: all entries, one entry with what it moved, and the way back."""

from typing import cast
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from keeper.access import account
from keeper.domain.backups.troubles import NotMade
from keeper.domain.book import daybook as queries
from keeper.domain.book.previewing import Preview, tried
from keeper.domain.book.undoing import built_on
from keeper.domain.book.undoing import undo as take_back
from keeper.domain.book.writing import Refused
from keeper.domain.daybook import withdrawn as gone
from keeper.domain.imports.copies import copy_before, is_of_an_import
from keeper.models import Account, DaybookEntry
from keeper.pages.daybook.forms import DaybookFilter, WithdrawnFilter
from keeper.pages.daybook.page import entry_page, undo_page, withdrawn_rows
from keeper.pages.daybook.table import daybook_table
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import written_at_once
from keeper.pages.frame.requests import require_safe, wants_part, way_back

_A_PAGE = 24


@require_safe
def entries(request: HttpRequest) -> HttpResponseBase:
    """List what was done, newest first, by person, kind, days and words."""
    form = DaybookFilter(request.GET or None)
    found = form.narrow(queries.listed())
    if wants_file(request):
        return csv_file("daybook", daybook_table(found))
    page = Paginator(found, _A_PAGE).get_page(request.GET.get("page"))
    template = "daybook/list.html" + ("#entries" if wants_part(request) else "")
    rest = request.GET.copy()
    rest.pop("page", None)
    return render(request, template, {"form": form, "page": page, "filters": rest.urlencode()})


@require_safe
def withdrawn(request: HttpRequest) -> HttpResponse:
    """List what was withdrawn, of every kind or one, the latest first."""
    form = WithdrawnFilter(request.GET or None)
    asked = form.asked()
    page = Paginator(gone.withdrawn(asked), _A_PAGE).get_page(request.GET.get("page"))
    context = {
        "form": form,
        "page": page,
        "rows": withdrawn_rows(cast("list[gone.Row]", list(page.object_list))),
        "filters": urlencode({"kind": asked}) if asked else "",
        "moved": just_moved(request),
    }
    return render(request, "daybook/withdrawn.html", context)


@require_POST
def bring_back(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """Let a withdrawn record count again, through the checks of its own page."""
    record = gone.found(kind, pk)
    if record is None:
        raise Http404("no such withdrawn record")
    return written_at_once(
        request,
        lambda: gone.bring_back(record=record, by=account(request)),
        reverse("daybook-withdrawn"),
    )


@require_safe
def entry(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one entry: who, when, why, the records it wrote and the numbers it moved."""
    found = get_object_or_404(queries.listed(), pk=pk)
    return render(request, "daybook/entry.html", {"shown": entry_page(found)})


@require_http_methods(["GET", "HEAD", "POST"])
def undo(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an entry back, and return to the page it was taken back on.

    What was built on it is shown first, with what taking back all of it together would move.
    """
    found = get_object_or_404(DaybookEntry.objects.select_related("by", "undone_by"), pk=pk)
    back, by = way_back(request), account(request)
    refusal, ahead, no_copy = "", None, False
    if request.method == "POST":
        without_copy = "without_copy" in request.POST
        try:
            outcome = _taken_back(
                found, by, seen=request.POST.get("seen", ""), without_copy=without_copy
            )
        except NotMade as error:
            refusal, no_copy = str(error), True
        except Refused as refused:
            refusal = str(refused)
        else:
            if isinstance(outcome, DaybookEntry):
                return after_save(back or reverse("daybook-entry", args=[outcome.pk]), outcome)
            ahead = outcome
    shown = undo_page(found, by, ahead=ahead, refusal=refusal)
    context = {"shown": shown, "back": back, "no_copy": no_copy}
    return render(request, "daybook/undo.html", context)


def _taken_back(
    entry: DaybookEntry, by: Account, *, seen: str, without_copy: bool
) -> DaybookEntry | Preview:
    """Take back what nothing was built on at once, and the rest once it was looked at.

    Before an import is taken back a copy of the book is made. Raises `NotMade`.
    """
    built = built_on(entry)
    at_once = not seen and built.is_alone
    if (at_once or seen) and any(map(is_of_an_import, [entry, *built.entries])):
        copy_before("an import is taken back", without_copy=without_copy)
    if at_once:
        return take_back(entry=entry, by=by)
    return tried(lambda: take_back(entry=entry, by=by, together=True), seen=seen, always=True)
