"""Hatch day: what hatched, how it looked, and which hatchlings get a record of their own."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import cast

from django.core.exceptions import ValidationError
from django.db.models import Count

from keeper.domain.animals.looks import Looked, rows_of_look
from keeper.domain.animals.odd import odd_animal
from keeper.domain.book.writing import Refused, Writing, about, writing
from keeper.domain.breeding.losses import refuse_fewer_lost
from keeper.domain.clutches.foretelling import keep_foretold
from keeper.domain.clutches.odd import odd_incubation
from keeper.domain.clutches.queries import free_codes, recorded_of, used_codes
from keeper.domain.saying.counts import how_many
from keeper.models import (
    Account,
    Animal,
    Clutch,
    DaybookEntry,
    HatchRow,
    Record,
    RowSighting,
    Sex,
    Trait,
)


@dataclass(frozen=True)
class Counted:
    """All hatchlings of one look and sex, those logged before included.

    Attributes:
        seen: ids of the traits that were seen on them.
        unseen: ids of the traits that were looked for and not seen; others could not be told.
        unsure: ids of the traits that could not be told though the look was whole.
        whole: whether nothing else of the register was there; `unseen` need not be named then.
        sex: theirs.
        count: how many.
        row: the row they are in already, if any.
        record: how many more of them get a record of their own.
        first_code: where their codes begin; empty: the clutch's own series.
    """

    seen: frozenset[int]
    unseen: frozenset[int]
    sex: Sex
    count: int
    row: HatchRow | None = None
    record: int = 0
    first_code: str = ""
    unsure: frozenset[int] = frozenset()
    whole: bool = False

    @property
    def named(self) -> dict[int, bool | None]:
        """What has to be noted of each trait, by its id: seen, not seen, not to be told (None)."""
        others = dict.fromkeys(self.unsure) if self.whole else dict.fromkeys(self.unseen, False)
        return {**others, **dict.fromkeys(self.seen, True)}


@dataclass(frozen=True)
class Hatch:
    """What is known of a clutch's eggs.

    Attributes:
        on: the day.
        eggs: all that were laid, or None where nobody counted.
        slugs, lost: those that will not hatch.
        rows: every row of the clutch; a row left out stays as it is.
        still_open: whether eggs may still hatch.
    """

    on: date
    eggs: int | None
    slugs: int
    lost: int
    rows: Sequence[Counted] = field(default_factory=tuple)
    still_open: bool = False

    @property
    def hatched(self) -> int:
        """How many hatched."""
        return sum(row.count for row in self.rows)


def does_not_add_up(hatch: Hatch) -> str | None:
    """Return how eggs, slugs, losses and hatchlings do not come to the same, or None."""
    if hatch.eggs is None:
        return None
    sum_ = hatch.slugs + hatch.lost + hatch.hatched
    if sum_ == hatch.eggs or (hatch.still_open and sum_ < hatch.eggs):
        return None
    eggs = how_many(hatch.eggs, "egg")
    slugs = how_many(hatch.slugs, "slug")
    said = f"{eggs}, but {slugs} + {hatch.lost} lost + {hatch.hatched} hatched are {sum_}."
    if sum_ > hatch.eggs:
        return said
    left = hatch.eggs - sum_
    return f"{said} Say what became of the other {left}, or that more may still hatch."


def log_hatch(*, clutch: Clutch, hatch: Hatch, by: Account, reason: str = "") -> DaybookEntry:
    """Keep what hatched: counts by look and sex, and records for those that get one.

    Raises:
        Refused: the figures do not add up, a count falls below the hatchlings with a record, or
            a code is taken.
        ValidationError: a record is not in order.
        Questioned: it took longer or shorter than it does.
    """
    if (fault := does_not_add_up(hatch)) is not None:
        raise Refused(fault)
    slugs = how_many(hatch.slugs, "slug")
    what = f"Hatch of {clutch}: {sexes(hatch.rows)} hatched, {slugs}, {hatch.lost} lost"
    with writing(by=by, what=what, reason=reason, subject=clutch) as book:
        book.refuse_overtaken(clutch)
        keep_foretold(book, clutch)
        codes = hatchling_codes(clutch, hatch.rows)
        _keep_clutch(book, clutch, hatch)
        traits = Trait.objects.in_bulk({one for row in hatch.rows for one in row.named})
        own = _recorded(hatch.rows)
        new: list[Record] = []
        for counted, given in zip(hatch.rows, codes, strict=True):
            row = _row(book, clutch, counted, own)
            told = [
                RowSighting(row=row, trait=traits[pk], seen=s) for pk, s in counted.named.items()
            ]
            if counted.row is None:
                new += [row, *told]
            for code in given:
                animal = Animal(code=code, sex=counted.sex, hatched_on=hatch.on)
                new += _hatchling(book, row, animal, told)
        book.keep_many(new)
        book.ask(odd_incubation(clutch))
    return book.entry


def record_hatchling(*, row: HatchRow, animal: Animal, by: Account) -> DaybookEntry:
    """Give one hatchling of a tally the record `animal`, which names its code and its sex.

    It is counted already, so its look moves nobody's numbers; only its sex, if just told, may.

    Raises:
        Refused: all hatchlings of the row have a record.
        ValidationError: the animal is not in order.
    """
    with writing(by=by, what=f"{animal} of clutch {row.clutch} has a record") as book:
        row = HatchRow.objects.select_related("clutch__species").get(pk=row.pk)
        if row.is_withdrawn or recorded_of(row) >= row.count:
            raise Refused(
                "Every hatchling of this row has a record already. "
                "If there are more, count them first."
            )
        if row.sex != Sex.UNKNOWN and animal.sex != row.sex:
            raise Refused(
                f"The hatchlings of this row were counted as {row.get_sex_display()}. "
                "Correct the count first."
            )
        told = RowSighting.objects.live().filter(row=row).select_related("trait")
        book.keep_many(_hatchling(book, row, animal, told))
        book.ask(odd_animal(animal))
        about(book.entry, row.clutch)
    return book.entry


def sexes(rows: Iterable[Counted]) -> str:
    """Return counts the trade's way: males.females.unknown."""
    by_sex = dict.fromkeys((Sex.MALE, Sex.FEMALE, Sex.UNKNOWN), 0)
    for row in rows:
        by_sex[row.sex] += row.count
    return ".".join(str(number) for number in by_sex.values())


