"""Notices: what the book says of a sold animal since its sheet was issued, and who has to be told.

Nothing is noted by a page. What moved is read from `StandingChange`: for each gene what was said
when the sheet was issued, or when its holder was told last, against what is said after the last
entry. What was moved there and back, or undone, raises no notice.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from django.contrib.contenttypes.models import ContentType
from django.core.cache import cache
from django.db.models import QuerySet

from keeper.domain.book.daybook import moment
from keeper.domain.saying import wording
from keeper.models import Sheet, StandingChange, Told, Touch, Word

# A chance that moved by less is no news to a buyer: common practice, no source.
STEP = 0.1
_SURE = {Word.VISUAL, Word.PROVEN}


class Kind(StrEnum):
    """How what is said of a gene differs."""

    PROVEN = "proven"
    RULED_OUT = "ruled out"
    LOWER = "lower"
    HIGHER = "higher"
    LINE = "line corrected"
    DISPUTED = "disputed"
    SETTLED = "no longer disputed"


@dataclass(frozen=True)
class Difference:
    """One gene, or one line of it, of which the book says something else.

    Attributes:
        trait: the gene's name.
        name: the same, with the line's code where it is about a line.
        kind: how it differs.
        then, now: what the book said, and what it says; not for paper, where a stated word stands
            without the figure that its source's trust is a part of.
        at: when it moved last.
    """

    trait: str
    name: str
    kind: Kind
    then: str
    now: str
    at: datetime


@dataclass(frozen=True)
class Notice:
    """A sheet whose holder is to be told, with what, and the last entry that this rests on."""

    sheet: Sheet
    differences: tuple[Difference, ...]
    upto: int

    @property
    def since(self) -> datetime:
        """When the first of it moved."""
        return min(one.at for one in self.differences)

    @property
    def kinds(self) -> str:
        """Genes and how they differ, in one line."""
        return "; ".join(f"{one.name}: {one.kind}" for one in self.differences)


def open_notices() -> list[Notice]:
    """Return the sheets whose holders are still to be told, the oldest first.

    The sheets are found once for each state of the book; what they say is read anew, since names
    in it are told to some readers only.
    """
    key = f"notices:{moment()}"
    kept: list[int] | None = cache.get(key)
    if kept is None:
        kept = [one.sheet.pk for one in _notices(_live(), since_told=True)]
        cache.set(key, kept)
    if not kept:
        return []
    return sorted(_notices(_live().filter(pk__in=kept), since_told=True), key=lambda one: one.since)


def notice_of(sheet: Sheet) -> Notice | None:
    """Return what the holder of a sheet is still to be told; None: nothing."""
    return next(iter(_notices(_live().filter(pk=sheet.pk), since_told=True)), None)


def since_issued(sheets: Collection[Sheet]) -> dict[int, datetime]:
    """Return when the book began to say otherwise than a sheet, by its id: told or not."""
    rows = Sheet.objects.filter(pk__in=[one.pk for one in sheets])
    return {one.sheet.pk: one.since for one in _notices(rows, since_told=False)}


def told_of(sheet: Sheet) -> QuerySet[Told]:
    """Return when and how the holder of a sheet was told, the last first."""
    found: QuerySet[Told] = Told.objects.live().filter(sheet=sheet).order_by("-on", "-pk")
    return found


def _live() -> QuerySet[Sheet]:
    rows: QuerySet[Sheet] = Sheet.objects.live().filter(animal__withdrawn_at=None)
    return rows.select_related("animal", "buyer", "by", "key")


def _notices(sheets: QuerySet[Sheet], *, since_told: bool) -> list[Notice]:
    rows = list(sheets)
    bases = _issued_by(rows)
    if since_told:
        for sheet, upto in (
            Told.objects.live().filter(sheet__in=rows).values_list("sheet_id", "upto_id")
        ):
            bases[sheet] = max(bases.get(sheet, 0), upto)
    changes = _changes(rows, min(bases.values(), default=0))
    found = []
    for sheet in rows:
        later = [one for one in changes.get(sheet.animal_id, ()) if one.entry_id > bases[sheet.pk]]
        differences = differences_of(later)
        if differences:
            found.append(Notice(sheet, differences, max(one.entry_id for one in later)))
    return found


def _issued_by(sheets: Iterable[Sheet]) -> dict[int, int]:
    """The entry that issued each sheet, by the sheet's id; of one without an entry 0."""
    ids = [one.pk for one in sheets]
    kind = ContentType.objects.get_for_model(Sheet)
    made = Touch.objects.filter(record_type=kind, record_id__in=ids, created=True)
    found = dict(made.values_list("record_id", "entry_id"))
    return {pk: found.get(pk, 0) for pk in ids}


