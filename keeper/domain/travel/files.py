"""A signed paper as a file: read strictly, its signature checked over the exact bytes.

The file is the one that `pages/sheets/papers.py` writes (`fixtures/papers/README.md`). Whatever
differs from it in a single letter is refused: a name twice, a blank more, a field nobody knows.
"""

import base64
import binascii
import json
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings

from keeper.domain.book.writing import Refused
from keeper.domain.sheets import signing

LARGEST = 4 * 1024 * 1024
_PARTS = ("signed", "signature", "key")
_NONE = "Nothing was brought in"


@dataclass(frozen=True)
class SignedFile:
    """A file whose signature holds.

    Attributes:
        record: what was signed, read.
    """

    signed: bytes
    signature: bytes
    public: bytes
    record: dict[str, Any]

    @property
    def digest(self) -> str:
        """SHA-256 of what was signed."""
        return signing.digest(self.signed)

    @property
    def fingerprint(self) -> str:
        """What the key is called."""
        return signing.fingerprint(self.public)


class PaperFile(SignedFile):
    """A signed paper of an animal."""

    @property
    def evidence(self) -> dict[str, Any]:
        """What its figures rest on."""
        found: dict[str, Any] = self.record["evidence"]
        return found

    @property
    def content(self) -> dict[str, Any]:
        """What the sheet says."""
        found: dict[str, Any] = self.record["content"]
        return found

    @property
    def issuer(self) -> str:
        """Who issued it, in their own words."""
        return str(self.content.get("issuer", ""))[:80]


def written(signed: bytes, signature: bytes, public: bytes) -> bytes:
    """Return a paper as a file, of which there is one spelling."""
    told = {
        "signed": signed.decode(),
        "signature": base64.b64encode(signature).decode("ascii"),
        "key": base64.b64encode(public).decode("ascii"),
    }
    return json.dumps(told, ensure_ascii=False, indent=1).encode()


def opened(data: bytes) -> PaperFile:
    """Return what a file holds, if it is a signed paper and its signature holds.

    Raises:
        Refused: it is none, or was altered, or has no evidence with it.
    """
    signed, signature, public = checked(data)
    return PaperFile(signed, signature, public, _record(signed, public))


def checked(data: bytes) -> tuple[bytes, bytes, bytes]:
    """Return what a file says was signed, the signature and the key, if the signature holds.

    Raises:
        Refused: it is no such file, or was altered.
    """
    if len(data) > LARGEST:
        raise Refused(f"This file is larger than 4 MB, and no paper is. {_NONE}. Ask for it again.")
    try:
        told = json.loads(data.decode(), object_pairs_hook=_once)
        if not isinstance(told, dict) or set(told) != set(_PARTS):
            raise ValueError("other fields")
        signed = told["signed"].encode()
        signature, public = (
            base64.b64decode(told[name], validate=True) for name in ("signature", "key")
        )
    except (ValueError, AttributeError, TypeError, RecursionError, binascii.Error) as error:
        raise Refused(
            "This is no signed paper: a paper is the file sheet.json of a sheet. "
            f"{_NONE}. Ask for it again."
        ) from error
    if not signing.is_signed_by(public, signature, signed):
        raise Refused(
            "The signature does not hold: the paper is not what was signed, or another key signed "
            f"it. {_NONE}. Ask for it again."
        )
    if written(signed, signature, public) != data:
        raise Refused(
            "The file was changed after it was written, outside of its text. "
            f"{_NONE}. Ask for it again."
        )
    return signed, signature, public


def day_of(record: dict[str, Any]) -> date:
    """The day on which a record was issued.

    Raises:
        Refused: it names none.
    """
    try:
        return date.fromisoformat(record["issued"])
    except ValueError as error:
        raise Refused(
            f"It names no day on which it was issued. {_NONE}. Ask for it again."
        ) from error


def _record(signed: bytes, public: bytes) -> dict[str, Any]:
    try:
        record = signing.read(signed)
    except signing.Unreadable as error:
        raise Refused(
            f"What was signed cannot be read here: {error}. {_NONE}. Ask for it again."
        ) from error
    if record.get("key") != signing.fingerprint(public):
        raise Refused(f"It was signed by another key than it names. {_NONE}. Ask for it again.")
    if record["version"] == 1:
        raise Refused(
            "The signature holds, but the sheet is of a time when papers had no evidence with "
            "them. Ask for a new sheet, or enter what it says by hand."
        )
    if (fault := _fault(record)) is not None:
        raise Refused(f"What was signed is not in order: {fault}. {_NONE}. Ask for it again.")
    day_of(record)
    return record


def _fault(record: dict[str, Any]) -> str | None:
    """What is wrong with a record by the schema, shortly; nothing where it is in order."""
    from jsonschema.exceptions import best_match

    found = best_match(_validator().iter_errors(record))
    if found is None:
        return _content_fault(record["content"])
    place = "/".join(map(str, found.absolute_path)) or "the whole"
    return f"{place} is not as a paper has it"


def _content_fault(content: dict[str, Any]) -> str | None:
    """What is wrong with what a sheet says, as far as it is read here."""
    animal = content.get("animal")
    texts = [content.get("issuer"), content.get("reach"), content.get("numbered")]
    rows = content.get("claims")
    if not isinstance(animal, dict) or not all(isinstance(one, str) for one in animal.values()):
        return "content/animal is not as a paper has it"
    if not {"code", "name", "sex", "hatched"} <= animal.keys():
        return "content/animal is not as a paper has it"
    if not all(isinstance(one, str) for one in texts):
        return "content is not as a paper has it"
    in_order = isinstance(rows, list) and all(isinstance(one, dict) for one in rows)
    if not in_order or not all(_is_claim(row) for row in rows or ()):
        return "content/claims is not as a paper has it"
    return None if _are_texts(content.get("disputed")) else "content is not as a paper has it"


def _is_claim(row: dict[str, Any]) -> bool:
    texts = all(isinstance(row.get(name), str) for name in ("trait", "words", "line_note"))
    return texts and _are_texts(row.get("lines"))


def _are_texts(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(one, str) for one in value)


@cache
def _validator() -> Any:
    from jsonschema import Draft202012Validator

    schema = Path(settings.ROOT) / "fixtures" / "papers" / "paper.schema.json"
    return Draft202012Validator(json.loads(schema.read_text(encoding="utf-8")))


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a name stands in it twice")
    return found
