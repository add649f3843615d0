"""The second factor: codes of an app (TOTP, RFC 6238), and recovery codes for whoever lost it.

`pyotp` makes the codes and counts no tries: wrong codes are counted where wrong passwords are, by
the limit on log-ins (`keeper.pages.accounts`), so that nobody is slowed down twice. A code is good
once: the step it belongs to is kept, and it is decided after the writers' lock, so that of two who
send one code at the same moment one is refused.
"""

import hmac
import secrets
import time
from collections.abc import Sequence

import pyotp
from django.db import transaction

from keeper.domain.accounts.sealing import digest, opened, sealed
from keeper.domain.book.writing import Refused, wait_for_other_writers, writing
from keeper.models import Account, DaybookEntry, RecoveryCode, SecondFactor

# Seconds of a step, and how many steps a clock may be wrong by, to either side.
STEP, DRIFT = 30, 1
HOW_MANY = 10
# No letters or figures that can be mistaken for one another on paper.
_ALPHABET = "23456789abcdefghjkmnpqrstuvwxyz"
_LENGTH = 10


def has_second_factor(account: Account) -> bool:
    """Whether an account asks for a code after the password."""
    return SecondFactor.objects.filter(account=account).exists()


def new_secret() -> str:
    """Return a secret of 160 bits, as an app takes it."""
    return pyotp.random_base32()


def address_of(secret: str, account: Account, book: str) -> str:
    """Return what an app reads from the picture: the secret, and for whom it is."""
    return pyotp.TOTP(secret).provisioning_uri(name=account.name, issuer_name=book)


def step_of(secret: str, code: str, now: float | None = None) -> int | None:
    """Return the step whose code this is, of those near now; None if it is none of them."""
    typed = "".join(code.split())
    around = int(time.time() if now is None else now) // STEP
    counted = pyotp.HOTP(secret)
    return next(
        (
            step
            for step in range(around - DRIFT, around + DRIFT + 1)
            if hmac.compare_digest(counted.at(step).encode(), typed.encode())
        ),
        None,
    )


def turn_on(*, account: Account, secret: str, code: str) -> list[str]:
    """Ask for codes of this secret from now on; return the recovery codes, which are told once.

    Raises:
        Refused: the code is not of this secret, or there is a second factor already.
    """
    step = step_of(secret, code)
    if step is None:
        raise Refused("That is not the code of now. Type the one that the app shows.")
    with writing(by=account, what=f"{account.name}: a second factor", of_records=False):
        if has_second_factor(account):
            raise Refused("There is one already. Make new codes for it, or turn it off.")
        SecondFactor.objects.create(account=account, secret=sealed(secret), last_step=step)
        return _new_codes(account)


def turn_off(*, account: Account, by: Account | None) -> DaybookEntry:
    """Ask for the password alone again; the recovery codes go too.

    Raises:
        Refused: there is none.
    """
    what = f"Turned off the second factor of {account.name}"
    with writing(by=by, what=what, of_records=False) as book:
        if not has_second_factor(account):
            raise Refused(f"{account.name} has no second factor. Look at the name again.")
        SecondFactor.objects.filter(account=account).delete()
        RecoveryCode.objects.filter(account=account).delete()
    return book.entry


def renew_codes(*, account: Account) -> list[str]:
    """Make new recovery codes, told once; those before are worth nothing.

    Raises:
        Refused: there is no second factor to recover.
    """
    with writing(by=account, what=f"{account.name}: new recovery codes", of_records=False):
        if not has_second_factor(account):
            raise Refused("There is no second factor. Begin by turning one on.")
        return _new_codes(account)


def accepts(account: Account, typed: str) -> bool:
    """Whether this is the code of now, or a recovery code; whichever it is, it is used up.

    Raises:
        Unreadable: what is kept was made with another key, and no code can be told from another.
    """
    with transaction.atomic():
        wait_for_other_writers()
        factor = SecondFactor.objects.filter(account=account).first()
        if factor is None:
            return False
        step = step_of(opened(factor.secret), typed)
        if step is not None:
            if step <= factor.last_step:
                return False
            factor.last_step = step
            factor.save(update_fields=["last_step"])
            return True
        used, _ = RecoveryCode.objects.filter(account=account, digest=digest(_bare(typed))).delete()
        return used > 0


def codes_left(account: Account) -> int:
    """Return how many recovery codes are left."""
    return RecoveryCode.objects.filter(account=account).count()


def _new_codes(account: Account) -> list[str]:
    RecoveryCode.objects.filter(account=account).delete()
    codes = ["".join(secrets.choice(_ALPHABET) for _ in range(_LENGTH)) for _ in range(HOW_MANY)]
    RecoveryCode.objects.bulk_create(
        RecoveryCode(account=account, digest=digest(code)) for code in codes
    )
    return _in_halves(codes)


def _in_halves(codes: Sequence[str]) -> list[str]:
    return [f"{code[: _LENGTH // 2]}-{code[_LENGTH // 2 :]}" for code in codes]


def _bare(typed: str) -> str:
    return "".join(letter for letter in typed.lower() if letter.isalnum())
