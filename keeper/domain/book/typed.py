"""What somebody typed into an address, made fit to be looked for."""


def typed(text: str | None, *, at_most: int = 100) -> str:
    """Return the text without its edges and without zero bytes, which PostgreSQL refuses."""
    return (text or "").replace("\0", "").strip()[:at_most]
