"""What a view asks of its request: which methods it answers, and whether a part is wanted."""

from typing import Any

from django.http import HttpRequest
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods

form_view = require_http_methods(["GET", "HEAD", "POST"])


def wants_part(request: HttpRequest) -> bool:
    """Whether htmx asks for a part of the page. Going back, it asks for the whole page again."""
    htmx: Any = getattr(request, "htmx", None)
    return bool(htmx) and not htmx.history_restore_request


def way_back(request: HttpRequest) -> str:
    """Return the address of ours that a form says it was sent from, or nothing."""
    back = request.POST.get("back", "")
    ours = back.startswith("/") and url_has_allowed_host_and_scheme(
        back, {request.get_host()}, require_https=request.is_secure()
    )
    return back if ours else ""
