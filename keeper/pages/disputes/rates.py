"""Base rates: the list, one to change, and back to the common figure."""

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST

from keeper.access import account
from keeper.domain.disputes.rates import keep_rate, own_rate, reset_rate
from keeper.models import BaseRate, Mishap
from keeper.pages.disputes.base_rates import rate_page, rates_page
from keeper.pages.disputes.forms import RateForm
from keeper.pages.disputes.table import rates_table
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import written, written_at_once
from keeper.pages.frame.requests import form_view, require_safe


@require_safe
def base_rates(request: HttpRequest) -> HttpResponseBase:
    """List how often things go wrong, by which explanations are weighed."""
    shown = rates_page()
    if wants_file(request):
        return csv_file("rates", rates_table(shown))
    context = {"shown": shown, "moved": just_moved(request)}
    return render(request, "disputes/rates.html", context)


@form_view
def base_rate(request: HttpRequest, kind: str) -> HttpResponse:
    """Change one rate."""
    mishap = _mishap(kind)
    rate = own_rate(mishap) or BaseRate(mishap=mishap)
    form = RateForm(request.POST or None, instance=rate)
    if request.method == "POST" and form.is_valid():
        entry = written(lambda: keep_rate(rate=rate, by=account(request)), form)
        if entry is not None:
            return after_save(reverse("home-disputes-rates"), entry)
    context = {"shown": rate_page(mishap), "form": form}
    return render(request, "disputes/rate.html", context)


@require_POST
def reset(request: HttpRequest, kind: str) -> HttpResponse:
    """Go by the common figure again."""
    mishap = _mishap(kind)
    return written_at_once(
        request,
        lambda: reset_rate(mishap=mishap, by=account(request)),
        reverse("home-disputes-rates"),
    )


def _mishap(kind: str) -> Mishap:
    if kind not in Mishap.values:
        raise Http404
    return Mishap(kind)
