"""Places: the tree, one place with its picture, entering, changing, moving."""

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from keeper.access import account
from keeper.domain.places import writes as places
from keeper.models import Animal, Place
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import written, written_at_once, written_for_reason
from keeper.pages.frame.requests import form_view, reading, require_safe
from keeper.pages.places import page as pages
from keeper.pages.places.forms import MoveForm, PlaceForm


@require_safe
def tree(request: HttpRequest) -> HttpResponseBase:
    """Show all places as a tree, with what is free."""
    if wants_file(request):
        return csv_file("places", pages.places_table())
    return render(request, "places/tree.html", {"tree": pages.tree(), "moved": just_moved(request)})


@reading
@form_view
def one(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a place with its picture, and move who is in it."""
    place = get_object_or_404(Place.objects.select_related("within"), pk=pk)
    shown = pages.place_page(place)
    offered = Animal.objects.filter(pk__in=[one.pk for one in shown.animals]).order_by("code")
    form = MoveForm(request.POST or None, offered=offered, names=pages.free_names())
    if form.is_valid():
        moving, to = list(form.cleaned_data["animals"]), form.cleaned_data["to"]
        entry = written(lambda: places.move(animals=moving, to=to, by=account(request)), form)
        if entry is not None:
            return after_save("animals-places-one", entry, pk=pk)
    context = {"shown": shown, "form": form, "moved": just_moved(request)}
    return render(request, "places/one.html", context)


@form_view
def new(request: HttpRequest) -> HttpResponse:
    """Enter a place, with its numbered tubs."""
    within = request.GET.get("within", "")
    form = PlaceForm(request.POST or None, initial={"within": within if within.isdecimal() else ""})
    if request.method == "POST" and form.is_valid():
        parts = form.cleaned_data["parts"] or 0
        entry = written(
            lambda: places.add_place(place=form.instance, parts=parts, by=account(request)), form
        )
        if entry is not None:
            return after_save("animals-places-one", entry, pk=form.instance.pk)
    return render(request, "places/edit.html", {"form": form, "heading": "Add a place"})


@form_view
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a place: under another name, with everybody in it."""
    place = get_object_or_404(Place.objects.live(), pk=pk)
    form = PlaceForm(request.POST or None, instance=place)
    if request.method == "POST" and form.is_valid():
        reason = form.cleaned_data["reason"]
        entry = written(
            lambda: places.change_place(place=form.instance, by=account(request), reason=reason),
            form,
        )
        if entry is not None:
            return after_save("animals-places-one", entry, pk=pk)
    kept = get_object_or_404(Place, pk=pk)
    context = {"form": form, "heading": f"Change {kept}", "place": kept}
    return render(request, "places/edit.html", context)


@form_view
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a place out of the tree, with a reason."""
    place = get_object_or_404(Place.objects.live(), pk=pk)
    data = request.POST if request.method == "POST" else None
    form = ReasonForm.of_record(data)
    entry = written_for_reason(
        form, lambda reason: places.withdraw_place(place=place, by=account(request), reason=reason)
    )
    if entry is not None:
        return after_save("animals-places", entry)
    context = {"form": form, "heading": f"Withdraw {place}", "place": place, "harm": True}
    return render(request, "places/edit.html", context)


@require_POST
def enter_written(request: HttpRequest) -> HttpResponse:
    """Enter the places that are only written with animals."""
    return written_at_once(
        request, lambda: places.enter_written(by=account(request)), reverse("animals-places")
    )
