"""Several animals of the list changed at once."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from keeper.access import account
from keeper.domain.animals.together import change_together
from keeper.domain.collection import queries as reads
from keeper.models import Animal, Member
from keeper.pages.collection.forms import FiltersForm, plain_query
from keeper.pages.collection.together_forms import TogetherForm
from keeper.pages.frame.moved import after_save
from keeper.pages.frame.refusals import written
from keeper.pages.frame.requests import form_view

# As many as can be looked through; filters make a longer list shorter.
MOST = 200


@form_view
def together(request: HttpRequest) -> HttpResponse:
    """Change status, place and review day of animals that the address asks for."""
    found = list(reads.collection(FiltersForm(request.GET).filters())[: MOST + 1])
    offered = Animal.objects.live().filter(pk__in=[one.pk for one in found[:MOST]]).order_by("code")
    form = TogetherForm(request.POST or None, offered=offered)
    query = plain_query(request.GET)
    back = reverse("animals") + (f"?{query}" if query else "")
    if form.is_valid():
        entry = written(
            lambda: change_together(
                animals=form.cleaned_data["animals"],
                to=form.together(),
                reason=form.cleaned_data["reason"],
                by=account(request),
            ),
            form,
        )
        if entry is not None:
            return after_save(reverse("daybook-entry", args=[entry.pk]), entry)
    held = Member.objects.live().filter(animal__in=offered.order_by(), released_on=None)
    context = {
        "form": form,
        "animals": list(offered),
        "held": list(held),
        "back": back,
        "more": len(found) > MOST,
    }
    return render(request, "collection/together.html", context)
