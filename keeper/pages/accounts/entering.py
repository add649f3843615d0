"""What every way into the book shares: the session of whoever comes in, and the limit on guessing.

The limit (django-axes) counts wrong passwords by itself. Wrong codes are told to it by the signal
that a wrong password sends, so both count together and a code is no easier to guess.
"""

from typing import Any, cast

from axes.handlers.proxy import AxesProxyHandler
from axes.helpers import get_client_ip_address
from django.contrib.auth import authenticate, login
from django.contrib.auth.signals import user_login_failed
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from keeper.domain.accounts import log_ins
from keeper.models import Account

# Axes counts the tries of this backend's log-ins; after set-up there was none to count.
_BACKEND = "django.contrib.auth.backends.ModelBackend"


def let_in(request: HttpRequest, account: Account) -> None:
    """Log somebody in: a session of its own, with where and since when."""
    login(request, account, backend=_BACKEND)
    agent = request.headers.get("User-Agent", "")
    address = get_client_ip_address(request) or ""
    log_ins.note(request.session, agent=agent, address=str(address))


def may_try(request: HttpRequest, account: Account) -> bool:
    """Whether somebody may give a code or a password for this account now."""
    return bool(AxesProxyHandler.is_allowed(request, {"username": account.login_name}))


def count_wrong(request: HttpRequest, account: Account) -> None:
    """Count a wrong code as a wrong password is counted."""
    # What Axes takes from a form that holds a name; this one holds none.
    user_login_failed.send(
        sender=__name__, credentials={"username": account.login_name}, request=request
    )


def is_password(request: HttpRequest, password: str) -> bool:
    """Whether this is the password of whoever is logged in; a wrong one counts as at log-in."""
    who = cast("Account", request.user)
    return authenticate(request, username=who.login_name, password=password) is not None


def too_many_tries(
    request: HttpRequest, original: HttpResponse | None, credentials: dict[str, Any] | None
) -> HttpResponse:
    """Say that this name has to wait (called by the limit on log-ins)."""
    return render(request, "accounts/too_many_tries.html", status=429)
