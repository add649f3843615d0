"""Two lines of one look, one gene or two: what is said of it, and a decision opened again."""

from collections.abc import Mapping
from fractions import Fraction

from keeper.domain.book.writing import Refused, writing
from keeper.domain.lines.queries import in_order
from keeper.domain.lines.reports import recount
from keeper.domain.register.placing import Place, open_pairs_of, settle
from keeper.models import Account, DaybookEntry, Line, OpenPair, PairWord


def keep_word(*, word: PairWord, by: Account, reason: str = "") -> DaybookEntry:
    """Save what a source says of two lines, new or changed in memory.

    Raises:
        ValidationError: the lines are of different looks, or something is not in order.
        Refused: one of the lines is withdrawn.
    """
    word.one, word.other = in_order(word.one, word.other)
    what = f"{'Changed' if word.pk else 'Noted'}: {word}"
    with writing(by=by, what=what, reason=reason, subject=word.other) as book:
        book.keep(word)
    return book.entry


def withdraw_word(*, word: PairWord, by: Account, reason: str) -> DaybookEntry:
    """Take a word on two lines out; it stays readable and can be restored.

    Raises:
        Refused: it is a report, and one that shares crosses with it cannot be weighed anew.
    """
    what = f"Withdrew: {word}"
    with writing(by=by, what=what, reason=reason, subject=word.other) as book:
        book.withdraw(word, reason=reason)
        recount(book, word)
    return book.entry


def restore_word(*, word: PairWord, by: Account) -> DaybookEntry:
    """Let a withdrawn word count again.

    Raises:
        Refused: one of the lines is withdrawn.
    """
    with writing(by=by, what=f"Restored: {word}", subject=word.other) as book:
        book.restore(word)
        recount(book, word)
    return book.entry


def reopen_pair(
    *, one: Line, other: Line, prior: Fraction, by: Account, reason: str = ""
) -> DaybookEntry:
    """Leave it open again whether two lines are one gene, though that was decided.

    Lines that share a locus part: the later gets one of its own. What else either is in doubt
    about stays so.

    Raises:
        ValidationError: they cannot be left open: sex-linked, or sharing a locus with others.
        Refused: they are open already, or linked, or records rest on where they sit.
    """
    first, second = in_order(one, other)
    what = f"Opened again whether {first} and {second} are one gene"
    with writing(by=by, what=what, reason=reason, subject=second) as book:
        if OpenPair.objects.live().filter(one=first, other=second).exists():
            raise Refused(f"{first} and {second} are open already. Decide them on their page.")
        second = Line.objects.select_related("trait__species", "locus").get(pk=second.pk)
        settle(book, line=second, place=_apart(second, first, prior))
    return book.entry


def _apart(line: Line, other: Line, prior: Fraction) -> Place:
    """A locus of its own for a line, in doubt toward another and whatever it was before."""
    doubts: Mapping[Line, Fraction] = {
        (pair.other if pair.one_id == line.pk else pair.one): Fraction(pair.prior)
        for pair in open_pairs_of([line]).select_related("one__locus", "other__locus")
    }
    return Place(
        chromosome=line.locus.chromosome,
        recombination=Fraction(line.locus.recombination),
        open_with={**doubts, other: prior},
    )
