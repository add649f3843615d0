"""Loci: their names and chromosomes, survival of genotypes, and neighbours on a map."""

from django.core.exceptions import ValidationError
from django.db.models import Q

from keeper.domain.placing import open_pairs_of, refuse_chromosome
from keeper.domain.writing import Refused, writing
from keeper.models import Account, Chromosome, DaybookEntry, Interval, Line, Locus, Survival


def keep_locus(*, locus: Locus, by: Account, reason: str = "") -> DaybookEntry:
    """Change a locus.

    Raises:
        ValidationError: its name is taken, or its species has no such chromosome.
        Refused: it is linked to others, or in doubt, and shall leave its ordinary chromosome.
    """
    refuse_chromosome(locus)
    if locus.chromosome != Chromosome.AUTOSOME:
        _refuse_doubt(locus, "put it on a sex chromosome")
    what = f"Changed the locus {locus}"
    with writing(by=by, what=what, reason=reason, subject=locus) as book:
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
    same = Survival.objects.live().filter(
        locus=survival.locus, one=survival.one, other=survival.other
    )
    if same.exclude(pk=survival.pk).exists():
        raise ValidationError(f"The survival of {survival} is recorded already: change that one.")
    _refuse_doubt(survival.locus, "record survival")
    verb = "Changed" if survival.pk else "Recorded"
    what = f"{verb} the survival of {survival}"
    with writing(by=by, what=what, reason=reason, subject=survival.locus) as book:
        book.keep(survival)
    return book.entry


def keep_interval(*, interval: Interval, by: Account, reason: str = "") -> DaybookEntry:
    """Link two neighbouring loci, or change how often they come apart.

    Raises:
        ValidationError: they cannot be neighbours.
        Refused: one has that neighbour on this side already, or is in doubt.
    """
    for locus in (interval.left, interval.right):
        _refuse_doubt(locus, "link it")
    _refuse_crowd(interval)
    row = interval if interval.pk else _row_of_the_pair(interval)
    verb = "Changed how far" if interval.pk else "Linked"
    what = f"{verb} {interval.left} and {interval.right}" + (" are apart" if interval.pk else "")
    with writing(by=by, what=what, reason=reason, subject=interval.left) as book:
        book.keep(row)
    return book.entry


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
            raise Refused(f"{locus} has this neighbour already: {other}.")
    right_of = {one.left_id: one.right_id for one in live}
    at: int | None = interval.right_id
    while at is not None:
        if at == interval.left_id:
            raise Refused("These loci are in one row already: a chromosome has two ends.")
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
