"""One row of a dry run: mended in place, left out, taken in again."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from keeper.access import owner_only
from keeper.domain.book.writing import Refused
from keeper.domain.imports import changing, copies
from keeper.domain.imports.checking import checked
from keeper.domain.imports.rows import Checked, Fate, Row
from keeper.domain.imports.tables.meanings import Meaning
from keeper.models import Import
from keeper.pages.frame.requests import form_view, wants_part, way_back
from keeper.pages.imports.forms import MendForm
from keeper.pages.imports.page import dry_run, row_shown


@owner_only
@form_view
def mend(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Show a row's cells, those with a problem first, and write other texts into them."""
    one, found, row = _row(pk, number)
    wrong = [problem.column for problem in row.problems if problem.column is not None]
    rest = [n for n, meaning in enumerate(found.meanings) if meaning != Meaning.LEFT]
    cells = {column: row.cells[column] for column in dict.fromkeys([*wrong, *rest])}
    form = MendForm(
        request.POST if request.method == "POST" else None, heads=found.heads, cells=cells
    )
    if form.is_valid():
        try:
            changing.mend(one=one, row=number, texts=form.texts())
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            return _shown_again(request, pk, number)
    context = {
        "one": one, "shown": row_shown(found, row), "form": form,
        "back": way_back(request) or request.GET.get("back", ""),
    }  # fmt: skip
    template = "imports/row.html" + ("#mending" if wants_part(request) else "")
    return render(request, template, context)


@owner_only
@require_POST
def leave_out(request: HttpRequest, pk: int) -> HttpResponse:
    """Leave a row out, or all that are to be mended; or take one in again."""
    one = get_object_or_404(Import, pk=pk)
    sent = request.POST.get("row", "")
    if sent == "problems":
        numbers = [row.number for row in checked(one).of(Fate.PROBLEM)]
    else:
        numbers = [int(sent)] if sent.isdecimal() and len(sent) < 9 else []
    try:
        changing.leave_out(one=one, rows=numbers, out="in" not in request.POST)
    except Refused as refused:
        messages.error(request, str(refused))
    if wants_part(request) and len(numbers) == 1:
        return _shown_again(request, pk, numbers[0])
    return redirect(way_back(request) or reverse("animals-imports-one", args=[pk]))


def _shown_again(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The row as it is now: in its place, with the counts above; or the page it was on."""
    if not wants_part(request):
        return redirect(way_back(request) or reverse("animals-imports-one", args=[pk]))
    one, found, row = _row(pk, number)
    context = {
        "one": one, "row": row_shown(found, row), "shown": dry_run(one, found, "", None),
        "again": True, "no_copy": copies.trouble(),
    }  # fmt: skip
    return render(request, "imports/again.html", context)


def _row(pk: int, number: int) -> tuple[Import, Checked, Row]:
    one = get_object_or_404(Import, pk=pk)
    if not one.is_open:
        raise Http404
    found = checked(one)
    row = next((row for row in found.rows if row.number == number), None)
    if row is None:
        raise Http404
    return one, found, row
