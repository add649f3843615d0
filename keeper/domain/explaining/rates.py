"""How often each kind of thing goes wrong, before anything is known of the case.

All are common practice, no source, except where one is named; they stand on the page beside each
explanation, so that a keeper who knows better can weigh for himself.
"""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from keeper.domain.inference import MISREAD


class Kind(StrEnum):
    """Kinds of explanation."""

    LOOK = "look"
    RESULT = "result"
    WORD = "word"
    UNDECLARED = "undeclared"
    STORED = "stored"
    OTHER_SIRE = "sire"
    SECOND_SIRE = "second-sire"
    WRONG_DAM = "dam"
    MIXED_UP = "mixed-up"
    PEDIGREE = "pedigree"
    ONE_GENE = "one-gene"
    TWO_GENES = "two-genes"
    CROSSOVER = "crossover"
    MUTATION = "mutation"


@dataclass(frozen=True)
class Rate:
    """A base rate in plain words, and how it is known."""

    name: str
    chance: Fraction
    per: str
    ground: str = "common practice, no source"


RATES = {
    Kind.LOOK: Rate("a misread look", MISREAD, "hatchling and trait"),
    Kind.RESULT: Rate("a wrong laboratory result", Fraction(1, 1000), "result"),
    Kind.WORD: Rate("a source's word that is wrong", Fraction(1, 50), "statement"),
    # As often as the look's alleles are taken to be about: two draws at 1 in 100.
    Kind.UNDECLARED: Rate("an undeclared carrier", Fraction(1, 50), "founder"),
    Kind.STORED: Rate("stored sperm of an earlier mate", Fraction(1, 50), "clutch and mate"),
    Kind.OTHER_SIRE: Rate("another sire", Fraction(1, 100), "clutch"),
    Kind.SECOND_SIRE: Rate("a second sire in one clutch", Fraction(1, 200), "clutch"),
    Kind.WRONG_DAM: Rate("another dam", Fraction(1, 1000), "clutch"),
    Kind.MIXED_UP: Rate("a mixed-up animal", Fraction(1, 300), "animal"),
    Kind.PEDIGREE: Rate("wrong parents in its papers", Fraction(1, 100), "animal"),
    Kind.ONE_GENE: Rate("two lines that are one gene after all", Fraction(1, 10), "two lines"),
    Kind.TWO_GENES: Rate("lines of one gene that are two", Fraction(1, 10), "two lines"),
    Kind.CROSSOVER: Rate("a crossover that the register rules out", Fraction(1, 20), "locus"),
    Kind.MUTATION: Rate(
        "a new mutation",
        Fraction(1, 50_000),
        "gene and gamete",
        "Haldane 1935, Journal of Genetics 31: about 1 in 50 000 for a human gene; "
        "quoted from memory",
    ),
}
