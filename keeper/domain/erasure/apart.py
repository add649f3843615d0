"""The list of erasures, outside the book: a restore or an archive may bring a person back.

Each person is on it by the contact's number and by salted marks of the names (scrypt, RFC 7914),
never by a name: whoever reads the list learns whom it is about only by trying names one by one. The
number alone would not do, since a copy of another book may have somebody else under it.
"""

import hashlib
import hmac
import json
import secrets
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from keeper.serving.secrets import write_private

_FILE = "erasures.json"
# Of scrypt: some 50 ms and 16 MB for each mark.
_COST, _BLOCK, _PARALLEL = 2**14, 8, 1


@dataclass(frozen=True)
class Erased:
    """Somebody who was erased.

    Attributes:
        contact: the contact's number.
        on: the day, as the book wrote it.
        salt: of the marks, in hex digits.
        marks: of every name that the contact had.
    """

    contact: int
    on: str
    salt: str
    marks: tuple[str, ...]

    def was(self, names: Iterable[str]) -> bool:
        """Whether somebody of these names is meant."""
        return any(
            hmac.compare_digest(_mark(name, self.salt), mark)
            for name in names
            for mark in self.marks
        )


def note(contact: int, names: Iterable[str], on: str) -> None:
    """Put somebody on the list."""
    salt = secrets.token_hex(16)
    marks = tuple(sorted(_mark(name, salt) for name in names))
    _keep([*listed(), Erased(contact, on, salt, marks)])


def strike(contact: int, on: str) -> None:
    """Take somebody off the list whose erasure came to nothing."""
    _keep([one for one in listed() if (one.contact, one.on) != (contact, on)])


def listed() -> list[Erased]:
    """Everybody who was erased."""
    return list(_read())


def state() -> str:
    """Return what tells that somebody was put on the list or taken off it; reads no more of it."""
    try:
        found = _path().stat()
    except FileNotFoundError:
        return ""
    return f"{found.st_mtime_ns}-{found.st_size}"


def _read() -> Iterator[Erased]:
    path = _path()
    if path.exists():
        for one in json.loads(path.read_text(encoding="utf-8")):
            yield Erased(one["contact"], one["on"], one["salt"], tuple(one["marks"]))


def _keep(every: Iterable[Erased]) -> None:
    said = [
        {"contact": one.contact, "on": one.on, "salt": one.salt, "marks": list(one.marks)}
        for one in every
    ]
    write_private(_path(), json.dumps(said, indent=1).encode())


def _path() -> Path:
    return Path(settings.DATA, _FILE)


def _mark(name: str, salt: str) -> str:
    plain = " ".join(name.casefold().split()).encode()
    made = hashlib.scrypt(plain, salt=bytes.fromhex(salt), n=_COST, r=_BLOCK, p=_PARALLEL)
    return made.hex()
