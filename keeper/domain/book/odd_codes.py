"""What looks odd about a code: letters that are taken for others."""

from collections.abc import Iterator

from keeper.models import Animal, Clutch
from keeper.models.plain_text import alphabets, looks_like


def odd_code(record: Animal | Clutch, before: str = "") -> Iterator[str]:
    """Yield what may be wrong with a code that is being written; `before` was it until now."""
    code = record.code
    if code.isascii() or code == before:
        return
    found, plain = alphabets(code), looks_like(code).upper()
    if len(found) > 1:
        yield f"The code {code} has letters of two alphabets: {' and '.join(found)}."
    if plain.isascii():
        # Asked with the odd one, so that a plain code never has to look for it.
        same = type(record).objects.live().filter(code__iexact=plain).exclude(pk=record.pk)
        beside = ", which is in the book as well" if same.exists() else ""
        yield (
            f"The code {code} looks like {plain}{beside}, and is not: "
            f"it has letters that are {' and '.join(found)}."
        )
