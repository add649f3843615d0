"""What letters a text of the book is made of: none that nobody sees, none that turn others round.

Names and codes are read aloud, typed again, and printed on sheets. A letter that cannot be seen
makes two of what looks like one; a control of direction shows the letters after it in another
order than they stand. The shapes that are taken for one another are of the Unicode consortium's
list of confusables (technical standard 39), capitals and small letters of Greek and Cyrillic,
quoted from memory.
"""

import unicodedata
from collections.abc import Collection
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models

# Embeddings, overrides, isolates and marks of direction.
_TURNING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
# Fillers and joiners that print nothing though they count as letters or marks.
_EMPTY = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u3164\uffa0")
# Joiners: they shape letters of some scripts, and do nothing beside plain ones.
_JOINING = frozenset("\u200c\u200d")
_BREAKS = frozenset("\n\r\t")
_LIKE = str.maketrans(
    "АВЕЅІЈКМНОРСТХУаеорсухіјѕԁһԛԝΑΒΕΖΗΙΚΜΝΟΡΤΥΧονικρ",  # that is what they are for
    "ABESIJKMHOPCTXYaeopcyxijsdhqwABEZHIKMNOPTYXovikp",
)


def visible(text: str) -> str:
    """Return a text in composed letters without those that cannot be seen.

    >>> visible("\\ufeffF-0\\u200b14")
    'F-014'
    """
    composed = unicodedata.normalize("NFC", text)
    return "".join(one for place, one in enumerate(composed) if _is_seen(composed, place))


def _is_seen(text: str, place: int) -> bool:
    letter = text[place]
    if letter in _TURNING or letter in _BREAKS or letter == "\0":
        return True  # refused, kept, and refused by every field
    if letter in _JOINING:
        beside = text[place - 1 : place] + text[place + 1 : place + 2]
        return len(beside) == 2 and not beside.isascii()
    return letter not in _EMPTY and unicodedata.category(letter) not in {"Cc", "Cf"}


def refuse_turning(text: str) -> None:
    """Refuse controls of the direction of writing.

    Raises:
        ValidationError: there is one.
    """
    if not _TURNING.isdisjoint(text):
        raise ValidationError(
            "There is a sign in this that turns the direction of writing and cannot be seen. "
            "Type it anew instead of pasting it."
        )


def looks_like(code: str) -> str:
    """Return a code in the plain letters that it looks as if it had, without case.

    >>> looks_like("\\u0410-014") == looks_like("a-014")
    True
    """
    return visible(code).translate(_LIKE).casefold()


def alphabets(code: str) -> list[str]:
    """Return the alphabets of a code's letters, as Unicode names them, in order.

    >>> alphabets("F\\u0410-01")
    ['Cyrillic', 'Latin']
    """
    names = {unicodedata.name(one, "unknown").split()[0] for one in code if one.isalpha()}
    return sorted(name.capitalize() for name in names)


class PlainText(models.Model):
    """A row whose texts are kept without letters that cannot be seen."""

    class Meta:
        abstract = True

    def clean_fields(self, exclude: Collection[str] | None = None) -> None:
        """Take out what cannot be seen, and refuse what turns the direction of writing."""
        faults: dict[str, Any] = {}
        for field in self._meta.concrete_fields:
            value = getattr(self, field.attname)
            if not isinstance(value, str) or field.name in (exclude or ()):
                continue
            setattr(self, field.attname, seen := visible(value))
            try:
                refuse_turning(seen)
            except ValidationError as error:
                faults[field.name] = error
        try:
            super().clean_fields(exclude)
        except ValidationError as error:
            faults = error.update_error_dict(faults)
        if faults:
            raise ValidationError(faults)
