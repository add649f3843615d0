"""What an animal could be bred to."""

from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from keeper.access import account
from keeper.domain.book.typed import typed
from keeper.models import Animal
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.requests import require_safe
from keeper.pages.mates.forms import AskedForm
from keeper.pages.mates.page import asked_page, mates_page
from keeper.pages.mates.table import mates_table


@require_safe
def one(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Rank the mates here of an animal; `?all=1` shows all of them."""
    animal = get_object_or_404(Animal.objects.select_related("species"), pk=pk)
    context: dict[str, Any] = {"animal": animal}
    if not animal.is_withdrawn:
        everything = request.GET.get("all") == "1"
        page = mates_page(animal, timezone.localdate(), everything=everything)
        if wants_file(request):
            return csv_file(f"mates-of-{animal.code}", mates_table(page.sides))
        context["page"] = page
    return render(request, "mates/one.html", context)


@require_safe
def asked(request: HttpRequest) -> HttpResponseBase:
    """Answer somebody who asks about an animal of theirs; nothing of it is kept."""
    if "says" not in request.GET:
        return render(request, "mates/asked.html", {"form": AskedForm()})
    form = AskedForm(request.GET)
    context: dict[str, Any] = {"form": form}
    if form.is_valid():
        says = typed(form.cleaned_data["says"], at_most=300)
        everything = request.GET.get("all") == "1"
        page = asked_page(
            form.cleaned_data["species"],
            says,
            str(account(request)),
            timezone.localdate(),
            everything=everything,
        )
        if wants_file(request):
            return csv_file("mates", mates_table(page.sides))
        context["page"] = page
    return render(request, "mates/asked.html", context)
