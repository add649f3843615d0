"""A probability as the keeper wrote it: kept as an exact fraction, never as a float."""

from fractions import Fraction
from functools import lru_cache
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models


def read_chance(text: str) -> Fraction:
    """Return the fraction that "2/3", "0.66", "66 %" or "66" says.

    A bare figure above 1 can only be percent. What a keeper types may mean more than one thing at
    1 and below: their fields ask (`is_unclear`).

    Raises:
        ValidationError: it is no chance.
    """
    plain = text.strip().replace(",", ".")
    percent = plain.endswith("%")
    try:
        value = Fraction(plain.rstrip("%").strip().replace(" ", ""))
    except (ValueError, ZeroDivisionError) as error:
        raise ValidationError(
            "“%(text)s” is no chance. Write it like 66 %%, 0.66 or 2/3.",
            code="chance",
            params={"text": text},
        ) from error
    value = value / 100 if percent or (value > 1 and "/" not in plain) else value
    if not 0 <= value <= 1:
        raise ValidationError(
            "“%(text)s” is not between 0 and 100 %%. Write it like 66 %%.",
            code="chance",
            params={"text": text},
        )
    return value


def is_unclear(text: str) -> bool:
    """Whether a bare figure may be a share or percent: above 0 and not above 1, without a sign.

    >>> [is_unclear(one) for one in ("1", "0,5", "0", "66", "1/2", "0.5 %")]
    [True, True, False, False, False, False]
    """
    plain = text.strip().replace(",", ".")
    try:
        return "/" not in plain and 0 < Fraction(plain) <= 1
    except ValueError:
        return False


@lru_cache(maxsize=4096)
def _stored(text: str) -> Fraction:
    """A column's text as a fraction: a book holds few different ones, many times."""
    return Fraction(text)


class ChanceField(models.CharField):  # type: ignore[type-arg]  # the stubs want a type per use
    """A `Fraction` from 0 to 1, stored as text such as `2/3`."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 40)
        super().__init__(*args, **kwargs)

    @property
    def validators(self) -> list[Any]:
        """None: `to_python` refuses what is no chance, and a fraction has no length."""
        return []

    def from_db_value(self, value: str | None, *_: Any) -> Fraction | None:
        """Read a column."""
        return None if value is None else _stored(value)

    def to_python(self, value: Any) -> Fraction | None:
        """Read what a form or a fixture gives."""
        if value is None or value == "":
            return None
        if isinstance(value, Fraction):
            return value
        return read_chance(str(value))

    def get_prep_value(self, value: Any) -> str | None:
        """Write a column."""
        read = self.to_python(value)
        return None if read is None else str(read)

    def value_to_string(self, obj: models.Model) -> str:
        """Write a fixture."""
        return self.get_prep_value(self.value_from_object(obj)) or ""
