"""The way of a clutch: what is noted of a female, of eggs and of young."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from keeper.access import account
from keeper.domain.breeding import writes as domain
from keeper.models import (
    Animal,
    BreedingEvent,
    Clutch,
    ClutchStep,
    DaybookEntry,
    Incubation,
    Sex,
)
from keeper.pages.breeding.forms import (
    BoxChangeForm,
    BoxForm,
    EventChangeForm,
    EventForm,
    StepChangeForm,
    StepForm,
    YoungForm,
    today,
)
from keeper.pages.breeding.page import (
    OF_EGGS,
    OF_YOUNG_BUTTONS,
    SEEN,
    clutch_way_page,
    male_with,
    shown_season,
)
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.picking import animal_named
from keeper.pages.frame.refusals import written
from keeper.pages.frame.requests import form_view


@form_view
def season(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the way that a female is on, and note what was seen or done with her."""
    dam = get_object_or_404(Animal.objects.select_related("species"), pk=pk)
    if dam.sex != Sex.FEMALE:
        raise Http404
    male = animal_named(request.GET.get("sire"), sex="male") or male_with(dam, today())
    initial = {"on": today(), "sire": male}
    form = EventForm(request.POST or None, initial=initial, instance=BreedingEvent(dam=dam))
    if request.method == "POST" and form.is_valid():
        entry = written(
            lambda: domain.note_event(event=form.instance, by=account(request)), form
        )  # fmt: skip
        if entry is not None:
            return after_save("animals-way", entry, pk=pk)
    context = {
        "dam": dam,
        "form": form,
        "buttons": SEEN,
        "shown": shown_season(dam),
        "moved": just_moved(request),
    }
    return render(request, "breeding/season.html", context)


