"""Each answer noted: as a line of the log, and in the figures. Not what was asked of the book.

A line names the view, never the address with its codes and words.
"""

import logging
from collections.abc import Callable
from time import perf_counter

from django.conf import settings
from django.core.exceptions import MiddlewareNotUsed
from django.http import HttpRequest, HttpResponseBase

_LOG = logging.getLogger("keeper.requests")
# A method of a stranger's own making would be a figure of its own each time.
_METHODS = {"GET", "HEAD", "POST", "OPTIONS", "PUT", "DELETE", "PATCH"}


class WatchingMiddleware:
    """Times answers; not used where neither a log of them nor figures are asked for."""

    def __init__(self, answer: Callable[[HttpRequest], HttpResponseBase]) -> None:
        if not (settings.LOG_REQUESTS or settings.METRICS_TOKEN):
            raise MiddlewareNotUsed
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Answer a request, and note how that went."""
        begun = perf_counter()
        response = self.answer(request)
        _note(request, response.status_code, perf_counter() - begun)
        return response


def _note(request: HttpRequest, status: int, seconds: float) -> None:
    match = request.resolver_match
    view = (match.view_name if match else "") or "none"
    method = request.method if request.method in _METHODS else "other"
    if settings.METRICS_TOKEN:
        from keeper.pages.running.figures import count

        count(view=view, method=str(method), status=status, seconds=seconds)
    if settings.LOG_REQUESTS:
        user = getattr(request, "user", None)
        _LOG.info(
            "answered",
            extra={
                "view": view,
                "method": method,
                "status": status,
                "milliseconds": round(seconds * 1000, 1),
                "account": user.pk if user is not None and user.is_authenticated else None,
            },
        )
