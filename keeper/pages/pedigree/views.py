"""Pedigrees, each a page of its own with a choice of gene, generations and size."""

from collections.abc import Callable
from functools import partial

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from keeper.domain.pedigree import drawing
from keeper.domain.pedigree.marks import Picture
from keeper.models import Animal, Clutch, Line, Project
from keeper.pages.frame.requests import require_safe
from keeper.pages.pedigree.page import PedigreePage, asked, pedigree_page


@require_safe
def of_animal(request: HttpRequest, pk: int) -> HttpResponse:
    """Draw an animal's ancestors and young."""
    animal = get_object_or_404(Animal, pk=pk)
    back = (reverse("animals-one", args=[pk]), animal.code)
    return _as_asked(request, partial(drawing.of_animal, animal), back, down=True)


@require_safe
def of_clutch(request: HttpRequest, pk: int) -> HttpResponse:
    """Draw the families of a clutch's parents, and what hatched."""
    clutch = get_object_or_404(Clutch, pk=pk)
    back = (reverse("clutches-one", args=[pk]), f"Clutch {clutch.code}")
    return _as_asked(request, partial(drawing.of_clutch, clutch), back)


@require_safe
def of_project(request: HttpRequest, pk: int) -> HttpResponse:
    """Draw the members of a project and their ancestors."""
    project = get_object_or_404(Project, pk=pk)
    back = (reverse("projects-one", args=[pk]), project.name)
    return _as_asked(request, partial(drawing.of_project, project), back)


@require_safe
def of_line(request: HttpRequest, pk: int) -> HttpResponse:
    """Draw all who may carry a line, from those it came in by."""
    line = get_object_or_404(Line.objects.select_related("trait"), pk=pk)
    page = pedigree_page(
        drawing.of_line(line),
        asked({}),
        size=request.GET.get("size", ""),
        back=(reverse("register-line", args=[pk]), str(line)),
        up=False,
    )
    return _shown(request, page)


def _as_asked(
    request: HttpRequest,
    draw: Callable[[drawing.Asked], Picture],
    back: tuple[str, str],
    *,
    down: bool = False,
) -> HttpResponse:
    """Draw it with the gene and the generations that the address asks for."""
    of = asked(request.GET)
    size = request.GET.get("size", "")
    return _shown(request, pedigree_page(draw(of), of, size=size, back=back, down=down))


def _shown(request: HttpRequest, page: PedigreePage) -> HttpResponse:
    kept = request.GET.copy()
    kept.pop("size", None)
    context = {"page": page, "kept": kept.urlencode()}
    return render(request, "pedigree/one.html", context)
