"""What a browser is asked of a passkey, and whether what it answers is in order.

Web Authentication, level 2 (W3C Recommendation of 2021); `webauthn` reads and checks the answers.
A challenge is 32 random bytes. It stands in the session of whoever asked for it, with what it is
for and under which address, for five minutes, and is taken out before its answer is looked at: so
it is good once. Of an attestation nothing is asked: which make a device is of is its keeper's own.

The device has to make sure who holds it (by a finger, a face or a number of its own), so that a
passkey is two things in one: something one has and something one is or knows.
"""

import json
import secrets
import time
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

import webauthn
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from django.contrib.sessions.backends.base import SessionBase
from django.db import transaction
from webauthn.helpers import (
    base64url_to_bytes,
    bytes_to_base64url,
    parse_authentication_credential_json,
    parse_client_data_json,
    parse_registration_credential_json,
)
from webauthn.helpers import exceptions as wrong
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    AuthenticatorTransport,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from keeper import NAME
from keeper.domain.accounts.reached import Reached
from keeper.domain.book.writing import Refused, wait_for_other_writers
from keeper.models import Account, Passkey

# How many seconds a challenge waits for its answer.
WAITS = 300
Purpose = Literal["add", "prove", "log in", "second"]

_HELD = "passkey"
# Bytes of what a device may call a passkey, by the standard.
_LONGEST = 1023
_REQUIRED = UserVerificationRequirement.REQUIRED
# What the library, and those that it rests on, raise of bytes that are not in order.
_NOT_IN_ORDER = (
    *(wrong.WebAuthnException, InvalidSignature, UnsupportedAlgorithm, RecursionError),
    *(ArithmeticError, AttributeError, EOFError, LookupError, TypeError, ValueError),
)


class NotAccepted(Refused):
    """An answer of a device that is not taken; `account` is whose it says to be, if known."""

    def __init__(self, said: str, account: Account | None = None) -> None:
        super().__init__(said)
        self.account = account


class TooLate(Refused):
    """There is no such challenge: it waited too long, was answered, or is of another page."""

    def __init__(self) -> None:
        super().__init__("That took too long, or was answered already. Begin again.")


@dataclass(frozen=True)
class Asked:
    """A challenge, and what it is for.

    Attributes:
        challenge: random bytes.
        at: under which address it was asked.
        also: what else was given with it: the name and the handle of a new passkey.
    """

    challenge: bytes
    at: Reached
    also: dict[str, str]


@dataclass(frozen=True)
class Made:
    """A new passkey, as a device made it."""

    credential: str
    public: str
    count: int
    reached_by: str


# ---- challenges -----------------------------------------------------------------------------


def ask(session: SessionBase, purpose: Purpose, at: Reached, **also: str) -> Asked:
    """Keep a new challenge in a session, in place of one before.

    Raises:
        Refused: there can be no passkeys under this address.
    """
    if not at.host:
        raise Refused(f"Open the book by its host name first. {at.why_not}")
    challenge = secrets.token_bytes(32)
    session[_HELD] = {
        "challenge": bytes_to_base64url(challenge),
        "for": purpose,
        "origin": at.origin,
        "since": time.time(),
        "also": also,
    }
    return Asked(challenge, at, also)


def waiting(session: SessionBase, purpose: Purpose, at: Reached) -> Asked | None:
    """Return the challenge that waits in a session, and leave it there."""
    return _asked(session.get(_HELD), purpose, at)


def take(session: SessionBase, purpose: Purpose, at: Reached) -> Asked:
    """Return the challenge that waits in a session; it is used up, whatever comes of it.

    Raises:
        TooLate: there is none of this purpose and this address.
    """
    session.pop(_HELD, None)
    if session.session_key is None:
        raise TooLate
    # Of two answers that come at the same moment each has read the session with the challenge.
    with transaction.atomic():
        wait_for_other_writers()
        kept = type(session)(session.session_key)
        held = kept.pop(_HELD, None)
        if held is not None:
            kept.save()
    asked = _asked(held, purpose, at)
    if asked is None:
        raise TooLate
    return asked


def _asked(held: Any, purpose: Purpose, at: Reached) -> Asked | None:
    if not held or held["for"] != purpose or held["origin"] != at.origin or not at.host:
        return None
    if not 0 <= time.time() - held["since"] <= WAITS:
        return None
    return Asked(base64url_to_bytes(held["challenge"]), at, dict(held["also"]))


