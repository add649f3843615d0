"""What is signed, byte for byte, and how it is checked: Ed25519 (RFC 8032) over canonical JSON.

A signature is over exact bytes; nothing is ever written anew to be checked. The record is JSON in
UTF-8 with sorted names and no blanks; one that names a field twice is refused, since two readers
could take it for two things.
"""

import hashlib
import hmac
import json
from collections.abc import Mapping
from enum import StrEnum
from typing import Any

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import (
    Ed25519PrivateKey,
    Ed25519PublicKey,
)

from keeper.models import Sheet

SHEET, STATE = "keptlines-sheet", "keptlines-sheet-state"
# Sheets of version 1 have no evidence with them; what they say stays good.
VERSION, STATE_VERSION = 2, 1
_READ = {SHEET: (1, VERSION), STATE: (STATE_VERSION,)}
_KEY_BYTES, _SIGNATURE_BYTES = 32, 64


class Verdict(StrEnum):
    """What a check of a signed sheet came to."""

    HOLDS = "holds"
    BROKEN = "broken"
    UNSIGNED = "unsigned"


class Unreadable(Exception):
    """Bytes that are no record of ours; the message says what is wrong."""


def canonical(record: Mapping[str, Any]) -> bytes:
    """Return the one spelling of a record that is signed."""
    text = json.dumps(
        record, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )
    return text.encode()


def read(signed: bytes, *, form: str = SHEET) -> dict[str, Any]:
    """Return the record that some bytes are.

    Raises:
        Unreadable: they are none of this form, or a name stands in it twice.
    """
    try:
        record = json.loads(signed.decode(), object_pairs_hook=_once, parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        raise Unreadable(f"it is no JSON of a record: {error}") from error
    if not isinstance(record, dict) or record.get("format") != form:
        raise Unreadable(f"it is no record of the form {form}")
    known = _READ.get(form, (1,))
    if type(record.get("version")) is not int or record["version"] not in known:
        are = " and ".join(map(str, known))
        raise Unreadable(f"it is of version {record.get('version')!r}; {are} can be read here")
    return record


def fingerprint(public: bytes) -> str:
    """Return what a public key is called: the first half of its SHA-256, 32 hex digits."""
    return hashlib.sha256(public).hexdigest()[:32]


def public_of(private: Ed25519PrivateKey) -> bytes:
    """Return the public half of a key, 32 bytes."""
    return private.public_key().public_bytes_raw()


def digest(signed: bytes) -> str:
    """Return the SHA-256 of what was signed, 64 hex digits."""
    return hashlib.sha256(signed).hexdigest()


def salted(salt: str, what: str, value: Any) -> str:
    """Return what stands for something private: SHA-256 over a salt, what it is, and the value.

    The salt is 256 random bits in hex, one a sheet; without it nobody can try names.
    """
    return hashlib.sha256(canonical({"salt": salt, "what": what, "value": value})).hexdigest()


def is_signed_by(public: bytes, signature: bytes, signed: bytes) -> bool:
    """Whether a signature over these bytes was made by a key."""
    if len(public) != _KEY_BYTES or len(signature) != _SIGNATURE_BYTES:
        return False
    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, signed)
    except (InvalidSignature, ValueError):
        return False
    return True


def check(sheet: Sheet) -> Verdict:
    """Return whether a sheet's record is what was signed, and is the record of this sheet."""
    if sheet.signed is None or sheet.signature is None or sheet.key is None:
        return Verdict.BROKEN if sheet.page_code else Verdict.UNSIGNED
    signed, signature = bytes(sheet.signed), bytes(sheet.signature)
    public = bytes(sheet.key.public)
    if not (
        hmac.compare_digest(digest(signed), sheet.digest)
        and fingerprint(public) == sheet.key.fingerprint
        and is_signed_by(public, signature, signed)
    ):
        return Verdict.BROKEN
    try:
        record = read(signed)
    except Unreadable:
        return Verdict.BROKEN
    told = (record.get("code"), record.get("number"), record.get("key"))
    here = (sheet.page_code, sheet.numbered, sheet.key.fingerprint)
    return Verdict.HOLDS if told == here else Verdict.BROKEN


def paper_is_as_signed(sheet: Sheet) -> bool:
    """Whether what the buyer's paper says is what was issued, by the digest in what was signed.

    It cannot be told any more once the salt was destroyed.
    """
    record = read(bytes(sheet.signed or b""))
    return bool(record.get("paper") == salted(sheet.salt, "paper", sheet.content))


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    record = dict(pairs)
    if len(record) != len(pairs):
        raise ValueError("a name stands in it twice")
    return record


def _no_constant(name: str) -> Any:
    raise ValueError(f"{name} is no number")
