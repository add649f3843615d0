"""Clutches that hatch as a keeper logs it, of parents that are certain or only possible."""

from collections.abc import Mapping
from datetime import date

from keeper import models as m
from keeper.domain.clutches.hatching import Counted, Hatch, log_hatch
from tests.keeper.books import Book

DAY = date(2026, 6, 1)


def hatched(
    book: Book,
    code: str,
    pair: tuple[m.Animal, m.Animal],
    counts: Mapping[frozenset[int], int],
    *,
    traits: frozenset[int] | None = None,
    sex: m.Sex = m.Sex.UNKNOWN,
) -> m.Clutch:
    """A clutch whose hatch is logged: so many of each set of traits seen, the others not seen."""
    clutch = book.clutch(code, *pair)
    every = traits or frozenset({book.trait.pk})
    rows = [Counted(seen, every - seen, sex, count) for seen, count in counts.items()]
    # Eggs nobody counted: published crosses have more than any clutch.
    hatch = Hatch(on=DAY, eggs=None, slugs=0, lost=0, rows=rows, still_open=True)
    log_hatch(clutch=clutch, hatch=hatch, by=book.by)
    return clutch


def sure_pair(book: Book, number: str = "") -> tuple[m.Animal, m.Animal]:
    """Two who carry the book's trait for certain."""
    return (
        book.founder(f"F{number}", "female", "carries"),
        book.founder(f"M{number}", "male", "carries"),
    )
