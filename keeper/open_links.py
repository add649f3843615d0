"""A page offers its reader nothing that they may not do.

Pages are written for whoever may do everything. Of what the server made for somebody who may not,
this takes away the forms they may not send and the links they may not follow, with the sentence
that began with one and with what is left empty; of a link to somebody it leaves the words. What may
be done is asked of `keeper.access` alone, which also answers whoever asks for such an address by
hand: nothing is protected by being unseen.
"""

import re
from collections.abc import Callable
from html import unescape

from django.http import HttpRequest, HttpResponse, HttpResponseBase

from keeper.access import NOT_PEOPLE, account, is_limited, why_not

Answer = Callable[[HttpRequest], HttpResponseBase]

# Every tag here was printed by our own templates, which write “>” in a value as “&gt;”.
_LINK = re.compile(r"<a\b([^>]*)>(.*?)</a>", re.DOTALL)
_FORM = re.compile(r"<form\b([^>]*)>.*?</form>", re.DOTALL)
# Stands where something was taken away; no page holds it.
_GONE = "\x00"
_HOLLOW = rf"(?:\s|{_GONE})*{_GONE}(?:\s|{_GONE})*"
# Stands where a link was with which a sentence begins: “Name them if they are in the book.”
_BEGUN = "\x01"
_SENTENCE = re.compile(rf"\s*{_BEGUN}[^<.{_GONE}{_BEGUN}]*\.?")
# What held nothing but what was taken away, or that and a heading over it.
_EMPTY = re.compile(
    rf"<(li|p|div|ul|ol|header|span|section|nav)\b[^>]*>{_HOLLOW}</\1>"
    rf"|<section\b[^>]*>\s*(?:<header\b[^>]*>\s*)?<h2\b[^>]*>[^<]*</h2>{_HOLLOW}(?:</header>\s*)?"
    rf"</section>"
    rf"|<details\b[^>]*>\s*<summary\b[^>]*>[^<]*</summary>{_HOLLOW}</details>"
)


class OpenLinksMiddleware:
    """Takes off a page what its reader may not open or send."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Answer a request, without what leads nowhere for whoever asks."""
        response = self.answer(request)
        if (
            isinstance(response, HttpResponse)
            and request.user.is_authenticated
            and is_limited(account(request))
            and response.headers.get("Content-Type", "").startswith("text/html")
        ):
            page = response.content.decode(response.charset)
            response.content = only_open(page, request).encode(response.charset)
        return response


def only_open(page: str, request: HttpRequest) -> str:
    """Return a page without the links and forms that whoever asks may not follow or send."""
    who = account(request)

    def link(found: re.Match[str]) -> str:
        address = _value("href", found[1])
        why = why_not(who, address) if address.startswith("/") else ""
        if not why:
            return found[0]
        if "button" in _value("class", found[1]).split():
            return _GONE
        return found[2] if why == NOT_PEOPLE else _BEGUN

    def form(found: re.Match[str]) -> str:
        address = _value("action", found[1]) or request.path
        method = _value("method", found[1]).upper() or "GET"
        return _GONE if why_not(who, address, method) else found[0]

    page = _SENTENCE.sub(_GONE, _LINK.sub(link, _FORM.sub(form, page)))
    while (emptied := _EMPTY.sub(_GONE, page)) != page:
        page = emptied
    return page.replace(_GONE, "")


def _value(name: str, attributes: str) -> str:
    found = re.search(rf'(?<![\w-]){name}="([^"]*)"', attributes)
    return unescape(found[1]) if found else ""
