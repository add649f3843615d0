"""Figures of seasons and years."""

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from keeper.pages.figures import page as pages
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.requests import require_safe


@require_safe
def rates(request: HttpRequest) -> HttpResponseBase:
    """Show clutch sizes, fertility and hatch rates, by season, dam, sire or incubator."""
    page = pages.rates_page(request.GET.get("species", ""), request.GET.get("by", ""))
    if wants_file(request):
        return csv_file(f"figures-by-{page.by}", pages.rates_table(page))
    return render(request, "figures/rates.html", {"page": page})


@require_safe
def looks(request: HttpRequest) -> HttpResponseBase:
    """Show looks and sexes that hatched, against what was said before."""
    page = pages.looks_page()
    if wants_file(request):
        return csv_file("looks-against-expectation", pages.looks_table(page))
    return render(request, "figures/looks.html", {"page": page})


@require_safe
def record(request: HttpRequest) -> HttpResponseBase:
    """Show of all that the book said of looks before they hatched how much came true."""
    page = pages.record_page()
    if wants_file(request):
        return csv_file("what-the-book-said", pages.record_table(page))
    return render(request, "figures/record.html", {"page": page})
