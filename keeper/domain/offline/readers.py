"""For whom a device keeps pages, in marks that tell nothing: who it is, and under which key.

A device keeps pages for one account. The key they are kept under follows from what decides what the
account is shown: its role, what it may see, its password, the life of the book, and who was erased
from it. So a device that meets another key, or nobody, drops all that it has; `static/js/away/`
does that. The marks are made with the book's secret key: none can be made up by guessing numbers.
"""

from django.utils.crypto import salted_hmac

from keeper.domain.backups import epoch
from keeper.domain.erasure import apart
from keeper.models import Account

# On the cookie of a device: the marks of the accounts that it was asked to keep pages for.
COOKIE = "keptlines_kept_here"
_MARK = 16


def mark(account: Account) -> str:
    """Return what stands for an account on a device; the same for as long as the account is."""
    return _made("who", f"{account.pk} {account.joined.isoformat()}")


def key(account: Account) -> str:
    """Return what the pages of an account are kept under; another one once they may differ."""
    decides = (
        *(account.pk, account.role, account.may_see_people, account.may_see_prices),
        *(account.get_session_auth_hash(), epoch.carried(), apart.state()),
    )
    return _made("key", " ".join(map(str, decides)))


def asked_for(cookie: str) -> tuple[str, ...]:
    """Return the marks that stand on a device's cookie."""
    return tuple(one for one in cookie.split(".") if one.isalnum() and len(one) == _MARK)


def with_mark(cookie: str, one: str) -> str:
    """Return a device's cookie with a mark more."""
    return ".".join(dict.fromkeys((*asked_for(cookie), one)))


def without_mark(cookie: str, one: str) -> str:
    """Return a device's cookie without a mark; empty if it was the last."""
    return ".".join(kept for kept in asked_for(cookie) if kept != one)


def _made(what: str, said: str) -> str:
    return salted_hmac(f"keptlines.offline.{what}", said, algorithm="sha256").hexdigest()[:_MARK]
