"""Passkeys: kept by a person's devices; here their public halves, each of one host name.

They let in without name, password and code, and stand in for the code after the password. The
password stays. When the book's host name changes, browsers ask for none of those of before: they
stay listed, under the name that they are of, until they are removed.
"""

import secrets

from django.contrib.sessions.backends.base import SessionBase
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from keeper.domain.accounts import ceremonies
from keeper.domain.accounts.ceremonies import Asked, NotAccepted
from keeper.domain.accounts.reached import Reached
from keeper.domain.book.writing import Refused, wait_for_other_writers, writing
from keeper.models import Account, DaybookEntry, LogIn, Passkey

MOST = 20
_UNKNOWN = (
    "This passkey is not known here: it was removed, or is of another book. Begin with your name "
    "and password, and remove it from your device."
)
_WENT_BACK = (
    "The counter of this passkey went back, as that of a copy does, so it is not taken any more. "
    "Begin with your password, remove it on your own page and make a new one."
)
_OFF = "This account is switched off. Ask the owner of the book."


def of_account(account: Account) -> QuerySet[Passkey]:
    """Return all passkeys of an account, the oldest first."""
    return Passkey.objects.filter(account=account)


def usable(account: Account, at: Reached) -> QuerySet[Passkey]:
    """Return those that can be asked for under this address."""
    return of_account(account).filter(host=at.host, went_back_on=None)


def are_used(at: Reached) -> bool | None:
    """Whether anybody has one for this address; None if there are some for others alone."""
    if at.host and Passkey.objects.filter(host=at.host).exists():
        return True
    return None if Passkey.objects.exists() else False


def begin(*, account: Account, name: str, session: SessionBase, at: Reached) -> None:
    """Ask for a new passkey of this name; the device's answer is taken by `add`.

    Raises:
        Refused: there are as many as there may be, one has this name, or there can be none here.
    """
    _refuse_more(account, at, name)
    first = of_account(account).first()
    handle = first.handle if first else secrets.token_urlsafe(32)
    ceremonies.ask(session, "add", at, name=name, handle=handle)


def asked_to_make(account: Account, asked: Asked) -> str:
    """Return what a browser is asked for a new one; a device that has one makes no second."""
    return ceremonies.to_make(asked, account, of_account(account).filter(host=asked.at.host))


def add(*, account: Account, answer: str, asked: Asked) -> DaybookEntry:
    """Keep a new passkey of an account.

    Raises:
        NotAccepted: the answer is not in order.
        Refused: there are too many, or one of this name or this device, by now.
    """
    made = ceremonies.made(answer, asked)
    name, host = asked.also["name"], asked.at.host
    what = f"{account.name}: a passkey, “{name}”"
    with writing(by=account, what=what, of_records=False) as book:
        _refuse_more(account, asked.at, name)
        if Passkey.objects.filter(credential=made.credential).exists():
            raise Refused("This passkey is kept already: nothing is left to do.")
        Passkey.objects.create(
            account=account,
            name=name,
            host=host,
            credential=made.credential,
            public=made.public,
            handle=asked.also["handle"],
            reached_by=made.reached_by,
            count=made.count,
        )
    return book.entry


def remove(*, key: Passkey, by: Account) -> DaybookEntry:
    """Take a passkey away: whoever has the device comes in by it no more.

    Raises:
        Refused: it was removed already.
    """
    what = f"{key.account.name}: no passkey “{key.name}” any more"
    with writing(by=by, what=what, of_records=False) as book:
        removed, _ = Passkey.objects.filter(pk=key.pk).delete()
        if not removed:
            raise Refused("That passkey was removed already: nothing is left to do.")
    return book.entry


def remove_all(*, account: Account, by: Account) -> DaybookEntry:
    """Take every passkey of somebody away, as when their phone is lost.

    Raises:
        Refused: there is none.
    """
    what = f"Removed the passkeys of {account.name}"
    with writing(by=by, what=what, of_records=False) as book:
        removed, _ = of_account(account).delete()
        if not removed:
            raise Refused(f"{account.name} has no passkey. Look at the name again.")
    return book.entry


def whose(answer: str, at: Reached) -> Account | None:
    """Return whose passkey an answer says to be of, before anything of it is checked."""
    key = _key(answer, at)
    return key.account if key else None


def use(*, answer: str, asked: Asked, account: Account | None) -> Account:
    """Return who shows a passkey, and note that it was used; `account` is who it has to be.

    Raises:
        NotAccepted: it is none of theirs, the answer is not in order, its counter went back, or
            the account is switched off.
    """
    with transaction.atomic():
        wait_for_other_writers()
        key = _key(answer, asked.at)
        if key is None or (account is not None and key.account_id != account.pk):
            raise NotAccepted(_UNKNOWN, account)
        count = ceremonies.used(answer, asked, key, by_name=account is not None)
        if not key.account.is_active:
            raise NotAccepted(_OFF, key.account)
        today = timezone.localdate()
        if key.went_back_on is None and (count or key.count) and count <= key.count:
            key.went_back_on = today
            key.save(update_fields=["went_back_on"])
        elif key.went_back_on is None:
            key.count, key.last_used_on = count, today
            key.save(update_fields=["count", "last_used_on"])
    if key.went_back_on is not None:  # kept, so it is said after the transaction
        raise NotAccepted(_WENT_BACK, key.account)
    return key.account


def ask_stranger(session: SessionBase, at: Reached) -> str:
    """Return what the browser of somebody is asked who is not logged in and gives no name.

    Raises:
        Refused: nobody has a passkey for this address; no session is begun for nothing.
    """
    if not are_used(at):
        raise Refused("Nobody has a passkey for this address. Type your name and password.")
    asked = ceremonies.ask(session, "log in", at)
    session.set_expiry(ceremonies.WAITS)
    LogIn.objects.filter(account=None, expire_date__lt=timezone.now()).delete()
    return ceremonies.to_use(asked)


def _key(answer: str, at: Reached) -> Passkey | None:
    named = ceremonies.named(answer)
    found = Passkey.objects.select_related("account").filter(host=at.host, credential=named)
    return found.first() if named and at.host else None


def _refuse_more(account: Account, at: Reached, name: str) -> None:
    have = of_account(account).filter(host=at.host)
    if have.filter(name__iexact=name).exists():
        raise Refused(f"You have a passkey called “{name}” already. Choose another name.")
    if of_account(account).count() >= MOST:
        raise Refused(f"You have {MOST} passkeys already. Begin by removing one.")
