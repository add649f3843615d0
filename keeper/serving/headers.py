"""How long browsers may keep what is served: pages not at all, files as they say."""

from collections.abc import Callable
from typing import Any
from wsgiref.headers import Headers


def keep_only_fingerprinted(headers: Headers, path: str, url: str) -> None:
    """Let browsers ask again for whatever has no digest in its address."""
    if not url.startswith("/static/"):
        headers["Cache-Control"] = "no-cache"


class NoStoreMiddleware:
    """Says that an answer is for its reader alone and not to be stored, where it says nothing.

    So whoever comes next to the same device finds nothing there. What was typed is kept by
    `static/js/drafts.js` instead, in the tab alone and until it is saved.
    """

    def __init__(self, answer: Callable[[Any], Any]) -> None:
        self.answer = answer

    def __call__(self, request: Any) -> Any:
        """Answer a request."""
        response = self.answer(request)
        response.headers.setdefault("Cache-Control", "private, no-store")
        return response
