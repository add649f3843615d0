"""How a count is said: one thing in the singular, everything else in the plural."""


def how_many(count: int, one: str, many: str = "") -> str:
    """Return a count with its noun: "1 slug", "7 slugs", "2 clutches"; `many` if it takes no s."""
    return f"{count} {one if count == 1 else many or one + 's'}"
