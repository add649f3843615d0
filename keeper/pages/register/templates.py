"""A trait added by a template: what kind it is, then only what that kind needs."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from keeper.access import account
from keeper.domain.register.complexes import add_complex
from keeper.domain.register.templates import add_from_template
from keeper.models import Species
from keeper.pages.frame.editing import Editing, Section, asked, edited, section
from keeper.pages.frame.requests import form_view
from keeper.pages.register import kinds as pages
from keeper.pages.register.complex_forms import Complex
from keeper.pages.register.line_forms import LineForm
from keeper.pages.register.template_forms import TEMPLATES, TemplateForm, neighbours

_NAMES = (
    "Name what has a name of its own; the same name in two places is one look. What is left "
    "empty shows what one copy of each of its lines shows."
)


@form_view
def kinds(request: HttpRequest, species: int) -> HttpResponse:
    """Ask what kind of trait it is."""
    there = get_object_or_404(Species.objects.live(), pk=species)
    found = pages.kinds(there, has_neighbours=neighbours(there).exists())
    return render(request, "register/kinds.html", {"species": there, "kinds": found})


@form_view
def from_template(request: HttpRequest, species: int, kind: str) -> HttpResponse:
    """Add a trait of one kind."""
    there = get_object_or_404(Species.objects.live(), pk=species)
    if kind not in TEMPLATES:
        raise Http404("no such kind of trait")
    words = pages.kind(kind, there)
    choose = reverse("register-trait-new", args=[there.pk])
    if words.lacks:
        return redirect(choose)
    form = TemplateForm(request.POST or None, kind=kind, species=there)
    line = LineForm(request.POST or None, prefix="line", first=True, alone=True)
    page = Editing(
        heading=f"Add a trait of {there}: {words.title[0].lower()}{words.title[1:]}",
        lead=words.gives,
        forms=[form, line],
        sections=_sections(form, line),
        back=choose,
    )
    return edited(
        request,
        page,
        save=lambda _: add_from_template(new=form.chosen(line.instance), by=account(request)),
        to=lambda: reverse("register-trait", args=[line.instance.trait_id]),
    )


def _sections(form: TemplateForm, line: LineForm) -> list[Section]:
    harm = ("harm", "harm_source")
    asks_harm = form.kind == "harmful"
    asks = (*form.template.asks, *(harm if asks_harm else ()))
    rest = ("notes",) if asks_harm else (*harm, "notes")
    since = "looked_for_since"
    return [
        section(form, "", "name", "one_copy"),
        section(form, "", "double", name="double"),
        *([section(form, "", *asks)] if asks else []),
        *([section(form, "", since)] if since in form.fields else []),
        section(line, "Its first line", "code", "name", "origin", "notes"),
        section(form, "Notes" if asks_harm else "Harm and notes", *rest, folded=not form.errors),
    ]


@form_view
def new_complex(request: HttpRequest, species: int) -> HttpResponse:
    """Add several lines of one gene: first the lines, then what their combinations show."""
    there = get_object_or_404(Species.objects.live(), pk=species)
    form = Complex(
        request.POST or None,
        species=there,
        sent=_number(request, "parts"),
        rows=_number(request, "rows"),
    )
    page = Editing(
        heading=f"Add a trait of {there}: several lines of one gene",
        lead=pages.kind("complex", there).gives,
        forms=form.forms,
        sections=_complex_sections(form),
        back=reverse("register-trait-new", args=[there.pk]),
        submit="Save" if form.looks else "Next: name what they show",
        more=form.more,
        more_of="One more line",
        also={"parts": form.rows} | ({"asked": form.asked} if form.looks else {}),
    )
    if form.looks is None or not form.is_asked:
        return asked(request, page)
    names = form.looks.names
    return edited(
        request,
        page,
        save=lambda _: add_complex(
            species=there,
            name=form.head.cleaned_data["name"],
            lines=form.chosen(),
            names=names(),
            since=form.head.cleaned_data.get("looked_for_since"),
            by=account(request),
        ),
        to=lambda: reverse("register-locus", args=[form.chosen()[0].locus_id]),
    )


def _number(request: HttpRequest, name: str) -> int:
    """Return how many lines the request speaks of, within reason."""
    text = request.POST.get(name, "")
    return int(text) if text.isdecimal() and len(text) < 3 else 0


def _complex_sections(form: Complex) -> list[Section]:
    lines = [
        section(line, f"Line {row}", "code", "name", "origin", name="of-complex")
        for row, line in enumerate(form.lines, 1)
    ]
    if form.looks is None:
        return [section(form.head), *lines]
    looks = form.looks
    return [
        section(form.head),
        *lines,
        section(looks, "One copy, beside a normal one", *looks.of(1), name="looks", help=_NAMES),
        section(looks, "Two copies of one line", *looks.of(2), name="looks"),
        section(looks, "One copy of each", *looks.of(2, alike=False), name="looks"),
    ]
