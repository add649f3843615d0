"""What animals like this one brought before: by the book's own sales alone.

Two animals are alike as far as the genes that could be claimed of them are the same, each in the
same sense: the share of those that both have among all that either has (Jaccard 1901, quoted from
memory). It is no estimate of a price.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from keeper.domain.sheets.claims import genes_claimed
from keeper.domain.sheets.queries import evidence
from keeper.models import Animal, Sale, Standing, Word

# At least so alike are those that are shown, and so many of them.
LEAST = 0.5
_MOST = 8
# How many of the newest sales are compared.
_COMPARED = 2000

VISUAL, CARRIER, POSSIBLE = "visual", "carrier", "possible"
# A source's bare word: of two copies, or of one.
STATED_TWO, STATED = "stated, two copies", "stated"
_KINDS = {
    Word.VISUAL: VISUAL,
    Word.PROVEN: CARRIER,
    Word.PARENTAGE: CARRIER,
    Word.DEDUCED: CARRIER,
    Word.TESTED: CARRIER,
}
Gene = tuple[str, str]


@dataclass(frozen=True)
class Alike:
    """A sale of an animal like another.

    Attributes:
        sale: the sale, with its animal.
        same, of: so many of the genes of either are the same.
    """

    sale: Sale
    same: int
    of: int


@dataclass(frozen=True)
class Before:
    """What animals like one brought: the sales, the most alike and newest first, and out of how
    many sales with a price they are."""

    sales: tuple[Alike, ...]
    compared: int


def genes_of(animal: Animal) -> list[Gene]:
    """Return what could be claimed of an animal now, as pairs of a trait's name and its kind."""
    claimed = genes_claimed(evidence(animal))
    return sorted(
        (one.trait.name, _kind(one.over_all)) for one in claimed if one.over_all.word != Word.CLEAN
    )


def _kind(standing: Standing) -> str:
    if standing.word == Word.STATED:
        return STATED_TWO if standing.two > standing.one else STATED
    return _KINDS.get(Word(standing.word), POSSIBLE)


def brought_before(animal: Animal) -> Before:
    """Return the sales of animals like this one that stayed sales."""
    sold = Sale.objects.live().filter(ended_on=None, animal__species=animal.species_id)
    sold = sold.exclude(sold_on=None).exclude(price=None).exclude(animal=animal)
    rows = list(sold.select_related("animal").order_by("-sold_on", "-pk")[:_COMPARED])
    own = set(genes_of(animal)) if rows else set()
    found = [Alike(row, *_alike(own, _pairs(row.genes))) for row in rows]
    close = [one for one in found if one.same >= LEAST * max(one.of, 1)]
    close.sort(key=lambda one: -(one.same / one.of if one.of else 1))
    return Before(tuple(close[:_MOST]), len(rows))


def _pairs(genes: Iterable[Iterable[str]]) -> set[Gene]:
    return {(name, kind) for name, kind in map(tuple, genes)}


def _alike(one: set[Gene], other: set[Gene]) -> tuple[int, int]:
    return len(one & other), len(one | other)
