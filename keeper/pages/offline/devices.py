"""What an answer tells a device that was asked to keep pages, and what comes back from it.

Only such a device, which its cookie says, is told anything: for whom an answer is, under which key,
and whether they asked the device (`Keptlines-Reader`; `-` for nobody), and whether it is one of the
pages that may be kept (`Keptlines-Keep`). The answer itself stays `no-store`.

An entry that waited on a device comes as the form that it is, with the header `Keptlines-Waited`.
It is answered by what became of it instead of by the page that a keeper would be led to. What the
database says counts: it is in the book if there is an entry with the form's token.
"""

from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase, JsonResponse
from django.urls import reverse

from keeper.domain.book import submission
from keeper.domain.offline import readers
from keeper.domain.offline.listed import KIND_OF
from keeper.models import Account

READER, KEEP = "Keptlines-Reader", "Keptlines-Keep"
# What a device sends along with an entry that waited: the mark of the account that it is of.
WAITED = "Keptlines-Waited"
# Such answers pass: busy, too many, no room, a proxy without the book behind it.
_PASSES = {429, 502, 503, 504, 507}

Answer = Callable[[HttpRequest], Any]


class DevicesMiddleware:
    """Tells a device what it may keep, and what became of what it kept."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Answer a request."""
        waited = request.headers.get(WAITED) if request.method == "POST" else None
        if waited is not None and (hindered := _hindrance(request, waited)):
            response: HttpResponseBase = JsonResponse({"outcome": hindered})
        else:
            response = self.answer(request)
            if waited is not None:
                response = _what_became(request, response)
        if readers.COOKIE in request.COOKIES:
            _tell(request, response)
        return response


def reader_of(request: HttpRequest) -> Account | None:
    """Return who is logged in, without asking the database where no log-in is claimed."""
    if settings.SESSION_COOKIE_NAME not in request.COOKIES:
        return None
    return request.user if isinstance(request.user, Account) else None


def _tell(request: HttpRequest, response: HttpResponseBase) -> None:
    who = reader_of(request)
    if who is None:
        response[READER] = "-"
        return
    own = readers.mark(who)
    asked = own in readers.asked_for(request.COOKIES[readers.COOKIE])
    response[READER] = f"{own}.{readers.key(who)}.{int(asked)}"
    match = request.resolver_match
    kind = KIND_OF.get(match.url_name or "") if match else None
    is_page = request.method == "GET" and not getattr(request, "htmx", False)
    if kind and is_page and asked and response.status_code == 200:
        response[KEEP] = kind


def _hindrance(request: HttpRequest, waited: str) -> str:
    """Return why an entry is not looked at yet: nobody is logged in, or somebody else is."""
    who = reader_of(request)
    if who is None:
        return "log-in"
    return "" if readers.mark(who) == waited else "other-account"


def _what_became(request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
    """Return what became of an entry that waited, in place of the page that says so."""
    status = response.status_code
    if status in _PASSES:
        return _said("later", response, status)
    if status == 403 and not getattr(request, "csrf_processing_done", False):
        return _said("again", response, status)
    sent = request.POST.get(submission.TOKEN, "")
    with submission.submitted(sent, "") as form:
        entry = submission.entry_of(form)
        restored = entry is None and submission.is_of_another_epoch(form)
    if entry is not None:
        return _in_the_book(request, response, entry.pk)
    if restored:
        return _said("restored", response, status)
    if status in (301, 302, 303):
        return JsonResponse({"outcome": "answered", "words": _words(request)})
    return _said("refused", response, status)


def _in_the_book(request: HttpRequest, response: HttpResponseBase, pk: int) -> HttpResponseBase:
    address = urlsplit(response.get("Location", "") or "")
    shown = f"{address.path}?{address.query}" if address.query else address.path
    said = {"outcome": "written", "entry": reverse("daybook-entry", args=[pk]), "page": shown}
    return JsonResponse(said | {"words": _words(request)})


def _said(outcome: str, response: HttpResponseBase, status: int) -> JsonResponse:
    """Return an outcome with the page that says why; the device reads its words out of it."""
    content = b"" if response.streaming else getattr(response, "content", b"")
    page = content.decode("utf-8", "replace")
    return JsonResponse({"outcome": outcome, "status": status, "shown": page})


def _words(request: HttpRequest) -> list[str]:
    """Return what the next page would say, so that it does not say it of something else."""
    return [str(one) for one in messages.get_messages(request)]
