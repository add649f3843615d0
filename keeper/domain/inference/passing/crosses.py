"""What the crosses of a book say of two lines, told to other books and read from them.

A report holds the part of the book in which the two lines are weighed, as one case in which they
are held for one gene with chance 1/2, so that the answer is what was bred and seen alone: nobody's
view of them and no source's word is in it. The crosses that speak are listed with their counts.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

import genetics
from keeper.domain.inference.passing.arriving import Unusable, is_too_large
from keeper.domain.inference.passing.labels import Labels
from keeper.domain.inference.questions.asking import Unanswerable
from keeper.domain.inference.questions.compatibility import (
    BookCross,
    Whole,
    chance_of_one,
    is_one,
    pair_evidence,
    whole,
)
from keeper.models import Line

_HALF = Fraction(1, 2)


@dataclass(frozen=True)
class CrossesTold:
    """What the crosses of a report say of its two lines.

    Attributes:
        for_one: the chance of one gene where both were equally likely before.
        left_out: labels of clutches that do not count here.
    """

    for_one: float
    left_out: tuple[str, ...]


def report(one: Line, other: Line) -> "genetics.JsonObject":
    """Return what this book's crosses say of two lines, for other books.

    Raises:
        Unanswerable: the pair is not open, nothing was bred of both, or it is too large.
    """
    book = whole(one.trait)
    names = {book.locus_of(one.pk), book.locus_of(other.pk)}
    entry = next(
        (
            one
            for one in (book.book.population.same_locus if book.book else ())
            if set(one.loci) == names
        ),
        None,
    )
    if book.book is None or entry is None:
        raise Unanswerable(
            "A report tells of lines of which this book is not sure, and of crosses between them. "
            "Open the pair, or breed the two lines together first."
        )
    crosses = pair_evidence(one, other, book=book).crosses
    if not crosses:
        raise Unanswerable(
            f"No clutch of this book had both lines in its parents. Breed {one} to {other} first."
        )
    if is_too_large(book.book.population):
        raise Unanswerable("More animals bear on these lines than a report can hold.")
    population = _even(book.book.population, names)
    return _written(book, population, one, other, {cross.clutch: cross for cross in crosses})


def _even(population: "genetics.Population", names: set[str]) -> "genetics.Population":
    """The same where the two lines are one gene with chance 1/2 before any cross."""
    pairs = tuple(
        replace(entry, prior=_HALF) if set(entry.loci) == names else entry
        for entry in population.same_locus
    )
    return replace(population, same_locus=pairs)


def _written(
    book: Whole,
    population: "genetics.Population",
    one: Line,
    other: Line,
    crosses: Mapping[int, BookCross],
) -> "genetics.JsonObject":
    labels = Labels()
    labels.open(book.of.rows)
    assert book.book is not None  # the report is of crosses
    neutral = labels.neutral(
        genetics.write_case(genetics.Case(population=population)), book.book.clutch_ids
    )
    solved = genetics.solve(population, exact_only=True)
    return {
        "engine": genetics.VERSION,
        "lines": [
            {
                "locus": book.locus_of(line.pk),
                "allele": line.code,
                "trait": line.trait.name,
                "name": line.name,
            }
            for line in (one, other)
        ],
        "crosses": [
            {
                "clutch": labels.clutches[pk],
                "showed": cross.showed,
                "looked": cross.looked,
            }
            for pk, cross in crosses.items()
            if pk in labels.clutches
        ],
        "identities": labels.identities(),
        "case": neutral.case,
        "for_one": chance_of_one(book, solved, one.pk, other.pk),
    }


def read_report(told: "genetics.JsonObject", *, counted: Collection[str]) -> CrossesTold:
    """Work out what a report says of its two lines, without clutches that count already.

    `counted` are the identities of these: the book's own, and those of other reports.

    Raises:
        Unusable: the case cannot be read, is too large, or is not about the two lines.
    """
    try:
        population = genetics.read_case(told["case"]).population
    except genetics.MalformedCase as fault:
        raise Unusable(f"its case cannot be read: {fault}") from fault
    if is_too_large(population):
        raise Unusable("its case is larger than any that this program writes")
    names = {one["locus"] for one in told["lines"]}
    if not any(
        set(entry.loci) == names and entry.prior == _HALF for entry in population.same_locus
    ):
        raise Unusable("its case does not leave open whether the two lines are one gene")
    identities = told["identities"]
    gone = {one.id for one in population.clutches if identities.get(one.id) in counted}
    left = _unseen(population, gone)
    try:
        solved = genetics.solve(left, exact_only=True)
    except genetics.BeyondExact as beyond:
        raise Unusable("its case is more than can be worked out exactly") from beyond
    except genetics.ImpossibleEvidence as fault:
        raise Unusable("what it says cannot all be true") from fault
    worlds = zip(solved.worlds, solved.chance, strict=True)
    for_one = float(sum(chance for world, chance in worlds if is_one(world.classes, names)))
    listed = {one["clutch"] for one in told["crosses"]}
    return CrossesTold(for_one, tuple(sorted(gone & listed)))


def _unseen(population: "genetics.Population", gone: set[str]) -> "genetics.Population":
    """The same without what was seen on the young of some clutches."""
    animals = tuple(
        one._replace(shows={}, likelihood={}) if one.clutch in gone else one
        for one in population.animals
    )
    clutches = tuple(
        one._replace(tally=()) if one.id in gone else one for one in population.clutches
    )
    return replace(population, animals=animals, clutches=clutches)
