"""Who may see and do what. Denied by default: a page is open only where it says so.

`@open_to_all` is for the log-in page and the first set-up, and for nothing else; a guard test
lists them. Every other view needs a log-in without saying so. `@owner_only` asks for more.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar, cast

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase
from django.http.response import HttpResponseRedirectBase
from django.shortcuts import redirect
from django.urls import reverse
from django_htmx.http import HttpResponseClientRedirect

from keeper.models import Account

View = TypeVar("View", bound=Callable[..., HttpResponseBase])

open_to_all = login_not_required


class AccessMiddleware(LoginRequiredMiddleware):
    """Send whoever is not logged in to the log-in page, or to the set-up of a new book."""

    def handle_no_permission(  # type: ignore[override]  # the stubs know only plain redirects
        self, request: HttpRequest, view_func: Callable[..., HttpResponseBase]
    ) -> HttpResponseRedirectBase:
        """Return the redirect, as a full page even where htmx asked for a part."""
        if getattr(request, "htmx", False):
            # Swapped into a corner of the page, a log-in form would help nobody; and the part's
            # own address is no place to come back to.
            return HttpResponseClientRedirect(reverse("log-in"))
        if not Account.objects.exists():
            return redirect("set-up")
        return super().handle_no_permission(request, view_func)


def account(request: HttpRequest) -> Account:
    """Return who is logged in, for views that are reached only by those who are."""
    return cast("Account", request.user)


def require_owner(request: HttpRequest) -> None:
    """Refuse anyone but the owner with the 403 page."""
    if not account(request).is_owner:
        raise PermissionDenied("Only the owner of the book can do this.")


def owner_only(view: View) -> View:
    """Wrap a view that only the owner may use."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        require_owner(request)
        return view(request, *args, **kwargs)

    return cast("View", guarded)


__all__ = [
    "AccessMiddleware",
    "account",
    "open_to_all",
    "owner_only",
    "require_owner",
]
