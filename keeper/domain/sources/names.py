"""Every name that somebody of the book has or had, for texts that must not tell it."""

from collections.abc import Iterable

from keeper.models import Contact


def contact_names() -> Iterable[str]:
    """Return every name that a contact has or had."""
    yield from Contact.objects.values_list("name", flat=True)
    yield from Contact.history.values_list("name", flat=True).distinct()
