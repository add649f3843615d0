"""Traits, and the combinations that show them."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from keeper.access import account
from keeper.domain.book.history import changes_of
from keeper.domain.register import queries as read
from keeper.domain.register import writes
from keeper.models import Showing, Shown, Species, Trait
from keeper.pages.frame.editing import Editing, Section, edited, section
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.moved import just_moved
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.register import page as pages
from keeper.pages.register.forms import TraitForm
from keeper.pages.register.line_forms import Combination, LineForm, PlaceForm

_PARTS = 12
_HIDING = "What animals that show this one can still show."


@require_safe
def trait(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a trait: what shows it, its lines by gene, what it hides, its harm."""
    one = get_object_or_404(read.with_lines(Trait.objects.select_related("species")), pk=pk)
    context = {
        "page": pages.trait_page(one),
        "trait": one,
        "revisions": changes_of(one),
        "moved": just_moved(request),
    }
    return render(request, "register/trait.html", context)


def _sections(form: TraitForm) -> list[Section]:
    folded = not form.errors and not form.instance.pk
    return [
        section(form, "", "name", "shown"),
        section(form, "", "base", name="base"),
        section(form, "What it hides", "hides", "hides_all", help=_HIDING, folded=folded),
        section(
            form,
            "When it is looked for",
            "looked_for_since",
            folded=folded and not form["looked_for_since"].value(),
        ),
        section(
            form,
            "How surely it is seen",
            *("told_from", "told_until", "penetrance", "mistaken", "overlooked"),
            folded=folded,
        ),
        section(form, "Harm and notes", "harm", "harm_source", "notes", folded=folded),
    ]


@form_view
def new_trait(request: HttpRequest, species: int) -> HttpResponse:
    """Add a trait with its first line, of whatever kind, as no template asks for it."""
    there = get_object_or_404(Species.objects.live(), pk=species)
    data, shown = request.POST or None, request.POST.get("shown", Shown.RECESSIVE)
    form = TraitForm(data, species=there)
    line = LineForm(data, prefix="line", first=True, alone=True, optional=shown == Shown.RULES)
    place = PlaceForm(data, prefix="place", species=there, trait=None, line=None)
    has_line = shown != Shown.EVERY and not (shown == Shown.RULES and not line.has_changed())
    what, base, *others = _sections(form)
    first = section(line, "Its first line", "code", "name", "origin", name="line")
    page = Editing(
        heading=f"Add a trait of {there}",
        forms=[form, line, place] if has_line else [form],
        sections=[what, base, first, section(place, "Its gene", name="place"), *others],
        back=reverse("register-trait-new", args=[there.pk]),
    )
    return edited(
        request,
        page,
        save=lambda _: writes.add_trait(
            trait=form.instance,
            hides=form.hidden_traits(),
            line=line.instance if has_line else None,
            place=place.chosen() if has_line else None,
            by=account(request),
        ),
        to=lambda: reverse("register-trait", args=[form.instance.pk]),
    )


@form_view
def edit_trait(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a trait."""
    one = get_object_or_404(Trait.objects.live().select_related("species"), pk=pk)
    heading = f"Change {one}"
    form = TraitForm(request.POST or None, instance=one, species=one.species)
    address = reverse("register-trait", args=[pk])
    page = Editing(
        heading=heading,
        forms=[form],
        sections=_sections(form),
        back=address,
        reason=ReasonForm.of_change(request.POST or None),
    )
    return edited(
        request,
        page,
        save=lambda reason: writes.change_trait(
            trait=one, hides=form.hidden_traits(), by=account(request), reason=reason
        ),
        to=lambda: address,
    )


@form_view
def new_showing(request: HttpRequest, trait: int) -> HttpResponse:
    """Add a combination that shows a trait."""
    one = get_object_or_404(Trait.objects.live().select_related("species"), pk=trait)
    return _combination(request, Showing(trait=one))


@form_view
def edit_showing(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a combination."""
    found = Showing.objects.live().select_related("trait__species")
    return _combination(request, get_object_or_404(found, pk=pk))


def _number(request: HttpRequest, name: str) -> int:
    """Return how many parts the request speaks of, within reason."""
    text = request.POST.get(name, "")
    return min(int(text), _PARTS) if text.isdecimal() and len(text) < 4 else 0


def _combination(request: HttpRequest, showing: Showing) -> HttpResponse:
    trait = showing.trait
    conditions = []
    if showing.pk:
        conditions = list(read.showings_of(trait).get(pk=showing.pk).conditions.all())
    parts = Combination(
        request.POST or None,
        species=trait.species,
        conditions=conditions,
        sent=_number(request, "parts"),
        rows=_number(request, "rows"),
    )
    address = reverse("register-trait", args=[trait.pk])
    page = Editing(
        heading=f"{'Change a' if showing.pk else 'A'} combination that shows {trait}",
        lead="All of its parts must hold in one animal. Parts without a line are left out.",
        forms=parts.parts,
        sections=[section(part, f"Part {n}") for n, part in enumerate(parts.parts, 1)],
        back=address,
        reason=ReasonForm.of_change(request.POST or None) if showing.pk else None,
        more=parts.more,
        also={"parts": len(parts.parts)},
    )
    return edited(
        request,
        page,
        save=lambda reason: writes.keep_showing(
            showing=showing, parts=parts.chosen(), by=account(request), reason=reason
        ),
        to=lambda: address,
    )
