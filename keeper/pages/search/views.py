"""The search of the whole book, as a page and as a fragment while somebody types."""

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render

from keeper.domain.animals.queries import by_code
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.requests import require_safe, wants_part
from keeper.pages.search.page import search_page
from keeper.pages.search.table import search_table


@require_safe
def search(request: HttpRequest) -> HttpResponseBase:
    """Find what has the typed text in it; with `go` an animal's code leads to the animal."""
    text = request.GET.get("q", "").replace("\x00", "").strip()[:100]
    in_margin = wants_part(request)
    if "go" in request.GET and not in_margin and (animal := by_code(text)):
        return redirect("animals-one", pk=animal.pk)
    groups = search_page(text, in_margin=in_margin)
    if wants_file(request):
        return csv_file("found", search_table(groups))
    context = {"text": text, "groups": groups}
    return render(request, f"search/{'found' if in_margin else 'page'}.html", context)
