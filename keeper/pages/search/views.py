"""The search of the whole book, as a page and as a fragment while somebody types."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from keeper.domain.animals.queries import by_code
from keeper.pages.frame.requests import wants_part
from keeper.pages.search.page import search_page


@require_safe
def search(request: HttpRequest) -> HttpResponse:
    """Find what has the typed text in it; with `go` an animal's code leads to the animal."""
    text = request.GET.get("q", "").replace("\x00", "").strip()[:100]
    in_margin = wants_part(request)
    if "go" in request.GET and not in_margin and (animal := by_code(text)):
        return redirect("animals-one", pk=animal.pk)
    context = {"text": text, "groups": search_page(text, in_margin=in_margin)}
    return render(request, f"search/{'found' if in_margin else 'page'}.html", context)
