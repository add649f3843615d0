"""What somebody typed into an address, made fit to be looked for."""

from keeper.models.plain_text import visible


def typed(text: str | None, *, at_most: int = 100) -> str:
    """Return the text without its edges and unseen letters; PostgreSQL refuses zero bytes."""
    return visible((text or "").replace("\0", "")).strip()[:at_most]
