"""The owner's account, and the one-time code that protects its making."""

import hmac
import json
import secrets
from pathlib import Path

from django.conf import settings
from django.db import IntegrityError, transaction

from keeper.models import Account, Role
from keeper.serving.secrets import write_private

# No letters or figures that can be mistaken for one another on a screen across the room.
_ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
_WRONG_TRIES = 10


class OwnerExists(Exception):
    """The book has an owner already, so set-up is over."""


class CodeSpent(Exception):
    """Too many wrong codes were tried; a new start gives a new one."""


def new_code() -> str:
    """Make the one-time code for the owner's set-up and return it as it is read out."""
    code = "".join(secrets.choice(_ALPHABET) for _ in range(8))
    _keep(code, wrong=0)
    return f"{code[:4]}-{code[4:]}"


def code_matches(typed: str) -> bool:
    """Return whether this is the code; raise CodeSpent after too many that were not."""
    try:
        kept = json.loads(_code_file().read_text(encoding="ascii"))
    except FileNotFoundError:
        return False
    if kept["wrong"] >= _WRONG_TRIES:
        raise CodeSpent
    plain = "".join(letter for letter in typed.upper() if letter.isalnum())
    if hmac.compare_digest(plain.encode(), kept["code"].encode()):
        return True
    _keep(kept["code"], wrong=kept["wrong"] + 1)
    return False


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
    return owner


def _code_file() -> Path:
    return Path(settings.DATA) / "set-up-code"


def _keep(code: str, *, wrong: int) -> None:
    write_private(_code_file(), json.dumps({"code": code, "wrong": wrong}).encode("ascii"))