def _changes(sheets: Iterable[Sheet], after: int) -> dict[int, list[StandingChange]]:
    """What moved of the animals of some sheets, in order, by animal."""
    rows = StandingChange.objects.filter(
        animal__in={one.animal_id for one in sheets}, entry_id__gt=after
    )
    found: dict[int, list[StandingChange]] = {}
    for one in rows.select_related("trait", "line", "entry").order_by("entry_id", "pk"):
        found.setdefault(one.animal_id, []).append(one)
    return found


# --- what differs --------------------------------------------------------------------------------


def differences_of(changes: Iterable[StandingChange]) -> tuple[Difference, ...]:
    """Return what a row of changes of one animal, oldest first, comes to that a buyer must know."""
    net: dict[int, dict[int | None, StandingChange]] = {}
    for one in changes:
        of_trait = net.setdefault(one.trait_id, {})
        of_trait[one.line_id] = _joined(of_trait.get(one.line_id), one)
    found = []
    for by_line in net.values():
        over_all = by_line.pop(None, None)
        kind = _kind(over_all) if over_all is not None else None
        if over_all is not None and kind is not None:
            found.append(_difference(over_all, kind))
        else:
            # The gene is as likely as before, and another line of it.
            moved = [one for one in by_line.values() if _kind(one) is not None]
            found += [_difference(one, Kind.LINE) for one in moved]
    return tuple(found)


def _joined(first: StandingChange | None, last: StandingChange) -> StandingChange:
    """One change in place of two that follow each other."""
    if first is None:
        return last
    return StandingChange(
        entry=last.entry, animal_id=last.animal_id, trait=last.trait, line=last.line,
        word_before=first.word_before, two_before=first.two_before, none_before=first.none_before,
        disputed_before=first.disputed_before, word=last.word, two=last.two, none=last.none,
        disputed=last.disputed,
    )  # fmt: skip


def _difference(one: StandingChange, kind: Kind) -> Difference:
    name = f"{one.trait.name} {one.line.code}" if one.line else one.trait.name
    return Difference(
        one.trait.name, name, kind, wording.before(one), wording.after(one), one.entry.at
    )


def _kind(one: StandingChange) -> Kind | None:
    """How a change matters to a buyer; None: it does not."""
    if one.disputed != one.disputed_before:
        return Kind.DISPUTED if one.disputed else Kind.SETTLED
    if one.disputed:
        return None
    none = 1.0 if one.none_before is None else one.none_before
    if one.none == 1 or none == 1:
        return None if one.none == none else _to_or_from_nothing(one)
    if one.word == Word.PROVEN and one.word_before not in _SURE:
        return Kind.PROVEN
    if (one.none == 0) != (none == 0):
        return Kind.PROVEN if one.none == 0 else Kind.LOWER
    carried, twice = none - one.none, one.two - (one.two_before or 0)
    moved = max(carried, twice, key=abs)
    if round(abs(moved), 9) < STEP:
        return None
    return Kind.HIGHER if moved > 0 else Kind.LOWER


def _to_or_from_nothing(one: StandingChange) -> Kind | None:
    """It cannot carry the gene now, or could not before, or nothing had been said of it."""
    if one.none == 1:
        return Kind.RULED_OUT
    if one.none == 0:
        return Kind.PROVEN
    return Kind.HIGHER if 1 - one.none >= STEP else None
