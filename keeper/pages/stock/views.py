"""The stock: its lists, and what is asked for an animal."""

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render

from keeper.access import account
from keeper.domain.stock import writes as domain
from keeper.domain.stock.likeness import brought_before
from keeper.domain.stock.queries import asked_before, open_offer
from keeper.models import Animal
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import written
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.stock import page as pages
from keeper.pages.stock.forms import EndForm, OfferForm


@require_safe
def stock(request: HttpRequest) -> HttpResponseBase:
    """List what is for sale, or with `?list=` what is on hold, sold, gone, or came back."""
    asked = pages.asked_for(request.GET.get("list"), request.GET.get("trait"))
    if wants_file(request):
        return csv_file("stock", pages.stock_table(asked))
    shown = pages.stock_page(asked, request.GET.get("page"))
    return render(request, "stock/list.html", {"shown": shown, "moved": just_moved(request)})


@form_view
def offer(request: HttpRequest, pk: int) -> HttpResponse:
    """Put an animal up for sale, or ask another price; beside what its like brought before."""
    animal = get_object_or_404(Animal.objects.live(), pk=pk)
    before = open_offer(animal)
    form = OfferForm(request.POST if request.method == "POST" else None, before=before)
    if form.is_valid():
        given = form.cleaned_data
        entry = written(
            lambda: domain.offer(
                asked=[
                    (animal, form.money() if "asked" in form.fields else pages.as_asked(before))
                ],
                on=given["on"],
                by=account(request),
                reason=given.get("reason", ""),
            ),
            form,
        )
        if entry is not None:
            return after_save("animals-one", entry, pk=pk)
    context = {
        "form": form,
        "animal": animal,
        "before": before,
        "asked": pages.prices(asked_before(animal)),
        "alike": pages.alike(brought_before(animal)),
    }
    return render(request, "stock/offer.html", context)


@form_view
def take_off(request: HttpRequest, pk: int) -> HttpResponse:
    """Offer an animal no longer."""
    animal = get_object_or_404(Animal.objects.live(), pk=pk)
    form = EndForm(request.POST if request.method == "POST" else None, note="Why")
    if form.is_valid():
        given = form.cleaned_data
        entry = written(
            lambda: domain.take_off(
                animal=animal, on=given["on"], by=account(request), reason=given["note"]
            ),
            form,
        )
        if entry is not None:
            return after_save("animals-one", entry, pk=pk)
    context = {"form": form, "animal": animal, "step": pages.TAKE_OFF}
    return render(request, "stock/step.html", context)
