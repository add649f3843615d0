"""An animal that is not in the book, asked about beside those that are.

It is a founder by what is said of it, each word taken as it stands, exactly as an animal whose
source is not named would be once it were entered; no row of it is written.
"""

from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple, cast

import genetics
from keeper.domain.inference.reading.engine_book import EngineBook
from keeper.domain.inference.reading.founders import said
from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.statements import StatedRow
from keeper.models import Species

# No code of an animal has a line break in it, so this is nobody's own.
GUEST = "\nan animal not in the book"


class GuestWord(NamedTuple):
    """What is said of one trait of it, as a `Statement` says it: ids of rows, and a `Claim`."""

    trait: int
    line: int | None
    claim: str
    chance: Fraction | None = None


@dataclass(frozen=True)
class Guest:
    """An animal that is not in the book, of a known sex, with one word a trait."""

    species: Species
    sex: str
    words: tuple[GuestWord, ...]

    @property
    def traits(self) -> frozenset[int]:
        """The traits of which something is said."""
        return frozenset(word.trait for word in self.words)


def founder_of(inheritance: Inheritance, book: EngineBook, guest: Guest) -> genetics.Animal:
    """Return a guest in the engine's words, at the loci of one part of the book."""
    traits = {trait for group in book.groups for trait in group.traits}
    told = said(
        inheritance,
        sex=guest.sex,
        loci=frozenset(pk for group in book.groups for pk in group.loci),
        statements=[
            StatedRow(0, word.trait, word.line, word.claim, word.chance, Fraction(1))
            for word in guest.words
            if word.trait in traits
        ],
        seen=(),
    )
    return genetics.Animal(
        id=GUEST, sex=cast("genetics.Sex", str(guest.sex)),  # the engine's, not the models' word
        founder=told.founder, founder_joint=told.founder_joint,
    )  # fmt: skip
