"""What single cells say: a sex, a status, a weight."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from keeper.domain.saying.shorthand_words import SEX_WORDS, SEXES
from keeper.models import Sex, Status

_SEX = {
    **SEX_WORDS,
    **dict.fromkeys(("m", "♂", "male", "males", "boy"), Sex.MALE),
    **dict.fromkeys(("f", "♀", "female", "females", "girl"), Sex.FEMALE),
    **dict.fromkeys(
        ("u", "?", "unknown", "unsexed", "not known", "-", "n/a", "0.0.1"), Sex.UNKNOWN
    ),
}
_STATUS = {
    **dict.fromkeys(("kept", "here", "keep", "active", "own", "holdback", "breeder"), Status.KEPT),
    **dict.fromkeys(("for sale", "available", "offered", "sale", "on sale"), Status.OFFERED),
    **dict.fromkeys(("sold", "gone"), Status.SOLD),
    **dict.fromkeys(("on loan", "loan", "lent", "breeding loan"), Status.LENT),
    **dict.fromkeys(("dead", "died", "deceased", "rip", "†"), Status.DIED),
}
_WEIGHT = re.compile(r"(\d+(?:[.,]\d+)?)\s*(g|gr|grams?|kg|oz|ounces?|lbs?|pounds?)?\.?", re.I)
# Grams: an ounce of the avoirdupois system, exactly; a pound has sixteen.
_OUNCE = Fraction("28.349523125")
_GRAMS = {"g": Fraction(1), "k": Fraction(1000), "o": _OUNCE, "l": _OUNCE * 16, "p": _OUNCE * 16}


def counts_sexes(cells: Iterable[str]) -> bool:
    """Whether a column writes sexes as males.females: then a spreadsheet's bare 1 is 1.0."""
    return any(cell.replace(",", ".") in {"0.1", "1.0", "0.0.1"} for cell in cells)


def sex(text: str, *, counted: bool) -> Sex:
    """Return the sex that a cell says.

    Raises:
        ValueError: it says none.
    """
    key = text.strip().casefold()
    if counted and key in {"1", "1."}:
        return Sex.MALE
    found = SEXES.get(key.replace(",", "."), _SEX.get(key))
    if found is None:
        raise ValueError("This is no sex. Write 1.0, 0.1 or 0.0.1, or m, f or ?.")
    return found


def status(text: str) -> Status:
    """Return the status that a cell says.

    Raises:
        ValueError: it says none.
    """
    found = _STATUS.get(text.strip().casefold())
    if found is None:
        raise ValueError("This is no status. Write kept, for sale, sold, on loan or died.")
    return found


@dataclass(frozen=True)
class Weight:
    """A weight in grams, and as it was written."""

    grams: Fraction
    text: str

    def __str__(self) -> str:
        grams = f"{float(round(self.grams, 1)):g} g"
        return (
            grams
            if self.text.replace(" ", "") == grams.replace(" ", "")
            else (f"{grams} (in the file: {self.text})")
        )


def weight(text: str, unit: str) -> Weight:
    """Return the weight that a cell says; a bare number is in the unit, `g` or `oz`.

    Raises:
        ValueError: it says none, or its unit is not known.
    """
    found = _WEIGHT.fullmatch(text.strip())
    if found is None:
        raise ValueError("This is no weight. Write it like 350 g.")
    named = (found[2] or unit or "").lower()
    if not named:
        raise ValueError("Say first whether weights of this table are in grams or ounces.")
    return Weight(Fraction(found[1].replace(",", ".")) * _GRAMS[named[0]], text.strip())


def has_bare_weight(cells: Iterable[str]) -> bool:
    """Whether some weight of a column has no unit of its own."""
    found = (_WEIGHT.fullmatch(cell.strip()) for cell in cells if cell)
    return any(one is not None and not one[2] for one in found)
