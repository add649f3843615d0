"""Chores, and what is done with all that is due: closed, put off, given to somebody."""

from collections.abc import Callable, Iterable, Sequence
from datetime import date, timedelta

from django.utils import timezone

from keeper.domain.book.refusing import sentence
from keeper.domain.book.writing import Refused, Writing, writing
from keeper.domain.saying.counts import how_many
from keeper.domain.today.duties import CHORE, Duty, duties
from keeper.models import (
    Account,
    Animal,
    Arranged,
    Arrangement,
    BreedingEvent,
    Chore,
    Clutch,
    DaybookEntry,
    Quarantine,
    SeenKind,
)

_GONE = (
    "Of what was marked, {number} is not due any more: somebody did it meanwhile, or it was put "
    "right. Look at the list again, and mark what is left."
)
_NEEDS_MORE = (
    "{what} is not said by a button alone: open it there and note it, and leave it out here."
)
# So many are named in an entry of the daybook.
_NAMED = 3


def add_chore(*, chore: Chore, by: Account) -> DaybookEntry:
    """Write down what is to be done by a day.

    Raises:
        ValidationError: it is not in order.
    """
    with writing(by=by, what=f"To be done: {chore}") as book:
        book.keep(chore)
    return book.entry


def change_chore(*, chore: Chore, by: Account) -> DaybookEntry:
    """Change what is to be done, by when, by whom.

    Raises:
        ValidationError: it is not in order.
        Refused: it was done meanwhile.
    """
    with writing(by=by, what=f"Changed what is to be done: {chore}") as book:
        _refuse_done(book, chore)
        book.keep(chore)
    return book.entry


def withdraw_chore(*, chore: Chore, reason: str, by: Account) -> DaybookEntry:
    """Take a chore away that need not be done.

    Raises:
        Refused: it was done or taken away meanwhile.
    """
    with writing(by=by, what=f"Need not be done: {chore}", reason=reason) as book:
        _refuse_done(book, chore)
        book.withdraw(chore, reason=reason)
    return book.entry


def close(*, keys: Sequence[str], by: Account) -> DaybookEntry:
    """Note of some duties that they were done today, in one entry.

    Raises:
        Refused: one is not due any more, or is closed by its own form alone.
    """
    return _for_all("Done", keys, by, _close)


def put_off(*, keys: Sequence[str], until: date, by: Account) -> DaybookEntry:
    """Put some duties off until a day, in one entry.

    Raises:
        Refused: the day is not to come, or one is not due any more.
    """
    if until <= timezone.localdate():
        raise Refused("That is not put off. Choose a day after today.")

    def arrange(book: Writing, duty: Duty, today: date) -> None:
        _arrange(book, duty, until=until)

    return _for_all(f"Put off until {until:%-d %B}", keys, by, arrange)


def bring_back(*, keys: Sequence[str], by: Account) -> DaybookEntry:
    """Let what was put off be due again, in one entry.

    Raises:
        Refused: one is not there any more.
    """

    def arrange(book: Writing, duty: Duty, today: date) -> None:
        _arrange(book, duty, until=None)

    return _for_all("No longer put off", keys, by, arrange)


def give(*, keys: Sequence[str], to: Account | None, by: Account) -> DaybookEntry:
    """Say who does some duties; nobody: whoever is there.

    Raises:
        Refused: one is not due any more, or that person may not write in the book.
    """

    def arrange(book: Writing, duty: Duty, today: date) -> None:
        # Read after the lock: whoever was switched off or made a viewer meanwhile does nothing.
        fresh = None if to is None else Account.objects.get(pk=to.pk)
        if fresh is not None and not (fresh.is_active and fresh.may_write):
            raise Refused(f"{fresh} may not write in this book. Choose somebody who may.")
        _arrange(book, duty, person=fresh)

    return _for_all(f"Given to {to}" if to else "Given to whoever is there", keys, by, arrange)


def _for_all(
    words: str, keys: Sequence[str], by: Account, do: Callable[[Writing, Duty, date], None]
) -> DaybookEntry:
    today = timezone.localdate()
    wanted = set(keys)
    named = _said(one for one in duties(today) if one.key in wanted)
    with writing(by=by, what=f"{words}: {named}") as book:
        if not wanted:
            raise Refused("Nothing is marked. Choose what it is about, one or several.")
        # Read again after the lock: of two who close the same, one is too late.
        there = [one for one in duties(today) if one.key in wanted]
        if len(there) < len(wanted):
            raise Refused(_GONE.format(number=len(wanted) - len(there)))
        for one in there:
            do(book, one, today)
    return book.entry


def _said(found: Iterable[Duty]) -> str:
    """Name some duties, the first of them in words."""
    words = [f"{one.what} of {one.about}" if one.about else one.what for one in found]
    more = f" and {how_many(len(words) - _NAMED, 'more', 'more')}" if len(words) > _NAMED else ""
    return f"{', '.join(words[:_NAMED])}{more}"


def _close(book: Writing, duty: Duty, today: date) -> None:
    subject = duty.subject
    if isinstance(subject, Chore):
        _close_chore(book, subject, today)
    elif duty.kind == Arranged.SHED and isinstance(subject, Animal):
        book.keep(BreedingEvent(dam=subject, kind=SeenKind.SHED, on=today))
    elif duty.kind == Arranged.QUARANTINE:
        for one in Quarantine.objects.live().filter(animal=subject.pk, ended_on=None):
            one.ended_on = max(today, one.on)
            book.keep(one)
    else:
        raise Refused(sentence(_NEEDS_MORE.format(what=f"{duty.what} of {duty.about}")))


def _close_chore(book: Writing, chore: Chore, today: date) -> None:
    chore.done_on = today
    book.keep(chore)
    if chore.every:
        again = {name: getattr(chore, name) for name in ("what", "every", "animal", "place")}
        on = today + timedelta(days=chore.every)
        book.keep(Chore(on=on, person=chore.person, **again))


def _arrange(book: Writing, duty: Duty, **said: date | Account | None) -> None:
    """Write what is said of a duty: into the chore itself, else into its arrangement."""
    subject = duty.subject
    if isinstance(subject, Chore):
        row: Chore | Arrangement = subject
        said = {"on" if name == "until" else name: one for name, one in said.items()}
        if said.get("on", subject.on) is None:
            return  # a chore that was put off is due on that day
    else:
        is_of = (
            "animal" if isinstance(subject, Animal)
            else "clutch" if isinstance(subject, Clutch)
            else "member"
        )  # fmt: skip
        of = {is_of: subject}
        row = Arrangement.objects.live().filter(kind=duty.kind, **of).first() or Arrangement(
            kind=duty.kind, **of
        )
    for name, one in said.items():
        setattr(row, name, one)
    book.keep(row)


def _refuse_done(book: Writing, chore: Chore) -> None:
    if book.now(chore).done_on is not None:
        raise Refused("It was done meanwhile. If it was not, undo that in the daybook first.")


__all__ = [
    "CHORE", "add_chore", "bring_back", "change_chore", "close", "give", "put_off",
    "withdraw_chore",
]  # fmt: skip
