"""Clutches: their list, a new one, the page of one, corrections."""

from typing import Any

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from keeper.access import account
from keeper.domain.animals.queries import picks
from keeper.domain.book.typed import typed
from keeper.domain.breeding.shown import shown_clutch
from keeper.domain.clutches import queries
from keeper.domain.clutches import writes as domain
from keeper.domain.pedigree import drawing
from keeper.models import Animal, Clutch, DaybookEntry
from keeper.pages.clutches.forms import ClutchChangeForm, ClutchFilterForm, ClutchForm
from keeper.pages.clutches.laying import ProposalForm, as_initial
from keeper.pages.clutches.page import HEADS, clutch_list, clutch_page, clutch_rows
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.files import csv_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.picking import animal_named
from keeper.pages.frame.refusals import written
from keeper.pages.frame.requests import form_view, require_safe, wants_part


def clutch_or_404(pk: int, *, live: bool = True) -> Clutch:
    """Return a clutch with its parents, or answer that there is none."""
    found = Clutch.objects.live() if live else Clutch.objects.all()
    clutch: Clutch = get_object_or_404(queries.with_parents(found), pk=pk)
    return clutch


@require_safe
def clutches(request: HttpRequest) -> HttpResponse:
    """List the clutches; every filter lives in the address."""
    form = ClutchFilterForm(request.GET)
    form.is_valid()
    page = clutch_list(form.cleaned_data, request.GET.get("page", "1"))
    kept = request.GET.copy()
    kept.pop("page", None)
    context = {
        "form": form,
        "page": page,
        "filters": kept.urlencode(),
        "none_yet": not Clutch.objects.exists(),
    }
    part = "#table" if wants_part(request) else ""
    return render(request, f"clutches/list.html{part}", context)


@require_safe
def as_file(request: HttpRequest) -> StreamingHttpResponse:
    """Give all pages of the list as a file for a spreadsheet."""
    form = ClutchFilterForm(request.GET)
    form.is_valid()
    return csv_file("clutches", (HEADS, clutch_rows(form.cleaned_data)))


@require_safe
def pick(request: HttpRequest) -> HttpResponse:
    """Answer with the animals that the typed text may mean, as options."""
    sex = "female" if request.GET.get("sex") == "female" else "male"
    text = typed(request.GET.get(request.GET.get("field", "")), at_most=24)
    return render(request, "clutches/options.html", {"picks": picks(text, sex=sex)})


@form_view
def new(request: HttpRequest) -> HttpResponse:
    """Enter a clutch, perhaps of a pair that was looked up."""
    today = timezone.localdate()
    dam = animal_named(request.GET.get("dam"), sex="female")
    asked = ProposalForm(request.GET if "laid" in request.GET else None, dam=dam)
    proposal = asked.proposal()
    initial = {
        "code": queries.next_clutch_code(today.year),
        "laid_on": asked.day,
        "hatched_on": asked.day,
        "dam": dam,
        "sire_1": animal_named(request.GET.get("sire"), sex="male"),
        **as_initial(proposal),
    }
    live = dam is not None and dam.species.bears_live
    form = ClutchForm(request.POST or None, initial=initial, live=live)
    if request.method == "POST" and form.is_valid():
        clutch = form.save(commit=False)
        entry = written(
            lambda: domain.lay_clutch(
                clutch=clutch, candidates=form.cleaned_data["candidates"], by=account(request)
            ),
            form,
        )
        if entry is not None:
            return after_save("clutches-one", entry, pk=clutch.pk)
    context = {"form": form, "dam": dam, "asked": asked, "proposal": proposal, "live": live}
    context["nobody"] = dam is None and not Animal.objects.live().exists()
    return render(request, "clutches/new.html", context)


@require_safe
def one(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a clutch."""
    clutch = clutch_or_404(pk, live=False)
    context: dict[str, Any] = {
        "page": clutch_page(clutch),
        "way": shown_clutch(clutch),
        "pedigree": drawing.of_clutch(clutch, drawing.Asked()),
        "moved": just_moved(request),
    }
    return render(request, "clutches/one.html", context)


@form_view
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct a clutch."""
    clutch = clutch_or_404(pk)
    form = ClutchChangeForm(request.POST or None, instance=clutch)
    if request.method == "POST" and form.is_valid():
        entry = written(
            lambda: domain.change_clutch(
                clutch=form.save(commit=False),
                candidates=form.cleaned_data["candidates"],
                reason=form.cleaned_data["reason"],
                by=account(request),
            ),
            form,
        )
        if entry is not None:
            return after_save("clutches-one", entry, pk=pk)
    return render(request, "clutches/edit.html", {"form": form, "clutch": clutch_or_404(pk)})


@form_view
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a clutch out of the book's account, or put it back."""
    clutch = clutch_or_404(pk, live=False)
    form = ReasonForm(request.POST or None)
    by, was_withdrawn = account(request), clutch.is_withdrawn
    if request.method == "POST" and (was_withdrawn or form.is_valid()):

        def write() -> DaybookEntry:
            if was_withdrawn:
                return domain.restore_clutch(clutch=clutch, by=by)
            reason = form.cleaned_data["reason"]
            return domain.withdraw_clutch(clutch=clutch, reason=reason, by=by)

        entry = written(write, form)
        if entry is not None:
            return after_save("clutches-one", entry, pk=pk)
    return render(request, "clutches/withdraw.html", {"form": form, "clutch": clutch})
