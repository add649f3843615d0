"""Rounds: all of a place in one form, or one animal after another."""

import re
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from keeper.access import account
from keeper.domain.book.typed import row_number
from keeper.domain.husbandry import writes as care
from keeper.domain.husbandry.queries import last_of
from keeper.models import Animal, DaybookEntry, Meal, Place
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import written
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.husbandry import page as pages
from keeper.pages.husbandry.forms import EachForm, RoundForm
from keeper.pages.husbandry.page import Where

_FIELD = re.compile(r"meal-(\d{1,18})")
# What a round offered last, remembered for the next one of this person.
_REMEMBERED = "round_said"


@form_view
def all_at_once(request: HttpRequest) -> HttpResponse:
    """Choose a place; then note what became of the meals of all that are in it, at once."""
    where = _where(request)
    if where is None:
        choice = {"rounds": pages.rounds(), "moved": just_moved(request)}
        return render(request, "husbandry/rounds.html", choice)
    if request.method == "POST":
        form = RoundForm(request.POST, animals=_animals_sent(request))
        entry = _fed(request, form, where) if form.is_valid() else None
        if entry is not None:
            return after_save("animals-round", entry)
    else:
        said = request.session.get(_REMEMBERED, {})
        form = RoundForm(animals=where.animals, initial=said)
    context = {"where": where, "form": form, "fares": pages.fares(form.animals, form)}
    return render(request, "husbandry/round.html", context)


@form_view
def one_by_one(request: HttpRequest) -> HttpResponse:
    """Go through a place one animal after another: a meal, a weight, a word each."""
    where = _where(request)
    if where is None:
        return redirect("animals-round")
    if not where.animals and request.method != "POST":
        return redirect(where.round)
    animal = _at(request, where)
    step = pages.step_of(where, animal)
    last = last_of(Meal, [animal.pk]).get(animal.pk)
    data = request.POST if request.method == "POST" else None
    form = EachForm(data, last=last[0] if last else None)
    if form.is_valid():
        records = form.records(animal)
        if not records:
            return redirect(step.next)
        entry = written(
            lambda: care.note(records=records, animal=animal, by=account(request)), form
        )
        if entry is not None:
            return redirect(f"{step.next}&moved={entry.pk}")
    context = {"where": where, "form": form, "step": step, "moved": just_moved(request)}
    return render(request, "husbandry/each.html", context)


@require_safe
def on_paper(request: HttpRequest) -> HttpResponse:
    """A round to be printed: what each weighed and had last, and room to write."""
    where = _where(request)
    if where is None:
        return redirect("animals-round")
    context = {"where": where, "fares": pages.fares(where.animals)}
    return render(request, "husbandry/round_on_paper.html", context)


def _fed(request: HttpRequest, form: RoundForm, where: Where) -> DaybookEntry | None:
    said = {name: form.cleaned_data[name] for name in ("prey", "grams")}
    on = form.cleaned_data["on"]
    entry = written(
        lambda: care.feed(fed=form.fed(), where=where.name, on=on, by=account(request), **said),
        form,
    )
    if entry is not None:
        request.session[_REMEMBERED] = said
    return entry


def _where(request: HttpRequest) -> Where | None:
    """What the address says that the round goes over; nothing: that is still to be chosen."""
    named = request.GET.get("place", "")
    if named:
        where = pages.where_of_place(get_object_or_404(Place.objects.live(), pk=row_number(named)))
        if where is None:
            raise Http404
        return where
    rack = request.GET.get("within", "")[:40].replace("\0", "").strip()
    return pages.where_written(rack) if rack else None


def _animals_sent(request: HttpRequest) -> list[Animal]:
    """The animals that the form shows, in its order: whoever was moved meanwhile stays in it."""
    fields = (_FIELD.fullmatch(name) for name in request.POST)
    ids = [int(one[1]) for one in fields if one][: pages.MOST]
    found: Any = Animal.objects.select_related("species").in_bulk(ids)
    return [found[pk] for pk in dict.fromkeys(ids) if pk in found]


def _at(request: HttpRequest, where: Where) -> Animal:
    """The animal that the address names; the first where it names none of the place.

    A form that is sent is of its animal, wherever that was moved meanwhile.
    """
    named = request.GET.get("animal", "")
    found = next((one for one in where.animals if str(one.pk) == named), None)
    if found is None and request.method == "POST":
        found = get_object_or_404(Animal, pk=row_number(named))
    return found or where.animals[0]
