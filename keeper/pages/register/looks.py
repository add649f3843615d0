"""Looks of several genes that have a name."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from keeper.access import account
from keeper.domain.book.history import history_of
from keeper.domain.register import named_looks as looks
from keeper.domain.saying.shows import parts_of, with_parts
from keeper.models import LookPart, NamedLook, Species
from keeper.pages.frame.editing import Editing, edited, section
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.moved import just_moved
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.register.look_forms import LookForm, SeenRows
from keeper.pages.register.look_page import look_page


@require_safe
def look(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a named look: what it is made of, and who shows it."""
    one = get_object_or_404(with_parts(NamedLook.objects.select_related("species")), pk=pk)
    context = {
        "page": look_page(one),
        "look": one,
        "revisions": history_of([one, *LookPart.objects.filter(look=one).select_related("trait")]),
        "moved": just_moved(request),
    }
    return render(request, "register/look.html", context)


@form_view
def new_look(request: HttpRequest, species: int) -> HttpResponse:
    """Name a look."""
    there = get_object_or_404(Species.objects.live(), pk=species)
    address = reverse("register-species", args=[there.pk])
    return _look(request, NamedLook(species=there), address)


@form_view
def edit_look(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a look, or what it is made of."""
    found = with_parts(NamedLook.objects.live().select_related("species"))
    return _look(request, get_object_or_404(found, pk=pk), reverse("register-look", args=[pk]))


def _number(request: HttpRequest, name: str) -> int:
    """Return how many rows the request speaks of."""
    text = request.POST.get(name, "")
    return int(text) if text.isdecimal() and len(text) < 4 else 0


def _look(request: HttpRequest, one: NamedLook, back: str) -> HttpResponse:
    data = request.POST or None
    form = LookForm(data, instance=one)
    rows = SeenRows(
        data,
        species=one.species,
        parts=list(parts_of(one)) if one.pk else [],
        sent=_number(request, "parts"),
        rows=_number(request, "rows"),
    )
    page = Editing(
        heading=f"Change the look {one}" if one.pk else f"Name a look of {one.species}",
        lead="Choose what is seen on one animal at the same time. A trait chosen by several of "
        "its lines may be of any of these.",
        forms=[form, *rows.rows],
        sections=[
            section(form, "", "name"),
            *(section(row, f"Seen {n}", name="seen") for n, row in enumerate(rows.rows, 1)),
            section(form, "", "notes"),
        ],
        back=back,
        reason=ReasonForm.of_change(data) if one.pk else None,
        more=rows.more,
        more_of="One more trait",
        also={"parts": len(rows.rows)},
    )
    return edited(
        request,
        page,
        save=lambda reason: looks.keep_look(
            look=one, parts=rows.parts(), by=account(request), reason=reason
        ),
        to=lambda: reverse("register-look", args=[one.pk]),
    )
