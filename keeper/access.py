"""Who may see and do what. Denied by default: a page is open only where it says so.

`@open_to_all` is for the log-in pages, the first set-up, an invitation and the secret address of a
calendar, and for nothing else; a test lists them. Every other view needs a log-in without saying
so. `@owner_only` asks for more.

A viewer opens what reads (`@require_safe`, `@reading` of `keeper.pages.frame.requests`), and sends
nothing but what is their own (`OWN`). Whoever may not see people opens none of the addresses that
are about them (`OF_PEOPLE`, by how their name begins); on all other pages people and prices are
left out (`keeper.discretion`). What a page would link to and its reader may not open is
taken off the page (`keeper.open_links`).
"""

from collections.abc import Callable, Iterable, Iterator
from functools import wraps
from typing import Any, TypeVar, cast

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase
from django.http.response import HttpResponseRedirectBase
from django.shortcuts import redirect
from django.urls import Resolver404, ResolverMatch, resolve, reverse
from django_htmx.http import HttpResponseClientRedirect

from keeper.discretion import Reader, read_by, reader
from keeper.domain.accounts import log_ins
from keeper.domain.sources.names import contact_names
from keeper.models import Account

View = TypeVar("View", bound=Callable[..., HttpResponseBase])

open_to_all = login_not_required

# What everybody may send, a viewer too: it changes nothing of the book.
OWN = ("log-out", "theme", "home-self", "animals-views-")
# What is about sources, buyers and sellers, by how its address is called.
OF_PEOPLE = (
    *("register-contact", "sheets", "animals-sheet", "animals-prospects"),
    *("animals-document", "animals-scan", "register-lines-word", "animals-sale"),
)

_NOT_OWNER = "Only the owner of the book can do this."
_NOT_WRITING = (
    "You may look at everything that is shown to you, and write nothing. If you need to write, ask "
    "the owner of the book to make you a helper."
)
NOT_PEOPLE = (
    "This is about sources, buyers or sellers, which are not shown to you. If you need to see "
    "them, ask the owner of the book to allow it."
)


class AccessMiddleware(LoginRequiredMiddleware):
    """Send whoever is not logged in to the log-in page, or to the set-up of a new book.

    Whoever is sees what the owner allows, for as long as the request and its answer last.
    """

    def __call__(self, request: HttpRequest) -> Any:
        """Answer a request as whoever reads may have it."""
        # Whether the book runs is asked without a cookie, and told without the database.
        who = request.user if settings.SESSION_COOKIE_NAME in request.COOKIES else None
        if not isinstance(who, Account):
            one = Reader(people=False, prices=False)
        else:
            one = Reader(who.may_see_people, who.may_see_prices, contact_names)
            log_ins.note_seen(request.session)
        with read_by(one):
            response: Any = self.get_response(request)
        if response.streaming and not hasattr(response, "file_to_stream"):
            response.streaming_content = _lines_for(one, response.streaming_content)
        return response

    def process_view(
        self,
        request: HttpRequest,
        view_func: Callable[..., HttpResponseBase],
        view_args: tuple[Any, ...],
        view_kwargs: dict[str, Any],
    ) -> HttpResponseBase | None:
        """Refuse strangers, and whoever may not open this address or send anything to it."""
        refused = super().process_view(request, view_func, view_args, view_kwargs)
        who = request.user
        if refused is None and isinstance(who, Account) and request.resolver_match is not None:
            why = _hindrance(who, request.resolver_match, request.method or "")
            if why:
                raise PermissionDenied(why)
        return refused

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
        raise PermissionDenied(_NOT_OWNER)


def owner_only(view: View) -> View:
    """Wrap a view that only the owner may use."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        require_owner(request)
        return view(request, *args, **kwargs)

    guarded.owner_only = True  # type: ignore[attr-defined]  # read by `why_not`
    return cast("View", guarded)


def is_limited(who: Account) -> bool:
    """Whether there is anything in the book that an account may not open or send."""
    return not who.is_owner and not (who.may_write and who.may_see_people)


def why_not(who: Account, address: str, method: str = "GET") -> str:
    """Return why an account may not open an address, or send something to it; nothing if it may."""
    try:
        match = resolve(address.partition("?")[0].partition("#")[0])
    except Resolver404:
        return ""
    if getattr(match.func, "owner_only", False) and not who.is_owner:
        return _NOT_OWNER
    return _hindrance(who, match, method)


def _hindrance(who: Account, match: ResolverMatch, method: str) -> str:
    """Return why somebody may not do this; nothing if they may."""
    name = match.url_name or ""
    about = match.kwargs.get("kind", "")
    if not who.may_see_people and (name.startswith(OF_PEOPLE) or about in ("contacts", "document")):
        return NOT_PEOPLE
    is_way_in = not getattr(match.func, "login_required", True)
    if who.may_write or is_way_in or name.startswith(OWN):
        return ""
    reads = method in ("GET", "HEAD") and getattr(match.func, "is_read", False)
    return "" if reads else _NOT_WRITING


def _lines_for(one: Reader, lines: Iterable[Any]) -> Iterator[Any]:
    """Make each line of a long answer for its reader: it is made after the request is over."""
    before = iter(lines)
    while True:
        with read_by(one):
            try:
                line = next(before)
            except StopIteration:
                return
        yield line


__all__ = [
    "NOT_PEOPLE",
    "AccessMiddleware",
    "account",
    "contact_names",
    "is_limited",
    "open_to_all",
    "owner_only",
    "reader",
    "require_owner",
    "why_not",
]
