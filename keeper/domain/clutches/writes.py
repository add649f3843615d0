"""Clutches as they are laid, corrected, withdrawn and restored."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.core.exceptions import ValidationError

from keeper.domain.book.writing import Refused, Writing, about, writing
from keeper.domain.breeding.losses import refuse_fewer_lost
from keeper.domain.clutches.odd import odd_clutch
from keeper.models import Account, Animal, CandidateSire, Clutch, DaybookEntry

NOBODY = "Name the dam or a sire. Of a female that came gravid the dam is known, the sire not."


@dataclass(frozen=True)
class Candidate:
    """A male that may have sired a clutch, and his share.

    Without one: a male not recorded, or none at all where the dam was `alone`.
    """

    sire: Animal | None
    share: Fraction = Fraction(1)
    alone: bool = False

    @property
    def key(self) -> int | str | None:
        """What tells the candidates of a clutch apart."""
        return "alone" if self.alone else self.sire.pk if self.sire else None

    def __str__(self) -> str:
        if self.alone:
            return "no male"
        return str(self.sire or "a male not recorded")


def lay_clutch(*, clutch: Clutch, candidates: Sequence[Candidate], by: Account) -> DaybookEntry:
    """Enter a new clutch.

    Raises:
        ValidationError: the clutch or a candidate is not in order.
        Questioned: something about it looks odd.
    """
    with writing(by=by, what=f"Clutch {clutch} of {_couple(clutch, candidates)}") as book:
        _refuse_nobody(clutch, candidates)
        book.keep(clutch)
        _keep_candidates(book, clutch, candidates)
        about(book.entry, clutch)
        book.ask(odd_clutch(clutch, [one.sire for one in candidates]))
    return book.entry


def change_clutch(
    *, clutch: Clutch, candidates: Sequence[Candidate], by: Account, reason: str = ""
) -> DaybookEntry:
    """Correct a clutch: its parents, a count, a day. The standings follow.

    Raises:
        ValidationError: the clutch or a candidate is not in order.
        Questioned: something about it looks odd.
    """
    what = f"Changed clutch {clutch}"
    with writing(by=by, what=what, reason=reason, subject=clutch) as book:
        book.refuse_overtaken(clutch)
        before = book.now(clutch)
        if not _has_nobody(before):
            _refuse_nobody(clutch, candidates)
        book.keep(clutch)
        refuse_fewer_lost(clutch)
        _keep_candidates(book, clutch, candidates)
        book.ask(odd_clutch(clutch, [one.sire for one in candidates], before.code))
    return book.entry


def withdraw_clutch(*, clutch: Clutch, reason: str, by: Account) -> DaybookEntry:
    """Take a clutch, and what was counted of it, out of the book's account.

    Raises:
        Refused: hatchlings with a record of their own come from it.
    """
    what = f"Withdrew clutch {clutch}"
    with writing(by=by, what=what, reason=reason, subject=clutch) as book:
        young = Animal.objects.live().filter(clutch=clutch).values_list("code", flat=True)[:4]
        if young:
            raise Refused(
                f"{', '.join(young[:3])}{' and others' if len(young) > 3 else ''} hatched from "
                f"{clutch}. Withdraw them or correct their parents first."
            )
        book.withdraw(clutch, reason=reason)
    return book.entry


def restore_clutch(*, clutch: Clutch, by: Account) -> DaybookEntry:
    """Let a withdrawn clutch count again.

    Raises:
        ValidationError: its code is in use by now.
    """
    with writing(by=by, what=f"Restored clutch {clutch}", subject=clutch) as book:
        book.restore(clutch)
    return book.entry


def _refuse_nobody(clutch: Clutch, candidates: Sequence[Candidate]) -> None:
    """Refuse a clutch of which no parent is named: it would tell nothing of anybody.

    Raises:
        ValidationError: nobody is named.
    """
    if clutch.dam is None and not any(one.sire for one in candidates):
        raise ValidationError({"dam": NOBODY})


def _has_nobody(clutch: Clutch) -> bool:
    """Whether a clutch in the book names no parent, as some did that were entered long ago."""
    males = CandidateSire.objects.live().filter(clutch=clutch).exclude(sire=None)
    return clutch.dam_id is None and not males.exists()


def _couple(clutch: Clutch, candidates: Sequence[Candidate]) -> str:
    males = " or ".join(map(str, candidates))
    return f"{clutch.dam or 'a female not recorded'} × {males or 'a male not recorded'}"


def _keep_candidates(book: Writing, clutch: Clutch, candidates: Sequence[Candidate]) -> None:
    """Make the clutch's candidates these; those that stay keep their rows and so their history."""
    wanted = {one.key: one for one in candidates}
    for row in CandidateSire.objects.live().filter(clutch=clutch):
        here = wanted.pop("alone" if row.alone else row.sire_id, None)
        if here is None:
            book.withdraw(row, reason=book.entry.reason or "not a candidate")
        else:
            row.share = here.share
            book.keep(row)
    for one in wanted.values():
        row = CandidateSire(clutch=clutch, sire=one.sire, alone=one.alone)
        row.share = one.share
        book.keep(row)
