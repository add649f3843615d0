"""Loci: names, chromosomes, survival of genotypes, and neighbours."""

from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from keeper.access import account
from keeper.domain.book.history import history_of
from keeper.domain.register import loci
from keeper.domain.register import queries as read
from keeper.models import Interval, Locus, Species, Survival
from keeper.pages.frame.editing import Editing, edited, section
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.moved import just_moved
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.register import page as pages
from keeper.pages.register.line_forms import IntervalForm, LocusForm, SurvivalForm


@require_safe
def locus(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a locus: its lines, survival of their genotypes, its neighbours."""
    one = get_object_or_404(Locus.objects.select_related("species"), pk=pk)
    part = pages.locus_part(one, read.lines_of(one.species))
    links = Interval.objects.filter(Q(left=one) | Q(right=one)).select_related("left", "right")
    survivals = Survival.objects.filter(locus=one).select_related("one__trait", "other__trait")
    context = {
        "part": part,
        "locus": one,
        "shown": pages.shown_at(one),
        "retained": pages.chance(one.retained) if one.retained else "",
        "revisions": history_of([one, *survivals, *links]),
        "moved": just_moved(request),
    }
    return render(request, "register/locus.html", context)


@form_view
def edit_locus(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a locus."""
    one = get_object_or_404(Locus.objects.live().select_related("species"), pk=pk)
    heading = f"Change the locus {one}"
    form = LocusForm(request.POST or None, instance=one)
    address = reverse("register-locus", args=[pk])
    page = Editing(
        heading=heading,
        forms=[form],
        sections=[section(form, name="chromosome")],
        back=address,
        reason=ReasonForm.of_change(request.POST or None),
    )
    return edited(
        request,
        page,
        save=lambda reason: loci.keep_locus(locus=one, by=account(request), reason=reason),
        to=lambda: address,
    )


@form_view
def new_survival(request: HttpRequest, locus: int) -> HttpResponse:
    """Record the survival of a genotype."""
    one = get_object_or_404(Locus.objects.live().select_related("species"), pk=locus)
    return _survival(request, Survival(locus=one))


@form_view
def edit_survival(request: HttpRequest, pk: int) -> HttpResponse:
    """Change the survival of a genotype."""
    found = Survival.objects.live().select_related("locus__species", "one__trait", "other__trait")
    return _survival(request, get_object_or_404(found, pk=pk))


def _survival(request: HttpRequest, one: Survival) -> HttpResponse:
    heading = f"Survival of {one}" if one.pk else f"Survival at {one.locus}"
    form = SurvivalForm(request.POST or None, instance=one, locus=one.locus)
    address = reverse("register-locus", args=[one.locus.pk])
    page = Editing(
        heading=heading,
        lead="How many eggs of a genotype come to hatch, relative to the others. 0 %: none do.",
        forms=[form],
        sections=[section(form)],
        back=address,
        reason=ReasonForm.of_change(request.POST or None) if one.pk else None,
    )
    return edited(
        request,
        page,
        save=lambda reason: loci.keep_survival(survival=one, by=account(request), reason=reason),
        to=lambda: address,
    )


@form_view
def new_interval(request: HttpRequest, species: int) -> HttpResponse:
    """Link two neighbouring loci."""
    one = get_object_or_404(Species.objects.live(), pk=species)
    return _interval(request, Interval(), one)


@form_view
def edit_interval(request: HttpRequest, pk: int) -> HttpResponse:
    """Change how often two loci come apart."""
    found = Interval.objects.live().select_related("left__species", "right__species")
    one = get_object_or_404(found, pk=pk)
    return _interval(request, one, one.left.species)


def _interval(request: HttpRequest, one: Interval, species: Species) -> HttpResponse:
    heading = f"How far {one} are apart" if one.pk else f"Link two loci of {species}"
    form = IntervalForm(request.POST or None, instance=one, species=species)
    address = reverse("register-species", args=[species.pk])
    page = Editing(
        heading=heading,
        lead="Recombination: the share of gametes in which the two come apart. 50 %: not linked.",
        forms=[form],
        sections=[section(form)],
        back=address,
        reason=ReasonForm.of_change(request.POST or None) if one.pk else None,
    )
    return edited(
        request,
        page,
        save=lambda reason: loci.keep_interval(interval=one, by=account(request), reason=reason),
        to=lambda: address,
    )
