"""What a view asks of its request: which methods it answers, and whether a part is wanted."""

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar, cast

from django.http import HttpRequest, HttpResponseBase
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators import http

View = TypeVar("View", bound=Callable[..., HttpResponseBase])

form_view = http.require_http_methods(["GET", "HEAD", "POST"])


def require_safe(view: View) -> View:
    """Wrap a view that only reads: it is asked by GET or HEAD, and open to viewers.

    Django's own decorator does not tell afterwards what it wrapped; `keeper.access` has to know.
    """
    return reading(http.require_safe(view))


def reading(view: View) -> View:
    """Wrap a view whose page is worth reading, whatever may be sent there: viewers may open it."""

    @wraps(view)
    def read(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        return view(request, *args, **kwargs)

    read.is_read = True  # type: ignore[attr-defined]  # asked by `keeper.access`
    return cast("View", read)


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
