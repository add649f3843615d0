"""Entering what labels are printed on, and printing them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.db.models import Max
from django.utils import timezone

from keeper.domain.book.writing import Refused, about, writing
from keeper.domain.clutches.queries import recorded_of
from keeper.domain.saying.counts import how_many
from keeper.models import (
    Account,
    Animal,
    Clutch,
    DaybookEntry,
    HatchRow,
    Label,
    LabelRun,
    LabelSheet,
    Place,
)
from keeper.models.care.labels import MOST_AT_ONCE


@dataclass(frozen=True)
class Wanted:
    """What gets a label, in the order in which they are printed.

    Attributes:
        tubs: rows of a hatch, and for how many of their hatchlings without a record.
    """

    animals: Sequence[Animal] = ()
    clutches: Sequence[Clutch] = ()
    places: Sequence[Place] = ()
    tubs: Sequence[tuple[HatchRow, int]] = ()

    @property
    def count(self) -> int:
        """How many labels that are."""
        listed = len(self.animals) + len(self.clutches) + len(self.places)
        return listed + sum(number for _, number in self.tubs)


def keep_sheet(*, sheet: LabelSheet, by: Account, reason: str = "") -> DaybookEntry:
    """Enter or change what labels are printed on.

    Raises:
        ValidationError: its measures leave no label that can be read, or its name is taken.
    """
    what = f"{'Changed' if sheet.pk else 'Added'} the label sheet {sheet}"
    with writing(by=by, what=what, reason=reason) as book:
        book.keep(sheet)
        about(book.entry, sheet)
    return book.entry


def withdraw_sheet(*, sheet: LabelSheet, by: Account, reason: str) -> DaybookEntry:
    """Offer a label sheet no more; what was printed on it stays readable."""
    what = f"Withdrew the label sheet {sheet}"
    with writing(by=by, what=what, reason=reason, subject=sheet) as book:
        book.withdraw(sheet, reason=reason)
    return book.entry


def print_labels(
    *, wanted: Wanted, sheet: LabelSheet, address: str, first: int = 1, by: Account
) -> tuple[LabelRun, DaybookEntry]:
    """Note which labels are printed now, on what, and for which address of the book.

    Raises:
        Refused: there is none to print, too many, or a hatchling got a record meanwhile.
    """
    what = f"Labels: {how_many(wanted.count, 'one', 'printed')} on {sheet}"
    if wanted.count == 1:
        what = f"A label printed on {sheet}"
    with writing(by=by, what=what) as book:
        if not wanted.count:
            raise Refused("Nothing is ticked. Choose what gets a label.")
        if wanted.count > MOST_AT_ONCE:
            raise Refused(
                f"{wanted.count} labels are more than are printed at once. "
                f"Choose {MOST_AT_ONCE} at most."
            )
        sheet = book.now(sheet)
        if sheet.is_withdrawn:
            raise Refused(f"{sheet} was withdrawn meanwhile. Choose another label sheet.")
        if first > sheet.a_page:
            raise Refused(
                f"{sheet} has {how_many(sheet.a_page, 'label')} a page. Begin at one of them."
            )
        run = book.keep(
            LabelRun(sheet=sheet, address=address, first=first, on=timezone.localdate())
        )
        book.keep_many([*_labels(run, wanted)])
    return run, book.entry


def _labels(run: LabelRun, wanted: Wanted) -> Iterator[Label]:
    number = 0
    named = [
        *(Label(animal=one) for one in wanted.animals),
        *(Label(clutch=one) for one in wanted.clutches),
        *(Label(place=one) for one in wanted.places),
    ]
    for number, label in enumerate(named, start=1):
        label.run, label.number = run, number
        yield label
    next_tub: dict[int, int] = {}
    for row, many in wanted.tubs:
        left = row.count - recorded_of(row)
        if many > left:
            raise Refused(
                f"Of “{row}” {how_many(left, 'hatchling has', 'hatchlings have')} no record; "
                f"{many} labels would be too many. Look at the clutch again."
            )
        for _ in range(many):
            tub = next_tub.get(row.clutch_id) or _next_tub(row.clutch_id)
            next_tub[row.clutch_id] = tub + 1
            number += 1
            yield Label(run=run, number=number, clutch=row.clutch, row=row, tub=tub)


def _next_tub(clutch: int) -> int:
    """The next number of a tub: none is given twice, not even where its label was taken back."""
    last = Label.objects.filter(clutch=clutch).aggregate(last=Max("tub"))["last"]
    return (last or 0) + 1
