"""A device that keeps passkeys, in software: it makes them and signs as the standard says (ES256).

It does what a browser and its authenticator do together, and does wrong on demand.
"""

import hashlib
import json
import secrets
from dataclasses import dataclass, field
from typing import Any

import cbor2
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from webauthn.helpers import base64url_to_bytes, bytes_to_base64url

_PRESENT, _VERIFIED, _ATTESTED = 1, 4, 64


@dataclass
class Kept:
    """One passkey on the device."""

    private: ec.EllipticCurvePrivateKey
    name: bytes
    host: str
    handle: bytes


@dataclass
class Device:
    """A device, and what a test makes it do.

    Attributes:
        origin: under which address the page was that asked.
        counts: whether it counts; those that share their keys with others do not.
        verifies: whether it makes sure who holds it.
        framed: whether the page stood inside that of somebody else.
    """

    origin: str = "http://localhost"
    counts: bool = True
    verifies: bool = True
    framed: bool = False
    count: int = 0
    kept: list[Kept] = field(default_factory=list)

    def make(self, asks: str, host: str | None = None) -> str:
        """Make a passkey; return what the browser sends of it."""
        asked = json.loads(asks)
        made = Kept(
            ec.generate_private_key(ec.SECP256R1()),
            secrets.token_bytes(20),
            host or asked["rp"]["id"],
            base64url_to_bytes(asked["user"]["id"]),
        )
        self.kept.append(made)
        point = made.private.public_key().public_numbers()
        x, y = (one.to_bytes(32, "big") for one in (point.x, point.y))
        public = cbor2.dumps({1: 2, 3: -7, -1: 1, -2: x, -3: y})
        named = bytes(16) + len(made.name).to_bytes(2, "big") + made.name + public
        data = self._data(made.host, _ATTESTED) + named
        attested = cbor2.dumps({"fmt": "none", "attStmt": {}, "authData": data})
        response: dict[str, Any] = {
            "clientDataJSON": self._client("create", asked["challenge"]),
            "attestationObject": bytes_to_base64url(attested),
            "transports": ["internal", "hybrid"],
        }
        return _sent(made, response)

    def use(self, asks: str, key: int = 0, **otherwise: Any) -> str:
        """Sign with a passkey; return what the browser sends of it."""
        asked = json.loads(asks)
        one = self.kept[key]
        client = base64url_to_bytes(self._client("get", asked["challenge"]))
        data = self._data(otherwise.get("host", one.host), 0)
        signed = one.private.sign(data + hashlib.sha256(client).digest(), ec.ECDSA(hashes.SHA256()))
        return _sent(
            one,
            {
                "clientDataJSON": bytes_to_base64url(client),
                "authenticatorData": bytes_to_base64url(data),
                "signature": bytes_to_base64url(otherwise.get("signed", signed)),
                "userHandle": bytes_to_base64url(otherwise.get("handle", one.handle)),
            },
        )

    def _client(self, what: str, challenge: str) -> str:
        said = {
            "type": f"webauthn.{what}",
            "challenge": challenge,
            "origin": self.origin,
            "crossOrigin": self.framed,
        }
        return bytes_to_base64url(json.dumps(said).encode())

    def _data(self, host: str, more: int) -> bytes:
        self.count += self.counts
        flags = _PRESENT | (_VERIFIED if self.verifies else 0) | more
        count = self.count.to_bytes(4, "big")
        return hashlib.sha256(host.encode()).digest() + bytes([flags]) + count


def _sent(one: Kept, response: dict[str, Any]) -> str:
    name = bytes_to_base64url(one.name)
    return json.dumps({"id": name, "rawId": name, "type": "public-key", "response": response})
