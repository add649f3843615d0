"""Prospects: animals that one thinks of buying, from the first word to the purchase."""

from typing import Any

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from keeper.access import account
from keeper.domain.book.writing import Refused
from keeper.domain.prospects import queries
from keeper.domain.prospects import questions as asking
from keeper.domain.prospects import writes as domain
from keeper.models import DaybookEntry, Prospect
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import written, written_at_once, written_for_reason
from keeper.pages.frame.requests import form_view, require_safe, wants_part
from keeper.pages.prospects.figures import figures
from keeper.pages.prospects.forms import BuyForm, LettingGoForm, MessageForm, ProspectForms
from keeper.pages.prospects.page import message_page, prospect_list, prospect_page
from keeper.pages.prospects.table import prospects_table


@require_safe
def prospects(request: HttpRequest) -> HttpResponseBase:
    """List those on offer, or with `?state=` those that were bought or let go."""
    if wants_file(request):
        return csv_file("prospects", prospects_table(request.GET.get("state", "")))
    shown = prospect_list(request.GET.get("state", ""), request.GET.get("page"))
    return render(request, "prospects/list.html", {"shown": shown})


@require_safe
def one(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a prospect; `?figures=1` works out what the book would say of it, and its mates."""
    prospect = _found(pk)
    shown = prospect_page(prospect)
    asked = shown.is_open and request.GET.get("figures") == "1"
    found = figures(prospect, shown.projects, account(request)) if asked else None
    context: dict[str, Any] = {"shown": shown, "prospect": prospect, "figures": found}
    if found and wants_part(request):
        return render(request, "prospects/one.html#figures", context)
    return render(request, "prospects/one.html", context | {"moved": just_moved(request)})


@form_view
def new(request: HttpRequest) -> HttpResponse:
    """Write down an animal on offer."""
    return _edited(request, None)


@form_view
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change what is known of a prospect and what is said of it."""
    return _edited(request, _found(pk))


def _edited(request: HttpRequest, prospect: Prospect | None) -> HttpResponse:
    words = queries.said_of(prospect) if prospect else None
    data = request.POST if request.method == "POST" else None
    forms = ProspectForms(data, prospect=prospect, words=words)
    if data is not None and forms.is_valid() and (entry := _kept(request, forms)):
        return after_save("animals-prospects-one", entry, pk=forms.prospect.instance.pk)
    kept = _found(prospect.pk) if prospect else None
    return render(request, "prospects/edit.html", {"forms": forms, "prospect": kept})


def _kept(request: HttpRequest, forms: ProspectForms) -> DaybookEntry | None:
    try:
        return domain.keep_prospect(
            prospect=forms.prospect.instance,
            words=forms.words(),
            contact=forms.prospect.new_contact(),
            reason=forms.prospect.cleaned_data.get("reason", ""),
            by=account(request),
        )
    except (ValidationError, Refused) as error:
        forms.take(error)
        return None


@form_view
def message(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the questions as a message; what is sent here is the text as it was changed."""
    shown = prospect_page(_found(pk))
    text = asking.message(shown.prospect, shown.questions, str(account(request)))
    form = MessageForm(request.POST if request.method == "POST" else None, initial={"text": text})
    if form.is_bound:
        text = form.cleaned_data["text"] if form.is_valid() else ""
    context = {"page": message_page(shown, text), "form": form, "prospect": shown.prospect}
    return render(request, "prospects/message.html", context)


@form_view
def let_go(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a prospect up, with the reason."""
    prospect = _found(pk)
    form = LettingGoForm(request.POST if request.method == "POST" else None)
    entry = written_for_reason(
        form, lambda reason: domain.let_go(prospect=prospect, reason=reason, by=account(request))
    )
    if entry is not None:
        return after_save("animals-prospects-one", entry, pk=pk)
    return render(request, "prospects/let_go.html", {"form": form, "prospect": prospect})


@require_POST
def take_up(request: HttpRequest, pk: int) -> HttpResponse:
    """Think again of one that was let go."""
    prospect, page = _found(pk), reverse("animals-prospects-one", args=[pk])
    return written_at_once(
        request, lambda: domain.take_up(prospect=prospect, by=account(request)), page
    )


@form_view
def buy(request: HttpRequest, pk: int) -> HttpResponse:
    """Enter a prospect as an animal of the book, with its papers."""
    prospect = _found(pk)
    data = request.POST if request.method == "POST" else None
    form = BuyForm(data, request.FILES or None, prospect=prospect)
    if form.is_valid():
        animal = form.instance
        entry = written(
            lambda: domain.buy(
                prospect=prospect, animal=animal, paper=form.paper(), by=account(request)
            ),
            form,
        )
        if entry is not None:
            return after_save("animals-one", entry, pk=animal.pk)
    context = {"form": form, "prospect": prospect, "words": queries.said_of(prospect)}
    return render(request, "prospects/buy.html", context)


def _found(pk: int) -> Prospect:
    found: Prospect = get_object_or_404(queries.with_words(Prospect.objects.all()), pk=pk)
    return found
