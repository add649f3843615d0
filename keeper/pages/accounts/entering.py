"""What every way into the book shares: the session of whoever comes in, and the limit on guessing.

The limit (django-axes) counts wrong passwords by itself. Wrong codes are told to it by the signal
that a wrong password sends, so both count together and a code is no easier to guess.
"""

import time
from typing import Any, cast

from axes.handlers.proxy import AxesProxyHandler
from axes.helpers import get_client_ip_address
from django.contrib.auth import authenticate, login
from django.contrib.auth.signals import user_login_failed
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render, resolve_url
from django.utils.http import url_has_allowed_host_and_scheme

from keeper.domain.accounts import log_ins
from keeper.domain.accounts.reached import Reached, reached
from keeper.models import Account

# Axes counts the tries of this backend's log-ins; after set-up there was none to count.
_BACKEND = "django.contrib.auth.backends.ModelBackend"
# Where a session keeps that somebody gave the password, and for how many seconds that is enough.
_HALF, _WAITS = "half", 600
# Whom wrong passkeys count for that are nobody's: no name holds a colon.
_NOBODY = ":passkey"


def let_in(request: HttpRequest, account: Account, *, by: str = "a password") -> None:
    """Log somebody in: a session of its own, with where, since when and `by` what was shown."""
    request.session.pop(_HALF, None)
    request.session.set_expiry(None)  # shorter before, where a passkey was asked for
    login(request, account, backend=_BACKEND)
    agent = request.headers.get("User-Agent", "")
    address = get_client_ip_address(request) or ""
    log_ins.note(request.session, agent=agent, address=str(address), by=by)


def keep_half(request: HttpRequest, account: Account, following: str) -> None:
    """Note in the session that somebody gave the password, and not yet the second thing."""
    request.session[_HALF] = {
        "pk": account.pk,
        "at": time.time(),
        "given": account.get_session_auth_hash(),
        "next": following,
    }


def half_of(request: HttpRequest) -> Account | None:
    """Return whoever gave their password and nothing after it, if that was a moment ago."""
    held = request.session.get(_HALF)
    if not held or time.time() - held["at"] > _WAITS:
        return None
    account = Account.objects.filter(pk=held["pk"], is_active=True).first()
    # A password that was changed meanwhile was not given.
    same = account is not None and account.get_session_auth_hash() == held["given"]
    return account if same else None


def following_half(request: HttpRequest) -> str:
    """Return where whoever gave their password wants to go."""
    return str(request.session[_HALF]["next"])


def following_of(request: HttpRequest) -> str:
    """Return the address of ours that a log-in was asked for, or the first page."""
    wanted = request.POST.get("next", "")
    ours = url_has_allowed_host_and_scheme(
        wanted, {request.get_host()}, require_https=request.is_secure()
    )
    return wanted if ours else resolve_url("home")


def reached_by(request: HttpRequest) -> Reached:
    """Return under which address the book is asked."""
    return reached(f"{request.scheme}://{request.get_host()}")


def may_try(request: HttpRequest, account: Account | None) -> bool:
    """Whether somebody may give a code, a password or a passkey for this account now."""
    return bool(AxesProxyHandler.is_allowed(request, {"username": _counted(account)}))


def count_wrong(request: HttpRequest, account: Account | None) -> None:
    """Count a wrong code or passkey as a wrong password is counted."""
    # What Axes takes from a form that holds a name; this one holds none.
    user_login_failed.send(
        sender=__name__, credentials={"username": _counted(account)}, request=request
    )


def _counted(account: Account | None) -> str:
    return account.login_name if account else _NOBODY


def is_password(request: HttpRequest, password: str) -> bool:
    """Whether this is the password of whoever is logged in; a wrong one counts as at log-in."""
    who = cast("Account", request.user)
    return authenticate(request, username=who.login_name, password=password) is not None


def too_many_tries(
    request: HttpRequest, original: HttpResponse | None, credentials: dict[str, Any] | None
) -> HttpResponse:
    """Say that this name has to wait (called by the limit on log-ins)."""
    return render(request, "accounts/too_many_tries.html", status=429)
