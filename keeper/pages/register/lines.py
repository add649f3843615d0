"""Lines and the open pairs between them."""

from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from keeper.access import account
from keeper.domain.book.history import history_of
from keeper.domain.pedigree import drawing
from keeper.domain.register import placing, second_lines
from keeper.models import Line, OpenPair, Trait
from keeper.pages.frame.editing import Editing, edited, section
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.moved import just_moved
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.register import page as pages
from keeper.pages.register.line_forms import DecideForm, LineForm, PairForm, PlaceForm
from keeper.pages.register.several_line_forms import FirstLineForm

_ONE_GENE = "Lines that share a locus are one gene: bred together they give visuals."
_LINES = Line.objects.select_related("trait__species", "locus__species")
_PAIRS = OpenPair.objects.select_related("one__trait", "one__locus", "other__trait", "other__locus")


@require_safe
def line(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a line: its origin, where it sits, with whom it is one gene."""
    one = get_object_or_404(_LINES.all(), pk=pk)
    pairs = _PAIRS.filter(Q(one=one) | Q(other=one))
    context = {
        "page": pages.line_page(one),
        "line": one,
        "pedigree": drawing.of_line(one),
        "revisions": history_of([one, *pairs]),
        "moved": just_moved(request),
    }
    return render(request, "register/line.html", context)


@form_view
def new_line(request: HttpRequest, trait: int) -> HttpResponse:
    """Add a line to a trait and say where it sits."""
    one = get_object_or_404(Trait.objects.live().select_related("species"), pk=trait)
    if (there := second_lines.nameless(one)) is not None:
        return _second_line(request, there)
    data = request.POST or None
    alone = not Line.objects.live().filter(trait=one).exists()
    form = LineForm(data, instance=Line(trait=one), alone=alone)
    place = PlaceForm(data, prefix="place", species=one.species, trait=one, line=None)
    page = Editing(
        heading=f"Add a line of {one}",
        forms=[form, place],
        sections=[
            section(form, "", "code", "name", "origin"),
            section(place, "Its gene", name="place", help=_ONE_GENE),
            section(form, "More", "background", "notes", folded=not form.errors),
        ],
        back=reverse("register-trait", args=[one.pk]),
    )
    return edited(
        request,
        page,
        save=lambda _: placing.add_line(
            line=form.instance, place=place.chosen(), by=account(request)
        ),
        to=lambda: reverse("register-line", args=[form.instance.pk]),
    )


def _second_line(request: HttpRequest, there: Line) -> HttpResponse:
    """Add a line to a trait whose only line is not named: that one gets its name first."""
    trait, data = there.trait, request.POST or None
    first = FirstLineForm(data, prefix="first", line=there)
    form = LineForm(data, instance=Line(trait=trait))
    place = PlaceForm(data, prefix="place", species=trait.species, trait=trait, line=None)
    earlier = (
        [
            section(first, "Earlier animals", "every", help=first.about_earlier),
            section(first, "One by one", *first.one_by_one, folded=first.is_for_all),
        ]
        if first.one_by_one
        else []
    )
    page = Editing(
        heading=f"Add a second line of {trait}",
        lead=f"So far {trait} has one line, which has no name. With a second one both need theirs.",
        forms=[first, form, place],
        sections=[
            section(first, "The line that is here", "code", "name"),
            *earlier,
            section(form, "The new line", "code", "name", "origin"),
            section(place, "Its gene", name="place", help=_ONE_GENE),
            section(form, "More", "background", "notes", folded=not form.errors),
        ],
        back=reverse("register-trait", args=[trait.pk]),
    )
    return edited(
        request,
        page,
        save=lambda _: second_lines.add_second_line(
            line=form.instance,
            place=place.chosen(),
            first=first.named(),
            of=first.chosen(),
            by=account(request),
        ),
        to=lambda: reverse("register-line", args=[form.instance.pk]),
    )


@form_view
def edit_line(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a line's code, name, origin, background and notes."""
    one = get_object_or_404(_LINES.filter(withdrawn_at=None), pk=pk)
    heading = f"Change {one}"
    form = LineForm(request.POST or None, instance=one, alone=not one.name)
    address = reverse("register-line", args=[pk])
    page = Editing(
        heading=heading,
        forms=[form],
        sections=[section(form)],
        back=address,
        reason=ReasonForm.of_change(request.POST or None),
    )
    return edited(
        request,
        page,
        save=lambda reason: placing.change_line(line=one, by=account(request), reason=reason),
        to=lambda: address,
    )


@form_view
def place_line(request: HttpRequest, pk: int) -> HttpResponse:
    """Decide where a line sits, or leave it open again."""
    one = get_object_or_404(_LINES.filter(withdrawn_at=None), pk=pk)
    form = PlaceForm(request.POST or None, species=one.trait.species, trait=one.trait, line=one)
    address = reverse("register-line", args=[pk])
    page = Editing(
        heading=f"Where {one} sits",
        lead=_ONE_GENE,
        forms=[form],
        sections=[section(form, name="place")],
        back=address,
        reason=ReasonForm.of_change(request.POST or None),
    )
    return edited(
        request,
        page,
        save=lambda reason: placing.place_line(
            line=one, place=form.chosen(), by=account(request), reason=reason
        ),
        to=lambda: address,
    )


def _back(request: HttpRequest, pair: OpenPair) -> str:
    """Return the address to go back to: the page of the two lines for those who came from there."""
    if request.GET.get("from") == "lines":
        return reverse("register-lines-pair", args=[pair.one_id, pair.other_id])
    return reverse("register-line", args=[pair.other_id])


@form_view
def decide_pair(request: HttpRequest, pk: int) -> HttpResponse:
    """Decide an open pair: one gene or two."""
    pair = get_object_or_404(_PAIRS.filter(withdrawn_at=None), pk=pk)
    form = DecideForm(request.POST or None)
    address = _back(request, pair)
    page = Editing(
        heading=f"{pair}: one gene or two?",
        lead=f"Before any cross you held one gene for {pages.chance(pair.prior)} likely.",
        forms=[form],
        sections=[section(form)],
        back=address,
        submit="Decide",
    )
    return edited(
        request,
        page,
        save=lambda _: placing.decide_pair(
            pair=pair,
            one_gene=form.cleaned_data["answer"] == "one",
            by=account(request),
            reason=form.cleaned_data["reason"],
        ),
        to=lambda: address,
    )


@form_view
def weigh_pair(request: HttpRequest, pk: int) -> HttpResponse:
    """Change how likely an open pair is held to be one gene."""
    pair = get_object_or_404(_PAIRS.filter(withdrawn_at=None), pk=pk)
    form = PairForm(request.POST or None, instance=pair)
    address = _back(request, pair)
    page = Editing(
        heading=f"{pair}: how likely one gene?",
        lead="What has hatched is weighed by the book itself; say what you held before.",
        forms=[form],
        sections=[section(form)],
        back=address,
        reason=ReasonForm.of_change(request.POST or None),
    )
    return edited(
        request,
        page,
        save=lambda reason: placing.weigh_pair(pair=pair, by=account(request), reason=reason),
        to=lambda: address,
    )
