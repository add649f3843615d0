"""The season's pairings: worked out, kept, written by hand, given up."""

from typing import Any

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from keeper.access import account
from keeper.domain.book.typed import row_number
from keeper.domain.book.writing import Refused
from keeper.domain.inference import Unanswerable
from keeper.domain.projects.queries import open_projects
from keeper.domain.season import queries
from keeper.domain.season import writes as domain
from keeper.domain.season.planning import Pair, SeasonPlan, Wishes, season_plan
from keeper.models import PlannedPairing, Species
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.picking import animal_named
from keeper.pages.frame.refusals import said, written, written_for_reason
from keeper.pages.frame.requests import form_view, reading
from keeper.pages.season.forms import MOST_FIXED, PairingPlanForm, SeasonForm
from keeper.pages.season.page import SeasonPage, as_planned, planned_rows, season_page, shown_pairs
from keeper.pages.season.table import season_table


@reading
@form_view
def season(request: HttpRequest) -> HttpResponseBase:
    """Show what is planned; with `?go=1` work out the best pairs, and keep them when sent."""
    asked = request.GET.copy()
    species = _species(asked.get("species"))
    if species is None:
        return render(request, "season/empty.html")
    projects = list(open_projects(species))
    going = "go" in asked
    form = SeasonForm(asked if going else None, species=species, projects=projects)
    page: SeasonPage | None = None
    trouble = ""
    if going and form.is_valid():
        wishes = form.wishes(_pairs(asked.getlist("fix")), _pairs(asked.getlist("not")))
        try:
            plan = season_plan(species, projects, wishes)
        except Unanswerable as error:
            trouble = str(error)
        else:
            if request.method == "POST":
                answer, trouble = _keep(request, plan, wishes)
                if answer is not None:
                    return answer
            page = season_page(plan, wishes, asked)
    if wants_file(request):
        return csv_file("pairings", season_table(page))
    context = {
        "form": form,
        "page": page,
        "trouble": trouble,
        "species": species,
        "planned": planned_rows(),
        "moved": just_moved(request),
    }
    return render(request, "season/season.html", context)


def _keep(
    request: HttpRequest, plan: SeasonPlan, wishes: Wishes
) -> tuple[HttpResponse | None, str]:
    """Keep the pairs that were shown; if others are best by now, say so and show those."""
    if request.POST.get("shown", "") != shown_pairs(plan):
        return None, "The book has changed since: these are the best pairs now. Look at them again."
    try:
        entry = domain.plan_pairings(pairings=as_planned(plan, wishes), by=account(request))
    except (Refused, ValidationError) as error:
        return None, said(error)
    return after_save("projects-season", entry), ""


@form_view
def new(request: HttpRequest) -> HttpResponse:
    """Plan one pairing by hand (`?dam=pk&sire=pk`, either or both known already)."""
    initial: dict[str, Any] = {
        "season": domain.season_of(timezone.localdate()),
        "dam_code": animal_named(request.GET.get("dam"), sex="female") or "",
        "sire_code": animal_named(request.GET.get("sire"), sex="male") or "",
    }
    form = PairingPlanForm(request.POST or None, initial=initial)
    if form.is_valid():
        pairing = form.instance
        entry = written(
            lambda: domain.plan_pairings(pairings=[pairing], by=account(request)), form,
            at=form.asked_as,
        )  # fmt: skip
        if entry is not None:
            return after_save("projects-season", entry)
    return render(request, "season/new.html", {"form": form})


@reading
@form_view
def one(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a planned pairing; sent with a reason, give it up."""
    rows = PlannedPairing.objects.select_related("dam__species", "sire")
    pairing = get_object_or_404(rows, pk=pk)
    form = ReasonForm(request.POST or None, label="Why it is given up")
    entry = written_for_reason(
        form, lambda reason: domain.give_up(pairing=pairing, reason=reason, by=account(request))
    )
    if entry is not None:
        return after_save("projects-season", entry)
    laid = queries.clutches_of([pairing]).get(pairing.pk)
    context = {"pairing": pairing, "form": form, "laid": laid, "moved": just_moved(request)}
    return render(request, "season/one.html", context)


def _species(asked: str | None) -> Species | None:
    """Return the species asked about, else that of the most animals."""
    rows = Species.objects.live().order_by("name")
    if (number := row_number(asked)) is not None:
        found: Species | None = rows.filter(pk=number).first()
        if found is not None:
            return found
    every = list(rows)
    return max(every, key=lambda one: one.animals.live().count(), default=None)


def _pairs(typed: list[str]) -> frozenset[Pair]:
    """Return the pairs that an address names as "12-34"; what is none is passed over."""
    found = set()
    for text in typed[:MOST_FIXED]:
        dam, sire = map(row_number, text.partition("-")[::2])
        if dam is not None and sire is not None:
            found.add((dam, sire))
    return frozenset(found)
