"""The daybook read: who did what, and what each entry moved."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Count, Exists, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone

from keeper.domain.book.letters import has_letters
from keeper.domain.book.undoing import can_undo
from keeper.domain.saying import wording
from keeper.models import DaybookEntry, Dispute, ShowsChange, StandingChange, Touch

ACCOUNTS = "accounts"
# What an entry may be about: in addresses → in words, and the kinds of record.
KINDS: dict[str, tuple[str, tuple[str, ...]]] = {
    "animals": ("animals", ("Animal", "Photo", "Arising")),
    "looks": ("looks", ("Look", "Observation")),
    "words": ("what sources say, and papers", ("Statement", "Paper", "SignedPaper", "PairWord")),
    "clutches": ("clutches", ("Clutch", "CandidateSire", "HatchRow", "RowSighting", "Foretold")),
    "ways": ("ways of clutches", ("BreedingEvent", "Incubation", "ClutchStep")),
    "care": (
        "husbandry, places and what is due",
        (
            *("Meal", "Weight", "Shed", "Cleaning", "HealthNote", "Treatment", "Quarantine"),
            *("Place", "Chore", "Arrangement"),
        ),
    ),
    "labels": ("labels", ("LabelSheet", "LabelRun", "Label")),
    "tests": ("laboratories’ results", ("LabTest", "Laboratory")),
    "register": (
        "the register",
        (
            *("Species", "Trait", "Line", "Locus", "OpenPair", "Interval", "Survival", "Showing"),
            *("Condition", "NamedLook", "LookPart", "BaseRate"),
        ),
    ),
    "projects": (
        "projects and plans",
        ("Project", "Member", "GoalPart", "GoalLook", "Plan", "PlanStep", "PlannedPairing"),
    ),
    "people": ("contacts and prospects", ("Contact", "Prospect", "ProspectWord")),
    "sheets": ("sheets", ("Sheet", "Told")),
    "stock": ("what is for sale, and sales", ("Offer", "Sale")),
    ACCOUNTS: ("accounts", ()),
}

# So many changes of one entry are read; a recompute of the whole book may have more.
_MOST = 1000
# So many changes of what animals show are told of one entry.
_MOST_LOOKS = 40


def listed() -> QuerySet[DaybookEntry]:
    """Return all entries, newest first, each with how many animals it moved as `moved`."""
    moved = (
        StandingChange.objects.filter(entry=OuterRef("pk"))
        .order_by()
        .values("entry")
        .annotate(animals=Count("animal", distinct=True))
        .values("animals")
    )
    entries = DaybookEntry.objects.select_related("by", "subject_type", "undone_by__undone_by")
    return entries.annotate(moved=Coalesce(Subquery(moved), 0)).order_by("-pk")


def written_by(entries: QuerySet[DaybookEntry], account: int) -> QuerySet[DaybookEntry]:
    """Keep the entries of one person."""
    return entries.filter(by=account)


def written_between(
    entries: QuerySet[DaybookEntry], first: date | None, last: date | None
) -> QuerySet[DaybookEntry]:
    """Keep the entries from the first day to the last, either open; by an index on the time."""
    if first is not None:
        entries = entries.filter(at__gte=_midnight(first))
    if last is not None and last < date.max:
        entries = entries.filter(at__lt=_midnight(last + timedelta(days=1)))
    return entries


def _midnight(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time.min))


def saying(entries: QuerySet[DaybookEntry], words: str) -> QuerySet[DaybookEntry]:
    """Keep the entries with these words in what was done, or why."""
    return entries.filter(
        has_letters("what", words) | has_letters("reason", words, often_empty=True)
    )


def about_kind(entries: QuerySet[DaybookEntry], kind: str) -> QuerySet[DaybookEntry]:
    """Keep the entries that wrote records of a kind (`KINDS`); of no kind are those of accounts."""
    touched = Touch.objects.filter(entry=OuterRef("pk"))
    if kind == ACCOUNTS:
        # What a recompute moved is no record's either; accounts move nothing.
        changed = StandingChange.objects.filter(entry=OuterRef("pk"))
        return entries.filter(~Exists(touched), ~Exists(changed))
    models = [name.lower() for name in KINDS[kind][1]]
    return entries.filter(
        Exists(touched.filter(record_type__app_label="keeper", record_type__model__in=models))
    )


def that_moved(entries: QuerySet[DaybookEntry]) -> QuerySet[DaybookEntry]:
    """Keep the entries that moved figures."""
    return entries.filter(Exists(StandingChange.objects.filter(entry=OuterRef("pk"))))


def taken_back(entries: QuerySet[DaybookEntry]) -> QuerySet[DaybookEntry]:
    """Keep the entries that were taken back, and not brought back by taking that back."""
    return entries.filter(undone_by__isnull=False, undone_by__undone_by=None)


@dataclass(frozen=True)
class Move:
    """How one entry moved one trait, or one line of it, on one animal.

    Attributes:
        change: the row: its animal, trait, and from what to what.
        weight: how much it matters, for the order: a new word before a new figure.
    """

    change: StandingChange
    weight: tuple[bool, float]


@dataclass(frozen=True)
class Moved:
    """What one entry moved.

    Attributes:
        entry: the entry.
        first: the moves to show at once.
        rest: the others.
        untold: changes of a whole book's recompute that no page would list.
        may_undo: whether nothing has been built on it.
        opened: the disputes that began with it and are open.
        looks: what animals show by combinations, and how that moved, the certain first.
        looks_untold: how many more of these there are.
    """

    entry: DaybookEntry
    first: tuple[Move, ...]
    rest: tuple[Move, ...]
    untold: int
    may_undo: bool
    opened: tuple[Dispute, ...] = ()
    looks: tuple[ShowsChange, ...] = ()
    looks_untold: int = 0

    @property
    def count(self) -> int:
        """How many numbers moved."""
        return len(self.first) + len(self.rest) + self.untold


def moved_by(entry: DaybookEntry, *, shown: int = 8) -> Moved:
    """Return what an entry moved, the weightiest first."""
    changes = StandingChange.objects.filter(entry=entry).select_related("animal", "trait", "line")
    read = list(changes[:_MOST])
    untold = changes.count() - _MOST if len(read) == _MOST else 0
    moves = sorted(_moves(read), key=lambda move: move.weight, reverse=True)
    opened = tuple(Dispute.objects.filter(opened=entry, closed=None).order_by("pk"))
    first, rest = tuple(moves[:shown]), tuple(moves[shown:])
    looks, looks_untold = _looks_moved(entry)
    return Moved(entry, first, rest, untold, can_undo(entry), opened, looks, looks_untold)


def _looks_moved(entry: DaybookEntry) -> tuple[tuple[ShowsChange, ...], int]:
    """How an entry moved what animals show, and how many such changes are left out."""
    changes = ShowsChange.objects.filter(entry=entry)
    read = list(changes.select_related("animal", "trait", "look")[:_MOST])
    read.sort(key=lambda one: (one.chance == 1, abs(one.chance - one.chance_before)), reverse=True)
    left = changes.count() - _MOST_LOOKS if len(read) > _MOST_LOOKS else 0
    return tuple(read[:_MOST_LOOKS]), left


def _moves(changes: Iterable[StandingChange]) -> list[Move]:
    """One move a trait, and one a line that moved otherwise than its trait as a whole."""
    grouped: dict[tuple[int, int], list[StandingChange]] = {}
    for change in changes:
        grouped.setdefault((change.animal_id, change.trait_id), []).append(change)
    return [Move(one, _weight(one)) for rows in grouped.values() for one in _told_apart(rows)]


def _told_apart(rows: list[StandingChange]) -> list[StandingChange]:
    """Leave out what repeats: of one line and its trait, the line is the better name."""
    whole = [row for row in rows if row.line_id is None]
    lines = [row for row in rows if row.line_id is not None]
    same = [row for row in lines if whole and _words(row) == _words(whole[0])]
    if len(lines) == len(same) == 1:
        return lines
    return whole + lines


def _words(change: StandingChange) -> tuple[str, str]:
    return wording.before(change), wording.after(change)


def _weight(change: StandingChange) -> tuple[bool, float]:
    none_before = 1.0 if change.none_before is None else change.none_before
    words = (change.word_before, change.disputed_before)
    return words != (change.word, change.disputed), abs(none_before - change.none)


def moment(before: DaybookEntry | None = None) -> str:
    """Name the state of the book, for what is worked out from it and kept: its last entry.

    Everything written belongs to an entry. By its time too: the ids of a book put back from a copy
    begin again. `before` an entry: the state that it was written on.
    """
    entries = DaybookEntry.objects.order_by("-pk")
    last = entries.exclude(pk=before.pk).first() if before is not None else entries.first()
    return f"{last.pk}:{last.at.timestamp()}" if last is not None else ""