@form_view
def event(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct what was noted of a female, take it back, or put it back."""
    rows = BreedingEvent.objects.select_related("dam__species", "sire")
    noted = get_object_or_404(rows, pk=pk)
    form = EventChangeForm(_sent(request, "change"), instance=noted)
    return _noted(
        request,
        noted,
        form,
        lambda reason: domain.change_event(event=noted, by=account(request), reason=reason),
        reverse("animals-way", args=[noted.dam_id]),
    )


def _clutch(pk: int, *, live: bool = True) -> Clutch:
    rows = Clutch.objects.live() if live else Clutch.objects.all()
    found: Clutch = get_object_or_404(rows.select_related("species", "dam"), pk=pk)
    return found


@form_view
def clutch(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a clutch's way, and note what was seen of its eggs."""
    of = _clutch(pk, live=False)
    form = StepForm(
        request.POST or None, initial={"on": today()}, instance=ClutchStep(clutch=of)
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        entry = written(
            lambda: domain.note_step(
                step=form.instance, lost=form.lost_beside, by=account(request)
            ),
            form,
        )  # fmt: skip
        if entry is not None:
            return after_save("clutches-way", entry, pk=pk)
    return _clutch_way(request, of, form)


@form_view
def young(request: HttpRequest, pk: int) -> HttpResponse:
    """Note a first shed, a first meal or leaving of many young at once."""
    of = _clutch(pk, live=False)
    page = clutch_way_page(of)
    form = YoungForm(request.POST or None, clutch=of, without=page.without)
    if request.method == "POST" and form.is_valid():
        chosen = list(form.cleaned_data["young"])
        entry = written(
            lambda: domain.note_step(step=form.instance, young=chosen, by=account(request)), form
        )
        if entry is not None:
            return after_save("clutches-way", entry, pk=pk)
    return _clutch_way(request, of, None, form)


def _clutch_way(
    request: HttpRequest, of: Clutch, eggs: StepForm | None, young_form: YoungForm | None = None
) -> HttpResponse:
    page = clutch_way_page(of)
    if young_form is None or not young_form.is_bound:
        initial: dict[str, Any] = {"on": today(), "count": page.without or None}
        young_form = YoungForm(clutch=of, without=page.without, initial=initial)
        young_form.initial["young"] = list(young_form.fields["young"].queryset)  # type: ignore[attr-defined]  # of SeveralChoice
    if eggs is None:
        eggs = StepForm(initial={"on": today()}, instance=ClutchStep(clutch=of))
    context = {
        "page": page,
        "eggs": eggs,
        "egg_buttons": OF_EGGS,
        "young": young_form,
        "young_buttons": OF_YOUNG_BUTTONS,
        "moved": just_moved(request),
    }
    return render(request, "breeding/clutch.html", context)


@form_view
def step(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct what was noted of eggs or young, take it back, or put it back."""
    rows = ClutchStep.objects.select_related("clutch__species", "clutch__dam", "animal")
    noted = get_object_or_404(rows, pk=pk)
    form = StepChangeForm(_sent(request, "change"), instance=noted)
    return _noted(
        request,
        noted,
        form,
        lambda reason: domain.change_step(step=noted, by=account(request), reason=reason),
        reverse("clutches-way", args=[noted.clutch_id]),
    )


@form_view
def box_new(request: HttpRequest, pk: int) -> HttpResponse:
    """Note where a clutch's eggs lie."""
    of = _clutch(pk)
    last = Incubation.objects.live().order_by("-pk").first()
    initial = {"since": of.laid_on or today()}
    if last is not None:
        initial |= {"place": last.place, "temperature": last.temperature, "medium": last.medium}
    form = BoxForm(request.POST or None, instance=Incubation(clutch=of), initial=initial)
    if request.method == "POST" and form.is_valid():
        entry = written(
            lambda: domain.keep_incubation(incubation=form.instance, by=account(request)), form
        )
        if entry is not None:
            return after_save("clutches-way", entry, pk=pk)
    return render(request, "breeding/box.html", {"form": form, "clutch": of})


@form_view
def box(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct where eggs lie, take it back, or put it back."""
    noted = get_object_or_404(Incubation.objects.select_related("clutch__species"), pk=pk)
    form = BoxChangeForm(_sent(request, "change"), instance=noted)
    return _noted(
        request,
        noted,
        form,
        lambda reason: domain.keep_incubation(
            incubation=noted, by=account(request), reason=reason
        ),
        reverse("clutches-way", args=[noted.clutch_id]),
    )  # fmt: skip


def _sent(request: HttpRequest, act: str) -> Any:
    """Return what was sent if it was sent to do this; a page has two forms."""
    return request.POST if request.method == "POST" and request.POST.get("act") == act else None


def _noted(
    request: HttpRequest,
    noted: BreedingEvent | ClutchStep | Incubation,
    form: forms.BaseForm,
    change: Callable[[str], DaybookEntry],
    back: str,
) -> HttpResponse:
    """Answer for something noted: corrected, taken back or put back."""
    reason = ReasonForm(_sent(request, "withdraw"), label="Why it is taken back", auto_id="back_%s")
    put_back = forms.Form(_sent(request, "restore"))
    entry, by = None, account(request)
    if form.is_bound and not noted.is_withdrawn and form.is_valid():
        entry = written(lambda: change(str(form.cleaned_data["reason"])), form)
    elif reason.is_bound and reason.is_valid():
        why = str(reason.cleaned_data["reason"])
        entry = written(lambda: domain.withdraw_noted(noted=noted, reason=why, by=by), reason)
    elif put_back.is_bound and put_back.is_valid():
        entry = written(lambda: domain.restore_noted(noted=noted, by=by), put_back)
    if entry is not None:
        return after_save(back, entry)
    kept = type(noted)._base_manager.get(pk=noted.pk)
    context = {
        "noted": kept, "form": form, "reason": reason, "put_back": put_back, "back": back,
    }  # fmt: skip
    return render(request, "breeding/noted.html", context)
