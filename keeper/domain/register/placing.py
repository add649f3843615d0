"""Where lines sit: one gene, two genes, or nobody is sure."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import chain, combinations, product
from string import ascii_uppercase
from unicodedata import normalize

from django.core.exceptions import ValidationError
from django.db.models import Q, QuerySet

from keeper.domain.book.aside import remember
from keeper.domain.book.writing import Refused, Writing, about, writing
from keeper.domain.register.shares import share_of_another
from keeper.models import (
    Account,
    Chromosome,
    Condition,
    DaybookEntry,
    Interval,
    Line,
    Locus,
    OpenPair,
    Survival,
    Trait,
)


@dataclass(frozen=True)
class Place:
    """Where a line sits.

    Attributes:
        locus: the locus of other lines, one gene with them; None: a locus of its own.
        chromosome, recombination: of a locus of its own.
        open_with: other lines → how likely the two are one gene after all; only for a locus of
            its own. Toward every line that is not named here, it is another gene.
    """

    locus: Locus | None = None
    chromosome: str = Chromosome.AUTOSOME
    recombination: Fraction = Fraction(0)
    open_with: Mapping[Line, Fraction] = field(default_factory=dict)


def add_line(*, line: Line, place: Place, by: Account) -> DaybookEntry:
    """Add a line to its trait.

    Raises:
        ValidationError: the line is not in order.
        Refused: it cannot sit there.
    """
    with writing(by=by, what=f"Added the line {line}") as book:
        if line.share == Line._meta.get_field("share").default:
            line.share = share_of_another(line.trait)
        settle(book, line=line, place=place)
        about(book.entry, line)
    return book.entry


def change_line(*, line: Line, by: Account, reason: str = "") -> DaybookEntry:
    """Change a line's code, name, origin, background or notes.

    Raises:
        ValidationError: the line is not in order, or its code is taken.
    """
    what = f"Changed the line {line}"
    with writing(by=by, what=what, reason=reason, subject=line) as book:
        _refuse_taken_code(line, line.locus)
        _refuse_crowded_background(line, line.locus)
        book.keep(line)
    return book.entry


def place_line(*, line: Line, place: Place, by: Account, reason: str = "") -> DaybookEntry:
    """Decide where a line sits, or leave it open again.

    Raises:
        ValidationError: the code is taken there.
        Refused: other records rest on where it sits now, or it cannot sit there.
    """
    what = f"Decided where {line} sits"
    with writing(by=by, what=what, reason=reason, subject=line) as book:
        settle(book, line=line, place=place)
    return book.entry


def decide_pair(*, pair: OpenPair, one_gene: bool, by: Account, reason: str = "") -> DaybookEntry:
    """Close an open pair: the later line moves to the earlier one's locus, or it stays apart.

    Raises:
        Refused: one of them is in another open pair as well.
    """
    answer = "one gene" if one_gene else "two genes"
    what = f"Decided: {pair.one} and {pair.other} are {answer}"
    with writing(by=by, what=what, reason=reason, subject=pair.other) as book:
        if book.now(pair).is_withdrawn:
            raise Refused(f"{pair} are no open pair any more. Look at their page again.")
        if one_gene:
            settle(book, line=pair.other, place=Place(locus=pair.one.locus))
        else:
            book.withdraw(pair, reason="decided: two genes")
    return book.entry


def weigh_pair(*, pair: OpenPair, by: Account, reason: str = "") -> DaybookEntry:
    """Change how likely one gene is held before any cross, or the notes of an open pair."""
    what = f"Weighed anew whether {pair} are one gene"
    with writing(by=by, what=what, reason=reason, subject=pair.other) as book:
        book.keep(pair)
    return book.entry


def open_pairs_of(lines: Iterable[Line]) -> QuerySet[OpenPair]:
    """Return the open pairs that one of these lines is in."""
    those = list(lines)
    return OpenPair.objects.live().filter(Q(one__in=those) | Q(other__in=those))


def linked(locus: Locus) -> Interval | None:
    """Return an interval that the locus is an end of, if there is one."""
    return Interval.objects.live().filter(Q(left=locus) | Q(right=locus)).first()


def settle(book: Writing, *, line: Line, place: Place) -> None:
    """Put a line, new or not, where it shall sit; what that leaves empty or decides is withdrawn.

    Pairs are closed before the line moves and opened after it, so that taking the entry back
    step by step meets only states that were in order.
    """
    remember(line)  # whatever is made of it here, it may be tried on only
    refuse_beside_nameless(line)
    if not line.code:
        line.code = spare_code(line, place.locus)
    before = line.locus if line.locus_id else None
    moves = before is None or (
        before != place.locus if place.locus else _lines_at(before).exclude(pk=line.pk).exists()
    )
    _refuse_taken_code(line, place.locus or (None if moves else before))
    if place.locus is not None:
        _refuse_crowded_background(line, place.locus)
    if moves and before is not None:
        _refuse_leaving(line, before)
    if place.locus is not None:
        refuse_joining(line, place.locus)
    if line.pk:
        for pair in open_pairs_of([line]):
            if not {pair.one, pair.other} & place.open_with.keys():
                book.withdraw(pair, reason="decided")
    if place.locus is not None:
        line.locus = place.locus
    elif moves:
        line.locus = book.keep(_own_locus(line, place))
    elif before is not None:
        _change_own(book, before, place)
    book.keep(line)
    if moves and before is not None and not _lines_at(before).exists():
        book.withdraw(before, reason=f"{line} moved away")
    for other, prior in place.open_with.items():
        _open(book, line, other, prior)


def refuse_beside_nameless(line: Line) -> None:
    """Refuse a line of a trait whose only line nobody has named.

    Raises:
        ValidationError: that one has to be named first.
    """
    if line.others().filter(name="").exists():
        raise ValidationError(
            {"name": f"The line that {line.trait} has is not named. Name that one first."}
        )


def spare_code(line: Line, locus: Locus | None) -> str:
    """Return a code for a line that was given none: letters of its name, or of its trait's.

    No other line of its trait or at its locus has it.
    """
    at = Q(trait=line.trait if line.trait_id else None)
    if locus is not None:
        at |= Q(locus=locus)
    used = set(Line.objects.live().filter(at).exclude(pk=line.pk).values_list("code", flat=True))
    plain = normalize("NFKD", line.name or line.trait.name).upper()
    letters = [one for one in plain if one in ascii_uppercase] or ["X"]
    own = ("".join(three) for three in combinations(letters, 3))
    every = ("".join(three) for three in product(ascii_uppercase, repeat=3))
    return next(code for code in chain(own, every) if code not in used)


def _lines_at(locus: Locus) -> QuerySet[Line]:
    return Line.objects.live().filter(locus=locus)


def _own_locus(line: Line, place: Place) -> Locus:
    species = line.trait.species
    name = stem = f"{line.trait.name[:50]} {line.code}"
    if not line.name:
        name = stem = f"{line.trait.name[:50]} locus"
    number = 1
    while Locus.objects.live().filter(species=species, name__iexact=name).exists():
        number += 1
        name = f"{stem} ({number})"
    locus = Locus(species=species, name=name, chromosome=place.chromosome)
    locus.recombination = place.recombination
    return locus


def _change_own(book: Writing, locus: Locus, place: Place) -> None:
    """Let a locus that the line has for itself sit as `place` says."""
    locus.chromosome, locus.recombination = place.chromosome, place.recombination
    refuse_chromosome(locus)
    book.keep(locus)


def refuse_chromosome(locus: Locus) -> None:
    """Refuse to put a locus on a sex chromosome that is linked to others."""
    if locus.chromosome != Chromosome.AUTOSOME and (interval := linked(locus)) is not None:
        raise Refused(f"{locus} is linked ({interval}). Take that link away first.")


def _refuse_taken_code(line: Line, locus: Locus | None) -> None:
    same = Line.objects.live().filter(code=line.code).exclude(pk=line.pk)
    if line.trait_id and same.filter(trait=line.trait).exists():
        raise ValidationError(
            {"code": f"{line.trait} has a line {line.code} already. Choose another code."}
        )
    if locus is not None and (other := same.filter(locus=locus).first()) is not None:
        raise ValidationError(
            {"code": f"{other} has this code at the same locus already. Choose another."}
        )


def _refuse_crowded_background(line: Line, locus: Locus) -> None:
    others = _lines_at(locus).exclude(pk=line.pk)
    total = sum((Fraction(str(one.background)) for one in (*others, line)), Fraction(0))
    if total > 1:
        raise ValidationError(
            {"background": f"With the other lines at {locus} that is more than 100 %. Lower it."}
        )


def _refuse_leaving(line: Line, locus: Locus) -> None:
    if Survival.objects.live().filter(Q(one=line) | Q(other=line)).exists():
        raise Refused(f"Survival is recorded for {line} at {locus}. Withdraw that first.")
    those = Condition.objects.live().filter(lines=line)
    for condition in those.prefetch_related("lines").select_related("showing__trait"):
        if len(condition.lines.all()) > 1:
            trait: Trait = condition.showing.trait
            raise Refused(f"A combination of {trait} takes {line} for one gene. Change it first.")
    alone = not _lines_at(locus).exclude(pk=line.pk).exists()
    if alone and (interval := linked(locus)) is not None:
        raise Refused(f"{locus} is linked ({interval}). Take that link away first.")


def refuse_joining(line: Line, locus: Locus) -> None:
    """Refuse one gene with lines that are in doubt toward a third: that cannot be weighed."""
    there = {*_lines_at(locus), *([line] if line.pk else [])}
    for pair in open_pairs_of(there).select_related("one__trait", "other__trait"):
        if not {pair.one, pair.other} <= there:
            raise Refused(
                f"{pair} are an open pair. Decide that first; until then give this one a high "
                "chance instead of certainty."
            )


def _open(book: Writing, line: Line, other: Line, prior: Fraction) -> None:
    for one in (line, other):
        if (interval := linked(one.locus)) is not None:
            raise Refused(f"{one} is linked ({interval}); decide such a pair.")
    first, second = sorted((line, other), key=lambda one: one.pk)
    found = OpenPair.objects.live().filter(one=first, other=second).first()
    pair: OpenPair = found or OpenPair(one=first, other=second)
    pair.prior = prior
    book.keep(pair)
