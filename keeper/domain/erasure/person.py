"""A contact as a person: all that it was ever called, and by what it could be reached."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from urllib.parse import quote, quote_plus

from keeper.models import Contact

_MAIL = re.compile(r"[^\s<>,;]+@[^\s<>,;]+\w")
# A shorter name is a word of its own in many texts that are not about the person.
_SHORTEST = 3
_NUMBER = re.compile(r"\+?\d[\d\s/().-]{4,}\d")


@dataclass(frozen=True)
class Person:
    """Whom a contact is.

    Attributes:
        pk: the contact's number; it stays.
        names: every name that it has or had, in any letters.
        ways: what of how to reach it can be told anywhere else: the whole, mails, numbers.
    """

    pk: int
    names: frozenset[str]
    ways: frozenset[str]

    @property
    def called(self) -> str:
        """What stands in place of the person from now on."""
        return f"person {self.pk}"

    @cached_property
    def words(self) -> tuple[str, ...]:
        """All that is searched for, also as it stands in addresses; the longest first, so that of
        two words none is left in part.
        """
        found = {one for one in self.names | self.ways if len(one) >= _SHORTEST}
        found |= {as_address(one) for one in found for as_address in (quote, quote_plus)}
        return tuple(sorted(found, key=lambda one: (-len(one), one)))

    @cached_property
    def pattern(self) -> re.Pattern[str]:
        """Any of the words, as a word of its own, in capitals or not."""
        return _any_of(self.words)

    @cached_property
    def looked_for(self) -> tuple[str, ...]:
        """A piece of each word without a space, by which a database finds what may name it."""
        return tuple(max(one.split(), key=len) for one in self.words)

    @cached_property
    def parts(self) -> tuple[str, ...]:
        """Parts of the names, as a first name alone, which may mean the person or somebody else."""
        found = {part for name in self.names for part in re.findall(r"\w+", name)}
        return tuple(sorted(one for one in found if len(one) > _SHORTEST and one not in self.names))

    def is_partly_in(self, text: str) -> bool:
        """Whether a part of a name stands in a text beside the whole ones."""
        return bool(self.parts) and _any_of(self.parts).search(self.out_of(text)) is not None

    def is_in(self, text: str) -> bool:
        """Whether a text names the person."""
        return bool(self.words) and self.pattern.search(text) is not None

    def out_of(self, text: str) -> str:
        """Return a text with the number in place of the person."""
        return self.pattern.sub(self.called, text) if self.words else text


def person_of(contact: Contact) -> Person:
    """Return whom a contact is, by its row and all of its history."""
    rows = [(contact.name, contact.reach), *contact.history.values_list("name", "reach")]
    called = f"person {contact.pk}"
    return Person(
        contact.pk,
        frozenset(name.strip() for name, _ in rows if name.strip() and name != called),
        frozenset(way for _, reach in rows for way in _ways(reach)),
    )


def _any_of(words: Iterable[str]) -> re.Pattern[str]:
    """Any of these as a word of its own, in capitals or not, however its parts are spaced."""
    each = (r"\s+".join(map(re.escape, one.split())) for one in words)
    return re.compile(rf"(?<!\w)(?:{'|'.join(each)})(?!\w)", re.IGNORECASE)


def _ways(reach: str) -> Iterator[str]:
    if reach.strip():
        yield reach.strip()
    yield from _MAIL.findall(reach)
    yield from (one.strip() for one in _NUMBER.findall(reach))
