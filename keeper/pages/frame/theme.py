"""The frame around every page: the theme switch."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from keeper.pages.frame.requests import way_back
from keeper.pages.frame.shell import THEMES


@require_POST
def theme(request: HttpRequest) -> HttpResponse:
    """Keep the chosen theme on this device and return to the page it was chosen on."""
    chosen = request.POST.get("theme", "")
    answer = redirect(way_back(request) or "home")
    if chosen in THEMES:
        year = 365 * 24 * 3600
        answer.set_cookie("theme", chosen, max_age=year, secure=request.is_secure(), samesite="Lax")
    return answer
