"""The genetic health of the collection: the page, and its tables as files."""

from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from keeper.domain.diversity import export
from keeper.domain.diversity.health import health, species_here
from keeper.domain.diversity.keeping import Asked, shown
from keeper.models import Project, Species
from keeper.pages.diversity.page import diversity_page
from keeper.pages.frame.files import csv_file
from keeper.pages.frame.requests import require_safe, wants_part

_PAGE = "diversity/page.html"


@require_safe
def diversity(request: HttpRequest) -> HttpResponse:
    """Show the species with the most animals, `?species=` another, or `?project=` its members.

    A page whose figures are old asks for newer ones by `?until=`, the entry they are to be after.
    """
    part = wants_part(request)
    try:
        species, project = _scope(request)
    except Http404:
        if part:
            return render(request, f"{_PAGE}#gone")
        raise
    if species is None:
        return render(request, _PAGE, {"page": None})
    asked = Asked(species, project, timezone.localdate())
    if not part:
        return render(request, _PAGE, {"page": diversity_page(asked, shown(asked))})
    found = shown(asked, _number(request.GET.get("until", "")))
    if found.coming:
        return HttpResponse(status=204)
    page = diversity_page(asked, found)
    return render(request, f"{_PAGE}#figures", {"page": page, "part": True})


@require_safe
def as_file(request: HttpRequest, kind: str) -> StreamingHttpResponse:
    """Give one of its tables as a file for a spreadsheet."""
    species, project = _scope(request)
    if species is None or kind not in export.TABLES:
        raise Http404
    today = timezone.localdate()
    found = health(species, project, today)
    return csv_file(f"diversity-{kind}", (export.heads(kind), export.rows(kind, found)))


def _scope(request: HttpRequest) -> tuple[Species | None, Project | None]:
    """Whose health is asked for; no species where no animal is here."""
    if "project" in request.GET:
        projects = Project.objects.live().select_related("species")
        project: Project = get_object_or_404(projects, pk=_number(request.GET["project"]))
        return project.species, project
    if "species" in request.GET:
        return get_object_or_404(Species.objects.live(), pk=_number(request.GET["species"])), None
    return next(iter(species_here()), None), None


def _number(typed: str) -> int:
    if not (typed.isascii() and typed.isdigit() and len(typed) < 19):
        raise Http404
    return int(typed)
