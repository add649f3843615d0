"""What the book keeps of second factors, so that a copy of its database alone is of no use.

Secrets are encrypted (Fernet: AES-128-CBC with an HMAC) and recovery codes are kept as an
HMAC-SHA256, both by keys made of the file `second-factor-key` in the data folder. It is made when
it is first needed and never enters the database. Whoever restores the database without that file
has second factors that cannot be read: their owners log in after
`manage.py second_factor_off NAME`.
"""

import base64
import hashlib
import hmac
import secrets
from pathlib import Path

from cryptography.fernet import Fernet, InvalidToken
from django.conf import settings

from keeper.serving.secrets import write_private

_FILE = "second-factor-key"


class Unreadable(Exception):
    """What was kept was made with another key."""


def sealed(text: str) -> str:
    """Return a text encrypted."""
    return Fernet(_key("secrets")).encrypt(text.encode()).decode("ascii")


def opened(kept: str) -> str:
    """Return the text that was encrypted.

    Raises:
        Unreadable: it was encrypted with another key.
    """
    try:
        return Fernet(_key("secrets")).decrypt(kept.encode("ascii")).decode()
    except InvalidToken as error:
        raise Unreadable from error


def digest(text: str) -> str:
    """Return what stands for a text that nobody can guess without the key: 64 hex digits."""
    return hmac.new(_key("recovery codes"), text.encode(), hashlib.sha256).hexdigest()


def _key(purpose: str) -> bytes:
    """Return 32 bytes of the key, in the letters that Fernet wants, each purpose its own."""
    path = Path(settings.DATA) / _FILE
    if not path.exists():
        write_private(path, secrets.token_bytes(32))
    made = hmac.new(path.read_bytes(), purpose.encode(), hashlib.sha256).digest()
    return base64.urlsafe_b64encode(made)
