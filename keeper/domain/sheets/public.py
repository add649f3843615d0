"""What anybody may know of an issued sheet: what was signed, and what came after. No person."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone

from keeper.domain.sheets import signing
from keeper.domain.sheets.notices import since_issued
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
        notice_on: the day since when the book says otherwise, if it does; never what.
    """

    code: str
    numbered: str
    verdict: Verdict
    content: dict[str, Any]
    signed: bytes
    signature: bytes
    key: SigningKey
    withdrawn_on: date | None
    notice_on: date | None

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


def public_sheet(sheet: Sheet) -> PublicSheet:
    """Return what anybody may know of a signed sheet."""
    return public_sheets([sheet])[0]


def public_sheets(sheets: Sequence[Sheet]) -> list[PublicSheet]:
    """Return what anybody may know of signed sheets, with as many queries for any number."""
    otherwise = since_issued(sheets)
    return [_public(one, otherwise.get(one.pk)) for one in sheets]


def _public(sheet: Sheet, otherwise: datetime | None) -> PublicSheet:
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
        notice_on=timezone.localdate(otherwise) if otherwise else None,
    )
