"""What the pages of sale sheets show."""

from dataclasses import dataclass
from typing import Any

from keeper.domain.sheets import signing
from keeper.domain.sheets import writes as sheets
from keeper.domain.sheets.living import picture_file
from keeper.domain.sheets.signing import Verdict
from keeper.models import Account, Animal, Contact, Sheet
from keeper.paper.typesetting import CannotPrint, typeset

SIZES = ("a5", "a4", "letter")


@dataclass(frozen=True)
class Size:
    """A size of paper, and why the sheet cannot be printed on it, if so."""

    name: str
    trouble: str

    @property
    def label(self) -> str:
        """Return the size as it is said: "A5", "Letter"."""
        return self.name.title()


@dataclass(frozen=True)
class Preview:
    """A sheet that is not issued yet.

    Attributes:
        content: exactly what it will say.
        mark: the fingerprint of that, to see at issue that nothing has moved since.
        sizes: the sizes it can be printed on.
    """

    content: dict[str, Any]
    mark: str
    sizes: list[Size]

    @property
    def may_issue(self) -> bool:
        """Whether one size at least can be printed."""
        return any(not size.trouble for size in self.sizes)


def preview(animal: Animal, *, by: Account, buyer: Contact | None = None) -> Preview:
    """Return what a sheet issued now would say, tried on paper."""
    content = sheets.draft(animal, buyer=buyer, by=by)
    shown = picture_file(animal, content["photo"])
    return Preview(content, sheets.fingerprint(content), sizes(content, shown))


def paper_holds(sheet: Sheet, verdict: Verdict) -> bool | None:
    """Whether the paper says what was issued; None: that cannot be told."""
    if verdict != Verdict.HOLDS or not sheet.salt:
        return None
    return signing.paper_is_as_signed(sheet)


def sizes(content: dict[str, Any], picture: bytes) -> list[Size]:
    """Return each size with what stands in its way."""
    return [Size(name, _trouble(content, name, picture)) for name in SIZES]


def _trouble(content: dict[str, Any], size: str, picture: bytes) -> str:
    try:
        typeset(content, source="sheet", size=size, picture=picture)
    except CannotPrint as error:
        return str(error)
    return ""
