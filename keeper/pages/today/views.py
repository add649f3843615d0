"""Today's page."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from keeper.access import account
from keeper.pages.frame.requests import require_safe
from keeper.pages.today import page as pages


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """Open the book at what needs somebody today."""
    return render(request, "home.html", {"today": pages.today(account(request))})
