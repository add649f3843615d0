"""The register: its start page and species."""

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from keeper.access import account
from keeper.domain.book.history import changes_of
from keeper.domain.register import queries as read
from keeper.domain.register import writes
from keeper.models import Line, Species
from keeper.models.species import WAY_STEPS
from keeper.pages.frame.editing import Editing, edited, section
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.moved import just_moved
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.register import look_page as look_pages
from keeper.pages.register import page as pages
from keeper.pages.register.forms import ENDS, SpeciesForm
from keeper.pages.register.table import traits_table


@require_safe
def start(request: HttpRequest) -> HttpResponseBase:
    """Show every species with its traits, and the contacts."""
    shown = pages.register()
    if wants_file(request):
        return csv_file("traits", traits_table(shown.chapters))
    return render(
        request,
        "register/start.html",
        {"register": shown, "moved": just_moved(request)},
    )


@require_safe
def species(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Show a species with its traits and the links between its loci."""
    one = get_object_or_404(read.with_traits(Species.objects.all()), pk=pk)
    pairs = read.open_pairs(Line.objects.live().filter(trait__species=one))
    chapter = pages.chapter(one, pairs)
    if wants_file(request):
        return csv_file("traits", traits_table([chapter]))
    context = {
        "chapter": chapter,
        "intervals": pages.intervals(read.intervals_in(one)),
        "looks": look_pages.listed(one),
        "hatch_rate": pages.chance(one.hatch_rate),
        "revisions": changes_of(one),
        "moved": just_moved(request),
    }
    return render(request, "register/species.html", context)


@form_view
def edit_species(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Add a species or change it."""
    one = get_object_or_404(Species.objects.live(), pk=pk) if pk else Species()
    heading = f"Change {one}" if pk else "Add a species"
    form = SpeciesForm(request.POST or None, instance=one)
    page = Editing(
        heading=heading,
        forms=[form],
        sections=[
            section(form, "", "name", "scientific_name", "sex_determination"),
            section(form, "Breeding", "female_mature_months", "male_mature_months"),
            section(
                form,
                "Clutches",
                *("eggs_usual", "eggs_most", "hatch_rate"),
                *("incubation_days", "incubation_least", "incubation_most", "incubation_note"),
                *("alone_known", "figures_source"),
            ),
            section(
                form,
                "The way of a clutch",
                *("bearing", *(f"{one}_{end}" for one in WAY_STEPS for end in ENDS)),
                *("fertile_days", "lock_weight", "stores_sperm", "way_source"),
                help="What your own clutches say counts as soon as there are five of them.",
                folded=True,
            ),
            section(
                form,
                "Weights and meals that are pointed out",
                *("loss_percent", "loss_laid_percent", "loss_weeks", "refusals_usual"),
                folded=True,
            ),
            section(form, "For buyers", "cautions"),
        ],
        back=reverse("register-species", args=[pk]) if pk else reverse("register"),
        reason=ReasonForm.of_change(request.POST or None) if pk else None,
    )
    return edited(
        request,
        page,
        save=lambda reason: writes.keep_species(species=one, by=account(request), reason=reason),
        to=lambda: reverse("register-species", args=[one.pk]),
    )
