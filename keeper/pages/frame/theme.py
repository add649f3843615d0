"""The frame around every page: the theme switch."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from keeper.pages.frame.shell import THEMES


@require_POST
def theme(request: HttpRequest) -> HttpResponse:
    """Keep the chosen theme on this device and return to the page it was chosen on."""
    chosen = request.POST.get("theme", "")
    back = request.POST.get("back", "")
    if not url_has_allowed_host_and_scheme(
        back, {request.get_host()}, require_https=request.is_secure()
    ):
        back = "home"
    answer = redirect(back)
    if chosen in THEMES:
        year = 365 * 24 * 3600
        answer.set_cookie("theme", chosen, max_age=year, secure=request.is_secure(), samesite="Lax")
    return answer