# ---- what a browser is asked ------------------------------------------------------------------


def to_make(asked: Asked, account: Account, have: Iterable[Passkey]) -> str:
    """Return, as JSON, what a browser is asked in order to make a passkey."""
    options = webauthn.generate_registration_options(
        rp_id=asked.at.host,
        rp_name=NAME,
        user_id=base64url_to_bytes(asked.also["handle"]),
        user_name=account.name,
        challenge=asked.challenge,
        timeout=WAITS * 1000,
        authenticator_selection=AuthenticatorSelectionCriteria(
            resident_key=ResidentKeyRequirement.REQUIRED, user_verification=_REQUIRED
        ),
        exclude_credentials=[_described(one) for one in have],
    )
    return webauthn.options_to_json(options)


def to_use(asked: Asked, have: Iterable[Passkey] = ()) -> str:
    """Return, as JSON, what a browser is asked in order to use one of these; none: any it has."""
    options = webauthn.generate_authentication_options(
        rp_id=asked.at.host,
        challenge=asked.challenge,
        timeout=WAITS * 1000,
        allow_credentials=[_described(one) for one in have],
        user_verification=_REQUIRED,
    )
    return webauthn.options_to_json(options)


def _described(key: Passkey) -> PublicKeyCredentialDescriptor:
    ways = [AuthenticatorTransport(one) for one in key.reached_by.split(",") if one]
    return PublicKeyCredentialDescriptor(
        id=base64url_to_bytes(key.credential), transports=ways or None
    )


# ---- what it answers --------------------------------------------------------------------------


def made(answer: str, asked: Asked) -> Made:
    """Return the passkey that a device made.

    Raises:
        NotAccepted: the answer is not in order, or not to this challenge under this address.
    """
    try:
        read = parse_registration_credential_json(answer)
        _refuse_framed(read.response.client_data_json)
        found = webauthn.verify_registration_response(
            credential=read,
            expected_challenge=asked.challenge,
            expected_rp_id=asked.at.host,
            expected_origin=asked.at.origin,
            require_user_verification=True,
        )
    except _NOT_IN_ORDER as error:
        raise NotAccepted(
            "What your device answered is not in order, so no passkey was kept. Begin again."
        ) from error
    if len(found.credential_id) > _LONGEST:
        raise NotAccepted("What your device calls the passkey is too long. Take another device.")
    ways = read.response.transports or []
    return Made(
        bytes_to_base64url(found.credential_id),
        bytes_to_base64url(found.credential_public_key),
        found.sign_count,
        ",".join(dict.fromkeys(one.value for one in ways)),
    )


def named(answer: str) -> str:
    """Return which passkey an answer says to be of; nothing if it cannot be read."""
    try:
        said = json.loads(answer)["id"]
    except (RecursionError, TypeError, LookupError, ValueError):
        return ""
    return said if isinstance(said, str) else ""


def used(answer: str, asked: Asked, key: Passkey, *, by_name: bool) -> int:
    """Return what a passkey's counter says, if it signed the challenge under this address.

    Args:
        by_name: whether the book knew whose it is before; else the device has to say so too.

    Raises:
        NotAccepted: it did not, or did without making sure who holds it.
    """
    try:
        read = parse_authentication_credential_json(answer)
        _refuse_framed(read.response.client_data_json)
        handle = read.response.user_handle
        if (handle or not by_name) and handle != base64url_to_bytes(key.handle):
            raise wrong.InvalidAuthenticationResponse("the handle of another account")
        found = webauthn.verify_authentication_response(
            credential=read,
            expected_challenge=asked.challenge,
            expected_rp_id=asked.at.host,
            expected_origin=asked.at.origin,
            credential_public_key=base64url_to_bytes(key.public),
            # Compared by whoever asks, under the lock, and told in other words than the rest.
            credential_current_sign_count=0,
            require_user_verification=True,
        )
    except _NOT_IN_ORDER as error:
        raise NotAccepted(
            "What your device answered is not in order, so it was not taken. Begin again.",
            key.account,
        ) from error
    return found.new_sign_count


def _refuse_framed(client_data: bytes) -> None:
    """Refuse what was asked for by a page of ours inside a page of somebody else.

    Raises:
        InvalidJSONStructure: it was, or it cannot be read.
    """
    if parse_client_data_json(client_data).cross_origin:
        raise wrong.InvalidJSONStructure("asked for inside a page of another address")
