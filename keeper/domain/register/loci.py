"""Loci: their names and chromosomes, survival of genotypes, and neighbours on a map."""

from dataclasses import dataclass
from fractions import Fraction

from django.core.exceptions import ValidationError
from django.db.models import Q

from keeper.domain.book.writing import Refused, Writing, writing
from keeper.domain.register.placing import open_pairs_of, refuse_chromosome
from keeper.models import Account, Chromosome, DaybookEntry, Interval, Line, Locus, Survival


@dataclass(frozen=True)
class Beside:
    """A locus that another is linked to, and how often the two come apart, by parent."""

    locus: Locus
    female: Fraction
    male: Fraction


def keep_locus(*, locus: Locus, by: Account, reason: str = "") -> DaybookEntry:
    """Change a locus.

    Raises:
        ValidationError: its name is taken, or its species has no such chromosome.
        Refused: it is linked to others, or in doubt, and shall leave its ordinary chromosome.
    """
    what = f"Changed the locus {locus}"
    with writing(by=by, what=what, reason=reason, subject=locus) as book:
        refuse_chromosome(locus)
        if locus.chromosome != Chromosome.AUTOSOME:
            _refuse_doubt(locus, "put it on a sex chromosome")
        book.keep(locus)
    return book.entry


def keep_survival(*, survival: Survival, by: Account, reason: str = "") -> DaybookEntry:
    """Record how many eggs of a genotype come to hatch, or change it.

    Raises:
        ValidationError: the genotype is recorded already, or is not of this locus.
        Refused: nobody is sure which lines are one gene with those of the locus.
    """
    if survival.other is not None and survival.other.pk < survival.one.pk:
        survival.one, survival.other = survival.other, survival.one
    verb = "Changed" if survival.pk else "Recorded"
    what = f"{verb} the survival of {survival}"
    with writing(by=by, what=what, reason=reason, subject=survival.locus) as book:
        _refuse_twice(survival)
        _refuse_doubt(survival.locus, "record survival")
        book.keep(survival)
    return book.entry


def _refuse_twice(survival: Survival) -> None:
    same = Survival.objects.live().filter(
        locus=survival.locus, one=survival.one, other=survival.other
    )
    if same.exclude(pk=survival.pk).exists():
        raise ValidationError(f"The survival of {survival} is recorded already: change that one.")


def keep_interval(*, interval: Interval, by: Account, reason: str = "") -> DaybookEntry:
    """Link two neighbouring loci, or change how often they come apart.

    Raises:
        ValidationError: they cannot be neighbours.
        Refused: one has that neighbour on this side already, or is in doubt.
    """
    verb = "Changed how far" if interval.pk else "Linked"
    what = f"{verb} {interval.left} and {interval.right}" + (" are apart" if interval.pk else "")
    with writing(by=by, what=what, reason=reason, subject=interval.left) as book:
        settle_interval(book, interval)
    return book.entry


def settle_interval(book: Writing, interval: Interval) -> None:
    """Link two neighbouring loci, or change how often they come apart, within an entry."""
    for locus in (interval.left, interval.right):
        _refuse_doubt(locus, "link it")
    _refuse_crowd(interval)
    book.keep(interval if interval.pk else _row_of_the_pair(interval))


def settle_beside(book: Writing, locus: Locus, beside: Beside) -> None:
    """Link a locus that has no neighbour yet to one that may have one, on its free side.

    Raises:
        Refused: there are neighbours on both sides, or one of the two is in doubt.
    """
    live, other = Interval.objects.live(), beside.locus
    if not live.filter(left=other).exists():
        left, right = other, locus
    elif not live.filter(right=other).exists():
        left, right = locus, other
    else:
        raise Refused(
            f"{other} has neighbours on both sides already. Name the one at the end of the row."
        )
    rates = {"female": beside.female, "male": beside.male}
    settle_interval(book, Interval(left=left, right=right, **rates))


def _refuse_doubt(locus: Locus, deed: str) -> None:
    pair = open_pairs_of(Line.objects.live().filter(locus=locus)).first()
    if pair is not None:
        raise Refused(f"{pair} are an open pair. Decide it before you {deed}.")


def _refuse_crowd(interval: Interval) -> None:
    """Refuse a second neighbour on one side, and a map that ends where it began."""
    live = Interval.objects.live().exclude(pk=interval.pk).select_related("left", "right")
    for side in ("left", "right"):
        locus = getattr(interval, side)
        if (other := live.filter(**{side: locus}).first()) is not None:
            raise Refused(f"{locus} has this neighbour already: {other}. Change that link instead.")
    right_of = {one.left_id: one.right_id for one in live}
    at: int | None = interval.right_id
    while at is not None:
        if at == interval.left_id:
            raise Refused(
                "These loci are in one row already: a chromosome has two ends. "
                "Take a link away first."
            )
        at = right_of.get(at)


def _row_of_the_pair(interval: Interval) -> Interval:
    """Return the row to write: one that was withdrawn at either end is used again.

    A locus is an end of at most one row on each side, withdrawn rows counted.
    """
    rows = Interval.objects.withdrawn().filter(Q(left=interval.left) | Q(right=interval.right))
    old: Interval | None = rows.first()
    if old is None:
        return interval
    old.left, old.right = interval.left, interval.right
    old.female, old.male = interval.female, interval.male
    old.withdrawn_at, old.withdrawn_reason = None, ""
    return old
