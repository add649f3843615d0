"""What an issued sheet says of each gene, and what one issued now would say, both as on paper."""

from dataclasses import dataclass
from typing import Any

from keeper.domain.sheets.writes import draft
from keeper.models import Account, Sheet

_NOTHING = "nothing said"


@dataclass(frozen=True)
class Otherwise:
    """A gene, what the sheet says of it, and what a sheet would say today."""

    name: str
    then: str
    now: str

    @property
    def differs(self) -> bool:
        """Whether the two are not the same."""
        return self.then != self.now


def compared(sheet: Sheet, *, by: Account) -> list[Otherwise]:
    """Return every gene that the sheet or one issued now says something of, by name."""
    then, now = said(sheet.content), said(draft(sheet.animal, by=by))
    names = sorted(then.keys() | now.keys())
    return [Otherwise(name, then.get(name, _NOTHING), now.get(name, _NOTHING)) for name in names]


def otherwise(sheet: Sheet, *, by: Account) -> list[Otherwise]:
    """Return what an issued sheet would say otherwise if it were issued now."""
    return [one for one in compared(sheet, by=by) if one.differs]


def said(content: dict[str, Any]) -> dict[str, str]:
    """Return what a content says of each trait, its lines included."""
    told = dict.fromkeys(content["disputed"], "disputed, nothing is claimed")
    told |= dict.fromkeys(content["absent"], "does not carry")
    for row in content["claims"]:
        lines = " / ".join(row["lines"]) or row["line_note"]
        told[row["trait"]] = f"{lines}: {row['words']}" if lines else row["words"]
    return told
