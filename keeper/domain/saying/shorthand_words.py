"""The words and signs of the shorthand, and how a text falls into them."""

import re
from collections.abc import Sequence
from difflib import SequenceMatcher, get_close_matches
from fractions import Fraction
from typing import NamedTuple

from django.core.exceptions import ValidationError

from keeper.models import Sex
from keeper.models.chance import read_chance

# The sexes of one animal as males.females.unknown.
SEXES = {
    "1.0": Sex.MALE,
    "1.0.0": Sex.MALE,
    "0.1": Sex.FEMALE,
    "0.1.0": Sex.FEMALE,
    "0.0.1": Sex.UNKNOWN,
}
SEX_WORDS = {
    "male": Sex.MALE,
    "female": Sex.FEMALE,
    "unsexed": Sex.UNKNOWN,
}
ENDS = {",", ";"}
JOINS = {"/", "+", "&", "and"}
# How many genes a word for several hets takes.
SEVERAL = {"dh": 2, "th": 3, "qh": 4}
SEVERAL_HET = {"double": 2, "triple": 3, "quadruple": 4}
VISUAL = {"visual", "vis"}
TWO = {"super", "homozygous"}
NOT = {"no", "not"}
NORMAL = {"normal", "wild-type"}
MAYBE = {"poss", "possible", "pos"}
HET = {"het", "hets", "heterozygous"}

# A number with what belongs to it, a word, or one sign.
TOKEN = re.compile(
    r"\d+/\d+(?=\s*(?:poss?\b|possible\b|het\b))|\d+(?:[.,]\d+){2}|\d+(?:[.,]\d+)?"
    r"|[^\W\d_][\w'’-]*|\S",
    re.IGNORECASE,
)
NUMBER = re.compile(r"\d+/\d+|\d+(?:[.,]\d+)?")
COUNTS = re.compile(r"\d+[.,]\d+(?:[.,]\d+)?")
NEAR = 0.6
MOST_NEAR = 3


class Token(NamedTuple):
    """A word, number or sign of a text, and where it stands there."""

    text: str
    start: int
    end: int

    @property
    def key(self) -> str:
        """The same whatever its letters' case."""
        return self.text.casefold()


def tokens_of(text: str) -> list[Token]:
    """Return a text in words, numbers and signs."""
    return [Token(found[0], found.start(), found.end()) for found in TOKEN.finditer(text)]


def likeness(text: str, names: Sequence[str]) -> float:
    """Return how much a text looks like some name; what is too little to be offered is nothing."""
    key = text.casefold()
    every = (SequenceMatcher(None, name.casefold(), key).ratio() for name in names)
    most = max(every, default=0.0)
    return most if most >= NEAR else 0.0


def chance_of(figure: str) -> Fraction:
    """The chance that a figure says; one that is none says 0."""
    try:
        return read_chance(figure)
    except ValidationError:
        return Fraction(0)


def nearest(text: str, names: Sequence[str]) -> tuple[str, ...]:
    """The names that look most like what was typed."""
    by_key = {name.casefold(): name for name in names}
    found = get_close_matches(text.casefold(), list(by_key), n=MOST_NEAR, cutoff=NEAR)
    return tuple(by_key[key] for key in found)
