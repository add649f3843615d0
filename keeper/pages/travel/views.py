"""Signed papers of other books: read, looked at before anything is written, brought in, kept."""

import base64
from typing import Any

from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from keeper.access import account, owner_only
from keeper.domain.book.previewing import Preview, tried
from keeper.domain.book.writing import Refused
from keeper.domain.travel import files
from keeper.domain.travel.plans import Arrival, arrival
from keeper.domain.travel.writes import bring_in
from keeper.models import DaybookEntry, SignedPaper, grouped
from keeper.pages.frame.files import kept_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import take_error
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.travel.forms import ArrivalForm, FileForm
from keeper.pages.travel.page import figure_rows, file_of, paper_page


@owner_only
@form_view
def arrivals(request: HttpRequest) -> HttpResponse:
    """List signed papers of other books, and take another: read it, look at it, bring it in."""
    form = FileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        data, species = form.cleaned_data["data"], form.cleaned_data["species"]
        try:
            paper = files.opened(data)
            found = arrival(paper, species=species)
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            return _looked_at(request, found, data)
    papers = SignedPaper.objects.select_related("source", "animal")
    context = {"form": form, "papers": papers[:200], "count": papers.count()}
    return render(request, "travel/list.html", context)


def _looked_at(request: HttpRequest, found: Arrival, data: bytes) -> HttpResponse:
    """The dry run of a paper; what it moves once its traits and lines are known; the writing."""
    form = ArrivalForm(request.POST if "look" in request.POST else None, of=found)
    context: dict[str, Any] = {
        "found": found,
        "form": form,
        "key": grouped(found.paper.fingerprint),
        "rows": figure_rows(found.figures),
        "data": base64.b64encode(data).decode("ascii"),
        "claims": found.paper.content["claims"],
    }
    if form.is_valid():
        choices, by = form.choices(), account(request)
        seen = request.POST.get("seen", "")
        try:
            outcome = tried(
                lambda: bring_in(paper=found.paper, choices=choices, by=by), seen=seen, always=True
            )
        except (Refused, ValidationError) as error:
            take_error(form, error)
        else:
            if isinstance(outcome, Preview):
                return render(request, "travel/arrival.html", context | {"preview": outcome})
            return _after(outcome)
    return render(request, "travel/arrival.html", context)


def _after(entry: DaybookEntry) -> HttpResponse:
    paper = SignedPaper.objects.live().latest("pk")
    return after_save("animals-signed-paper", entry, pk=paper.pk)


@owner_only
@require_safe
def one(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a signed paper: whether it holds, what it states, and what the book says now."""
    paper = _paper(pk)
    context = {"page": paper_page(paper), "paper": paper, "moved": just_moved(request)}
    return render(request, "travel/one.html", context)


@owner_only
@require_safe
def file(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the file as it came."""
    paper = _paper(pk)
    if not paper.signed:
        raise Http404
    return kept_file("sheet.json", file_of(paper))


def _paper(pk: int) -> SignedPaper:
    rows = SignedPaper.objects.select_related("source", "animal")
    found: SignedPaper = get_object_or_404(rows, pk=pk)
    return found
