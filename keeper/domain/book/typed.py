"""What somebody typed into an address, made fit to be looked for."""

from keeper.models.plain_text import visible


def typed(text: str | None, *, at_most: int = 100) -> str:
    """Return the text without its edges and unseen letters; PostgreSQL refuses zero bytes."""
    return visible((text or "").replace("\0", "")).strip()[:at_most]


# A number with as many digits may be larger than the database counts.
_DIGITS = 19


def row_number(text: str | None) -> int | None:
    """Return the number of a row that an address names; None: it names none that can be."""
    return int(text) if text and text.isdecimal() and len(text) < _DIGITS else None
