"""The daybook: all entries, one entry with what it moved, and the way back."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST, require_safe

from keeper.access import account
from keeper.domain.book import daybook as queries
from keeper.domain.book.undoing import undo as take_back
from keeper.domain.book.writing import Refused
from keeper.models import DaybookEntry
from keeper.pages.daybook.forms import DaybookFilter
from keeper.pages.daybook.page import entry_page
from keeper.pages.frame.moved import after_save
from keeper.pages.frame.requests import wants_part

_A_PAGE = 50


@require_safe
def entries(request: HttpRequest) -> HttpResponse:
    """List what was done, newest first, by person and day."""
    form = DaybookFilter(request.GET or None)
    found = form.narrow(queries.listed())
    page = Paginator(found, _A_PAGE).get_page(request.GET.get("page"))
    template = "daybook/list.html" + ("#entries" if wants_part(request) else "")
    rest = request.GET.copy()
    rest.pop("page", None)
    return render(request, template, {"form": form, "page": page, "filters": rest.urlencode()})


@require_safe
def entry(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one entry: who, when, why, the records it wrote and the numbers it moved."""
    found = get_object_or_404(queries.listed(), pk=pk)
    return render(request, "daybook/entry.html", {"shown": entry_page(found)})


@require_POST
def undo(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an entry back, and return to the page it was taken back on."""
    found = get_object_or_404(DaybookEntry, pk=pk)
    back = request.POST.get("back", "")
    if not url_has_allowed_host_and_scheme(
        back, {request.get_host()}, require_https=request.is_secure()
    ):
        back = ""
    try:
        undone = take_back(entry=found, by=account(request))
    except Refused as refusal:
        messages.error(request, str(refusal))
        return redirect(back) if back else redirect("daybook-entry", pk=pk)
    return after_save(back, undone) if back else after_save("daybook-entry", undone, pk=undone.pk)
