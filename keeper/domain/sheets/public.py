"""What anybody may know of an issued sheet: what was signed, and what came after. No person."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone

from keeper.domain.sheets import signing
from keeper.domain.sheets.signing import Verdict
from keeper.models import Ended, Sheet, SigningKey


@dataclass(frozen=True)
class PublicSheet:
    """An issued sheet as anybody may see it.

    Attributes:
        code: what its page is called.
        numbered: its number, as printed.
        verdict: whether its signature holds.
        content: what it says, as it was signed; empty where that cannot be read.
        signed, signature: the exact bytes.
        key: the key that signed it.
        withdrawn_on: the day it was taken back, if it was.
    """

    code: str
    numbered: str
    verdict: Verdict
    content: dict[str, Any]
    signed: bytes
    signature: bytes
    key: SigningKey
    withdrawn_on: date | None

    @property
    def holds(self) -> bool:
        """Whether the signature holds."""
        return self.verdict == Verdict.HOLDS

    @property
    def key_is_taken(self) -> bool:
        """Whether others may sign with its key."""
        return self.key.ended_as == Ended.TAKEN


def signed_sheets() -> QuerySet[Sheet]:
    """Return the sheets that have a public page, the oldest first."""
    found: QuerySet[Sheet] = Sheet.objects.exclude(page_code=None).exclude(key=None)
    return found.select_related("key").order_by("pk")


def public(sheet: Sheet) -> PublicSheet:
    """Return what anybody may know of a signed sheet."""
    if sheet.key is None:
        raise ValueError(f"{sheet} has no public page")
    signed = bytes(sheet.signed or b"")
    try:
        content = signing.read(signed).get("content", {})
    except signing.Unreadable:
        content = {}
    withdrawn = sheet.withdrawn_at
    return PublicSheet(
        code=sheet.page_code or "",
        numbered=sheet.numbered,
        verdict=signing.check(sheet),
        content=content,
        signed=signed,
        signature=bytes(sheet.signature or b""),
        key=sheet.key,
        withdrawn_on=timezone.localdate(withdrawn) if withdrawn else None,
    )
