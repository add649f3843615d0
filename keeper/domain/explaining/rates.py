"""How often each kind of thing goes wrong, before anything is known of the case.

All are common practice, no source, except where one is named; they stand on the page beside each
explanation. A keeper who knows better says so (`BaseRate`), with the ground; then that counts.
"""

from dataclasses import dataclass
from fractions import Fraction

from keeper.domain.inference import MISREAD
from keeper.models import BaseRate
from keeper.models import Mishap as Kind

NO_SOURCE = "common practice, no source"


@dataclass(frozen=True)
class Rate:
    """A base rate in plain words, and how it is known.

    Attributes:
        own: whether it is the keeper's own, not the common figure.
    """

    name: str
    chance: Fraction
    per: str
    ground: str = NO_SOURCE
    own: bool = False


def _rate(kind: Kind, chance: Fraction, per: str, ground: str = NO_SOURCE) -> Rate:
    return Rate(str(kind.label), chance, per, ground)


COMMON = {
    Kind.LOOK: _rate(Kind.LOOK, MISREAD, "hatchling and trait"),
    Kind.RESULT: _rate(Kind.RESULT, Fraction(1, 1000), "result"),
    Kind.WORD: _rate(Kind.WORD, Fraction(1, 50), "statement"),
    # As often as the look's alleles are taken to be about: two draws at 1 in 100.
    Kind.UNDECLARED: _rate(Kind.UNDECLARED, Fraction(1, 50), "founder"),
    Kind.STORED: _rate(Kind.STORED, Fraction(1, 50), "clutch and mate"),
    Kind.OTHER_SIRE: _rate(Kind.OTHER_SIRE, Fraction(1, 100), "clutch"),
    Kind.SECOND_SIRE: _rate(Kind.SECOND_SIRE, Fraction(1, 200), "clutch"),
    # Of a dam that was with a male, or may have kept sperm of one: without either it is surer.
    Kind.ALONE: _rate(Kind.ALONE, Fraction(1, 200), "clutch of a species of which it is known"),
    Kind.WRONG_DAM: _rate(Kind.WRONG_DAM, Fraction(1, 1000), "clutch"),
    Kind.MIXED_UP: _rate(Kind.MIXED_UP, Fraction(1, 300), "animal"),
    Kind.PEDIGREE: _rate(Kind.PEDIGREE, Fraction(1, 100), "animal"),
    Kind.ONE_GENE: _rate(Kind.ONE_GENE, Fraction(1, 10), "two lines"),
    Kind.TWO_GENES: _rate(Kind.TWO_GENES, Fraction(1, 10), "two lines"),
    Kind.CROSSOVER: _rate(Kind.CROSSOVER, Fraction(1, 20), "locus"),
    Kind.MUTATION: _rate(
        Kind.MUTATION,
        Fraction(1, 50_000),
        "gene and gamete",
        "Haldane 1935, Journal of Genetics 31: about 1 in 50 000 for a human gene; "
        "quoted from memory",
    ),
    Kind.BEGINNING: _rate(Kind.BEGINNING, Fraction(1, 50), "beginning that is recorded"),
}

Rates = dict[Kind, Rate]


def rates() -> Rates:
    """Return each rate as it counts: the keeper's own, else the common figure."""
    own = {Kind(one.mishap): one for one in BaseRate.objects.live()}
    return {
        kind: Rate(rate.name, own[kind].chance, rate.per, own[kind].ground, own=True)
        if kind in own
        else rate
        for kind, rate in COMMON.items()
    }


__all__ = ["COMMON", "NO_SOURCE", "Kind", "Rate", "Rates", "rates"]
