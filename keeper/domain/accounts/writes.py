"""Accounts: the owner's, with the one-time code that protects its making, and the helpers'."""

import hmac
import os
import secrets
from pathlib import Path

from axes.utils import reset
from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from keeper.domain.accounts import log_ins
from keeper.domain.book.writing import Refused, call, writing
from keeper.models import Account, DaybookEntry, Passkey, Role, login_name
from keeper.serving.secrets import write_private

# No letters or figures that can be mistaken for one another on a screen across the room.
_ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
_TRIES = 10


class OwnerExists(Exception):
    """The book has an owner already, so set-up is over."""


class NameTaken(Exception):
    """There is an account of this name, however it is spelled."""


class CodeSpent(Exception):
    """Too many wrong codes were tried; a new start gives a new one."""


def new_code() -> str:
    """Make the one-time code for the owner's set-up and return it as it is read out."""
    code = "".join(secrets.choice(_ALPHABET) for _ in range(8))
    write_private(_code_file(), code.encode("ascii"))
    _tries_file().unlink(missing_ok=True)
    return f"{code[:4]}-{code[4:]}"


def code_matches(typed: str) -> bool:
    """Return whether this is the code; raise CodeSpent after ten tries."""
    try:
        code = _code_file().read_text(encoding="ascii")
    except FileNotFoundError:
        return False
    # Counted before it is compared: however many are tried at once, each has a number of its own.
    if _number_of_try() > _TRIES:
        raise CodeSpent
    plain = "".join(letter for letter in typed.upper() if letter.isalnum())
    return hmac.compare_digest(plain.encode(), code.encode())


def needs_owner() -> bool:
    """Return whether nobody has set the book up yet."""
    return not Account.objects.exists()


def create_owner(*, name: str, password: str) -> Account:
    """Create the first account, the owner's; raise OwnerExists if there is one."""
    if not needs_owner():
        raise OwnerExists
    owner = Account(name=name, role=Role.OWNER)
    owner.set_password(password)
    owner.full_clean(validate_unique=False, validate_constraints=False)
    try:
        with transaction.atomic():
            owner.save()
    except IntegrityError as error:  # somebody else was a moment faster
        raise OwnerExists from error
    _code_file().unlink(missing_ok=True)
    _tries_file().unlink(missing_ok=True)
    return owner


def add_helper(*, name: str, password: str, by: Account) -> Account:
    """Make an account for a helper.

    Raises:
        NameTaken: there is one of this name, switched off perhaps.
        ValidationError: the name is none.
    """
    helper = checked(Account(name=name, role=Role.HELPER), password)
    with writing(by=by, what=f"Gave {helper.name} an account", of_records=False):
        refuse_taken_name(helper)
        helper.save()
    return helper


def checked(account: Account, password: str) -> Account:
    """Return a new account with its password, its name looked through.

    Raises:
        ValidationError: the name is none.
    """
    account.set_password(password)
    account.full_clean(exclude=["login_name"], validate_unique=False, validate_constraints=False)
    return account


def refuse_taken_name(account: Account) -> None:
    """Refuse a name that somebody has; to be asked after the lock.

    Raises:
        NameTaken: there is an account of this name, however it is spelled.
    """
    if Account.objects.filter(login_name=login_name(account.name)).exists():
        raise NameTaken


def allow(
    *, account: Account, role: str, sees_people: bool, sees_prices: bool, by: Account
) -> DaybookEntry:
    """Choose what somebody may do and see from now on.

    Raises:
        Refused: it is the owner's account, which may do everything.
        ValidationError: nobody can be made that.
    """
    if role not in (Role.HELPER, Role.VIEWER):
        raise ValidationError({"role": "Choose helper or viewer."})
    with writing(by=by, what=f"Changed what {account.name} may do", of_records=False) as book:
        account = Account.objects.get(pk=account.pk)
        if account.is_owner:
            raise Refused("The owner may do everything. Choose somebody else's account.")
        account.role, account.sees_people, account.sees_prices = role, sees_people, sees_prices
        account.save(update_fields=["role", "sees_people", "sees_prices"])
        call(book.entry, f"{account.name} is a {account.role}, {seen_in_words(account)}")
    return book.entry


def say_reach(*, account: Account, reach: str) -> None:
    """Say how buyers reach somebody; it is their own to say, and no entry of the book."""
    account.reach = reach
    account.save(update_fields=["reach"])


def seen_in_words(account: Account) -> str:
    """Return what an account sees beside the animals: for a sentence."""
    people = "sees sources, buyers and sellers" if account.may_see_people else ""
    prices = "sees prices" if account.may_see_prices else ""
    return " and ".join(filter(None, (people, prices))) or "sees neither people nor prices"


def switch_off(*, account: Account, by: Account) -> None:
    """Close an account; what it wrote stays, and whoever is logged in with it is out at once.

    Its passkeys are gone: they lie on devices that nobody of the book may see again.

    Raises:
        Refused: it is the owner's: nobody could switch it on again.
    """
    if account.is_owner:
        raise Refused("The owner's account cannot be switched off: choose a helper's.")
    _switch(account, on=False, by=by)


def switch_on(*, account: Account, by: Account) -> None:
    """Let a closed account log in again, with the password it had."""
    _switch(account, on=True, by=by)


def give_password(*, account: Account, password: str, by: Account, but: str | None = None) -> None:
    """Give an account a new password; whoever is logged in with the old one is out.

    `but` is the session in which it is done, if that is the account's own.
    """
    account.set_password(password)
    own = by.pk == account.pk
    what = f"{by.name} has a new password" if own else f"Gave {account.name} a new password"
    with writing(by=by, what=what, of_records=False):
        account.save(update_fields=["password"])
        log_ins.end_all(account=account, but=but)
    # Too many tries with the forgotten one must not keep the new one waiting.
    reset(username=account.login_name)


def _switch(account: Account, *, on: bool, by: Account) -> None:
    if account.is_active == on:
        return
    account.is_active = on
    what = f"Switched the account of {account.name} {'on' if on else 'off'}"
    with writing(by=by, what=what, of_records=False):
        account.save(update_fields=["is_active"])
        if not on:
            log_ins.end_all(account=account)
            Passkey.objects.filter(account=account).delete()


def _code_file() -> Path:
    return Path(settings.DATA) / "set-up-code"


def _tries_file() -> Path:
    return Path(settings.DATA) / "set-up-tries"


def _number_of_try() -> int:
    """Count one more try, in a file that grows by a byte with each; return which one it is."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND
    file = os.open(_tries_file(), flags, 0o600)
    try:
        os.write(file, b".")
        return os.lseek(file, 0, os.SEEK_CUR)
    finally:
        os.close(file)
