"""What today's page prints."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import ClassVar

from django.utils import timezone

from keeper.domain.accounts import starting
from keeper.domain.backups import shelf
from keeper.domain.backups.shelf import Made
from keeper.domain.breeding.due import Due, due
from keeper.domain.collection.queries import Counts, Filters, collection, count_sexes
from keeper.domain.disputes import queries as disputed
from keeper.domain.husbandry.pointed_out import ADVICE, PointedOut, pointed_out
from keeper.domain.projects.plans import StepState, steps_ready
from keeper.domain.sheets.notices import Notice, open_notices
from keeper.domain.stock.queries import run_out
from keeper.domain.today import queries as reads
from keeper.domain.today.duties import chores, key, key_of_step, put_off
from keeper.models import Account, Arranged, Clutch, DaybookEntry, Dispute, Member, Sale
from keeper.pages.frame.notices import SurpriseRow, surprise_rows
from keeper.pages.today.due import Row, row_of

ENTRIES = 8
# A clutch overdue by so many days will not hatch any more: it is asked what became of it.
LONG_PAST = 30


@dataclass(frozen=True)
class Hatch:
    """A clutch that is going to hatch: in how many days, or how many days ago it should have."""

    clutch: Clutch
    on: date
    days: int

    @property
    def is_long_past(self) -> bool:
        """Whether nothing can come of it any more, so that something was not written down."""
        return self.days < -LONG_PAST

    @property
    def when(self) -> str:
        """The days in words."""
        if self.days == 0:
            return "today"
        if self.days == 1:
            return "tomorrow"
        if self.days == -1:
            return "yesterday"
        return f"in {self.days} days" if self.days > 0 else f"{-self.days} days ago"


@dataclass(frozen=True)
class First:
    """One of the first steps in a new book: done or not."""

    label: str
    help: str
    url: str
    done: bool


@dataclass(frozen=True)
class Copies:
    """The copies of the book: the last good one, and what is wrong."""

    last: Made | None
    overdue: bool
    troubles: tuple[str, ...]

    @property
    def wanting(self) -> bool:
        """Whether somebody has to look after them."""
        return self.overdue or bool(self.troubles)


@dataclass(frozen=True)
class Today:
    """The page: what needs somebody, what happened last, and the first steps of a new book."""

    disputes: list[Dispute]
    surprises: tuple[SurpriseRow, ...]
    hatches: list[Hatch]
    due: list[Due]
    unlogged: list[reads.Unlogged]
    reviews: list[Member]
    steps: list[StepState]
    # For whoever may see people.
    notices: list[Notice]
    holds: list[Sale]
    entries: Iterable[DaybookEntry]
    counts: Counts
    first: list[First]
    example: bool
    care: PointedOut
    chores: list[Row]
    # For the owner alone.
    copies: Copies | None = None

    # What is said of weights and meals that are pointed out.
    advice: ClassVar[str] = ADVICE

    @property
    def due_now(self) -> Clutch | None:
        """The clutch whose hatch is logged next: the one due, or the next to be."""
        return next((one.clutch for one in self.hatches if not one.is_long_past), None)

    @property
    def needs_nobody(self) -> bool:
        """Whether nothing waits."""
        waiting = self.disputes or self.surprises or self.hatches or self.due or self.chores
        uncopied = self.copies is not None and self.copies.wanting
        of_the_book = self.unlogged or self.reviews or self.steps
        of_people = self.notices or self.holds
        return not (waiting or uncopied or self.care or of_the_book or of_people)


def today(account: Account) -> Today:
    """Return today's page for somebody."""
    day = timezone.localdate()
    first = first_steps()
    waits = put_off(day)
    return Today(
        disputes=list(reads.open_disputes()),
        surprises=surprise_rows(disputed.surprises_waiting()),
        hatches=[one for one in _hatches(day) if key(Arranged.HATCH, one.clutch) not in waits],
        due=[one for one in due(day) if key_of_step(one) not in waits],
        unlogged=reads.clutches_unlogged(),
        reviews=[one for one in reads.reviews_due(day) if key(Arranged.REVIEW, one) not in waits],
        steps=steps_ready(day),
        notices=open_notices() if account.may_see_people else [],
        holds=list(run_out(day)) if account.may_see_people else [],
        entries=reads.last_entries(ENTRIES),
        counts=count_sexes(collection(Filters())),
        first=first,
        care=_care(day, waits),
        chores=[row_of(one, day) for one in chores(day) if not one.is_coming(day)],
        example=bool(first) and account.is_owner and starting.example_may_be_loaded(),
        copies=_copies() if account.is_owner else None,
    )


def _care(day: date, waits: frozenset[str]) -> PointedOut:
    """What is pointed out, without the quarantines whose end was put off."""
    out = pointed_out(day)
    open_ = (one for one in out.quarantines if key(Arranged.QUARANTINE, one.animal) not in waits)
    return replace(out, quarantines=tuple(open_))


def _copies() -> Copies:
    now = shelf.read()
    return Copies(now.last, now.is_overdue(), now.troubles)


def _hatches(day: date) -> list[Hatch]:
    """What is due soon or overdue, the next first; last what is long past."""
    found = [Hatch(one.clutch, one.on, (one.on - day).days) for one in reads.clutches_due(day)]
    return sorted(found, key=lambda one: one.is_long_past)


def first_steps() -> list[First]:
    """Return what to do first; empty once there are animals."""
    no_species, no_lines, no_animals = reads.is_empty()
    if not no_animals:
        return []
    return [
        First(
            "Set up a species",
            "How its sex is determined, how long its eggs take, what buyers must know.",
            "register-species-new",
            done=not no_species,
        ),
        First(
            "Set up the traits you breed for, each with its lines",
            "How a trait is inherited, and from where each line of it comes.",
            "register",
            done=not no_lines,
        ),
        First(
            "Add the founders, with what their sources say of them",
            "What hatches here comes in through its clutch.",
            "animals-new",
            done=False,
        ),
    ]
