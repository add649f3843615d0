"""What a public page of a sheet prints, in the book and in the folder of static pages."""

import base64
import json
from dataclasses import dataclass
from datetime import date

from keeper.domain.sheets.public import PublicSheet


@dataclass(frozen=True)
class Paper:
    """A public page.

    Attributes:
        sheet: what anybody may know of the sheet.
        as_of: the day of which it tells.
        stale_after: until when that may be relied on; None: it is made when it is asked for.
        state, state_signature: what came after, as signed bytes, on a static page.
        state_key: the key that signed that.
    """

    sheet: PublicSheet
    as_of: date
    stale_after: date | None = None
    state: bytes = b""
    state_signature: bytes = b""
    state_key: bytes = b""

    @property
    def is_static(self) -> bool:
        """Whether it is a page of the folder, which only the browser can check."""
        return self.stale_after is not None

    @property
    def data(self) -> dict[str, str]:
        """What the browser checks, each in Base64, by the name of its attribute."""
        listed = {
            "signed": self.sheet.signed,
            "signature": self.sheet.signature,
            "key": bytes(self.sheet.key.public),
            "state": self.state,
            "state-signature": self.state_signature,
            "state-key": self.state_key,
        }
        return {name: in_base64(one) for name, one in listed.items()}


def in_base64(some: bytes) -> str:
    """Return bytes as text."""
    return base64.b64encode(some).decode("ascii")


def proof(sheet: PublicSheet) -> bytes:
    """Return all that somebody needs to check a sheet with a program of their own, as JSON.

    `signed` is the exact text, in UTF-8; the signature (Ed25519) and the public key are in Base64.
    """
    told = {
        "signed": sheet.signed.decode(),
        "signature": in_base64(sheet.signature),
        "key": in_base64(bytes(sheet.key.public)),
    }
    return json.dumps(told, ensure_ascii=False, indent=1).encode()
