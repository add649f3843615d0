"""What a view asks of its request: which methods it answers, and whether a part is wanted."""

from typing import Any

from django.http import HttpRequest
from django.views.decorators.http import require_http_methods

form_view = require_http_methods(["GET", "HEAD", "POST"])


def wants_part(request: HttpRequest) -> bool:
    """Whether htmx asks for a part of the page. Going back, it asks for the whole page again."""
    htmx: Any = getattr(request, "htmx", None)
    return bool(htmx) and not htmx.history_restore_request
