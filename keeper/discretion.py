"""Who may know of people and of prices: what a record says of them depends on who reads it.

The owner sees everything. To others people are “a contact” and prices are not told, unless the
owner allows it (`Account.sees_people`, `Account.sees_prices`). `keeper.access` says for each
request who reads; where nobody does, as in a command, everything is told.

A name is told by `str(contact)` and by nothing else, so that every sentence made of one is discreet
by itself. Other texts about people go through `told`; sentences that were written down before, as
the daybook's, through `without_names`.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from functools import cached_property

# What stands where a person or a price is not told.
SOMEBODY = "a contact"
NOT_TOLD = "not shown to you"

# What tells of people and of what was asked for an animal: kind of record → fields.
OF_PEOPLE = {
    "contact": {"name", "reach", "notes", "reliability", "kept_until", "kept_why"},
    "paper": {"says", "scan"},
    "pairword": {"says"},
    "prospect": {"where", "says", "notes"},
    "told": {"message", "note"},
    "sale": {"note"},
}
OF_PRICES = {"prospect": {"asked"}, "offer": {"asked"}, "sale": {"price", "deposit"}}


def _nobody() -> Iterable[str]:
    return ()


@dataclass
class Reader:
    """Who reads, as far as it matters here.

    Attributes:
        people: whether they may know of sources, buyers and sellers.
        prices: whether they may know what is asked or paid.
        names: asks for every name that a contact has or had; asked once, if at all.
    """

    people: bool = True
    prices: bool = True
    names: Callable[[], Iterable[str]] = field(default=_nobody, repr=False)

    @cached_property
    def _names(self) -> re.Pattern[str] | None:
        # The longest first, so that of two names one inside the other none is left in part.
        listed = sorted({one for one in self.names() if one.strip()}, key=len, reverse=True)
        if not listed:
            return None
        words = "|".join(map(re.escape, listed))
        return re.compile(rf"(?<!\w)(?:{words})(?!\w)", re.IGNORECASE)

    def without_names(self, text: str) -> str:
        """Return a text with “a contact” in place of every name, if they are not told."""
        if self.people or not text or self._names is None:
            return text
        return self._names.sub(SOMEBODY, text)


_reader: ContextVar[Reader | None] = ContextVar("reader", default=None)
_EVERYTHING = Reader()


def reader() -> Reader:
    """Return who reads; whoever it is may know everything where nobody was named."""
    return _reader.get() or _EVERYTHING


@contextmanager
def read_by(one: Reader) -> Iterator[None]:
    """Let what is made inside be for this reader."""
    before = _reader.set(one)
    try:
        yield
    finally:
        _reader.reset(before)


def sees_people() -> bool:
    """Whether the reader may know of people."""
    return reader().people


def sees_prices() -> bool:
    """Whether the reader may know of prices."""
    return reader().prices


def told(model_name: str, field_name: str, value: str) -> str:
    """Return what a field says, or that it is not shown; nothing stays nothing."""
    return NOT_TOLD if value and is_hidden(model_name, field_name) else value


def is_hidden(model_name: str, field_name: str) -> bool:
    """Whether a field is not for this reader."""
    one = reader()
    return (not one.people and field_name in OF_PEOPLE.get(model_name, ())) or (
        not one.prices and field_name in OF_PRICES.get(model_name, ())
    )


def without_names(text: str) -> str:
    """Return a text as this reader may have it: with “a contact” in place of names."""
    return reader().without_names(text)
