"""A file encrypted with a passphrase.

The format, version 1; numbers are big-endian:

    b"KEPTLINES SEALED 1\\n"   19 bytes
    salt                      16 bytes, random
    log2 of Scrypt's n         1 byte (r = 8, p = 1)
    nonces begin with          7 bytes, random
    check                     16 bytes
    chunks                    each 1 MiB of the file (the last: what is left, perhaps nothing),
                              encrypted, and a tag of 16 bytes

Scrypt makes 64 bytes of the passphrase (UTF-8, normal form C): 32 are the key of AES-256-GCM, 32
that of `check`, the first half of HMAC-SHA256 over all before it. The nonce of a chunk is the seven
bytes, its number from 0 on in four, and one that is 1 for the last chunk and else 0; what stands
before the chunks is authenticated with each. So a chunk that is changed, moved, left out or added
is noticed, and so is an end that is missing (the STREAM construction of Hoang, Reyhanitabar,
Rogaway and Vizár, "Online authenticated-encryption and its nonce-reuse misuse-resistance", 2015).

If `check` does not fit, the passphrase is wrong or the first bytes are damaged: nothing tells the
two apart. If it fits and a chunk does not, the file is damaged for certain.
"""

import hashlib
import hmac
import secrets
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

from keeper.domain.backups.troubles import Damaged, TooNew, WrongPassphrase

_NAME = b"KEPTLINES SEALED "
MAGIC = _NAME + b"1\n"
CHUNK = 1024 * 1024
_TAG, _SALT, _PREFIX, _CHECK = 16, 16, 7, 16
_HEAD = len(MAGIC) + _SALT + 1 + _PREFIX
# 2^16: 64 MiB and some tenths of a second for whoever tries a passphrase. A file that asks for more
# than 2^20, a gigabyte, was not made by us.
COST, _MOST_COST = 16, 20
SHORTEST = 12


@dataclass(frozen=True)
class _Keys:
    chunks: AESGCM
    check: bytes


def is_sealed(path: Path) -> bool:
    """Whether a file says that it is encrypted. Raises `OSError` if it cannot be read."""
    with path.open("rb") as file:
        return file.read(len(_NAME)) == _NAME


def seal(plain: Path, sealed: Path, passphrase: str, *, cost: int = COST) -> None:
    """Write a file encrypted. Raises `OSError` if it cannot be read or written."""
    head = MAGIC + secrets.token_bytes(_SALT) + bytes([cost]) + secrets.token_bytes(_PREFIX)
    keys = _keys(head, passphrase)
    bound = head + _check(keys, head)
    with plain.open("rb") as source, sealed.open("wb") as target:
        target.write(bound)
        for number, chunk, last in _chunks(source, CHUNK):
            target.write(keys.chunks.encrypt(_nonce(head, number, last=last), chunk, bound))


def unseal(sealed: Path, plain: Path, passphrase: str) -> None:
    """Write a file that `is_sealed` as it was before it was encrypted.

    Raises:
        WrongPassphrase: it is not opened by this passphrase, or its first bytes are damaged.
        Damaged: its first bytes are in order, and what follows is not.
        TooNew: it is of a later format.
        OSError: it cannot be read, or the other cannot be written.
    """
    with sealed.open("rb") as source, plain.open("wb") as target:
        head = source.read(_HEAD)
        check = source.read(_CHECK)
        if len(check) < _CHECK:
            raise Damaged("it ends too early")
        if not head.startswith(MAGIC):
            raise TooNew("another way to encrypt")
        if not 1 <= head[len(MAGIC) + _SALT] <= _MOST_COST:
            raise Damaged("its first bytes are not as they were written")
        keys = _keys(head, passphrase)
        if not hmac.compare_digest(check, _check(keys, head)):
            raise WrongPassphrase
        bound = head + check
        for number, chunk, last in _chunks(source, CHUNK + _TAG):
            try:
                target.write(keys.chunks.decrypt(_nonce(head, number, last=last), chunk, bound))
            except (InvalidTag, ValueError) as error:
                where = number * CHUNK // 1_000_000
                raise Damaged(f"it was changed or cut short after {where} MB") from error


def _keys(head: bytes, passphrase: str) -> _Keys:
    salt, cost = head[len(MAGIC) :][:_SALT], head[len(MAGIC) + _SALT]
    typed = unicodedata.normalize("NFC", passphrase).encode()
    made = Scrypt(salt=salt, length=64, n=2**cost, r=8, p=1).derive(typed)
    return _Keys(AESGCM(made[:32]), made[32:])


def _check(keys: _Keys, head: bytes) -> bytes:
    return hmac.new(keys.check, head, hashlib.sha256).digest()[:_CHECK]


def _nonce(head: bytes, number: int, *, last: bool) -> bytes:
    return head[-_PREFIX:] + number.to_bytes(4, "big") + bytes([last])


def _chunks(source: BinaryIO, size: int) -> Iterator[tuple[int, bytes, bool]]:
    """Yield each chunk with its number and whether it is the last; of nothing one empty chunk."""
    number, chunk = 0, source.read(size)
    while True:
        following = source.read(size)
        yield number, chunk, not following
        if not following:
            return
        number, chunk = number + 1, following