# --- codes -------------------------------------------------------------------------------------


def hatchling_codes(clutch: Clutch, rows: Sequence[Counted]) -> list[list[str]]:
    """Return the codes that the rows' hatchlings with a record get, row by row.

    Raises:
        Refused: a first code has no number at its end, or a code is taken.
    """
    typed = [series(row.first_code, row.record) if row.first_code else [] for row in rows]
    flat = [code for codes in typed for code in codes]
    low = [code.lower() for code in flat]
    taken = used_codes(flat)
    for place, code in enumerate(flat):
        if low[place] in taken or low[place] in low[:place]:
            raise Refused(f"The code {code} is in use already. Begin the series elsewhere.")
    missing = sum(row.record for row in rows if not row.first_code)
    free = iter(free_codes(clutch, missing, flat) if missing else ())
    return [
        codes if row.first_code else [next(free) for _ in range(row.record)]
        for row, codes in zip(rows, typed, strict=True)
    ]


def series(first: str, number: int) -> list[str]:
    """Return so many codes in order from a first one: 26-07-09, 26-07-10, …

    Raises:
        Refused: the code has no number at its end.
    """
    found = re.fullmatch(r"(.*?)(\d{1,9})", first)
    if found is None:
        raise Refused(
            f"“{first}” has no number at its end to count on from. Write one like 26-07-01."
        )
    stem, serial = found[1], found[2]
    return [f"{stem}{int(serial) + step:0{len(serial)}}" for step in range(number)]


# --- keeping -----------------------------------------------------------------------------------


def _keep_clutch(book: Writing, clutch: Clutch, hatch: Hatch) -> None:
    accounted = hatch.slugs + hatch.lost + hatch.hatched
    clutch.eggs = accounted if hatch.eggs is None and not hatch.still_open else hatch.eggs
    clutch.slugs, clutch.lost = hatch.slugs, hatch.lost
    if hatch.hatched or not hatch.still_open:
        clutch.hatched_on = min(hatch.on, clutch.hatched_on or hatch.on)
    book.keep(clutch)
    refuse_fewer_lost(clutch)


def _recorded(rows: Iterable[Counted]) -> dict[int, int]:
    """How many hatchlings of each row that is in the book have a record, by its id."""
    there = [counted.row.pk for counted in rows if counted.row is not None]
    young = Animal.objects.live().filter(hatch_row__in=there).order_by()
    return dict(young.values_list("hatch_row").annotate(Count("pk")))


def _row(book: Writing, clutch: Clutch, counted: Counted, recorded: Mapping[int, int]) -> HatchRow:
    """The row of some hatchlings: a new one, yet to be kept, or one that is counted anew."""
    row = counted.row
    own = 0 if row is None else recorded.get(row.pk, 0)
    if counted.count < own + counted.record:
        raise Refused(
            f"{own + counted.record} hatchlings with a record are more than the "
            f"{counted.count} counted. Count them too, or withdraw a record first."
        )
    if row is None:
        return HatchRow(clutch=clutch, sex=counted.sex, count=counted.count, whole=counted.whole)
    if counted.count == 0:
        book.withdraw(row, reason="counted anew: none")
    else:
        row.count, row.whole = counted.count, counted.whole
        book.keep(row)
    return row


def _hatchling(
    book: Writing, row: HatchRow, animal: Animal, told: Iterable[RowSighting]
) -> list[Record]:
    """The animal and the look at it, which is that at its row; all of them new."""
    animal.species = row.clutch.species
    animal.clutch, animal.hatch_row = row.clutch, row
    if animal.hatched_on is None:
        raise ValidationError({"hatched_on": "Say when it hatched."})
    seen, unseen, unsure = (
        [one.trait for one in told if one.seen is is_] for is_ in (True, False, None)
    )
    looked = Looked(animal.hatched_on, seen, unseen, unsure, whole=row.whole)
    return [animal, *rows_of_look(animal, looked, cast("Account", book.by))]
