"""Looks at an animal: logged whole or in part, and corrected."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from keeper.domain.book.writing import Writing, writing
from keeper.models import (
    Account,
    Animal,
    DaybookEntry,
    Look,
    Observation,
    Record,
    Seen,
    Trait,
)

# What was withdrawn with a whole look was so in the same entry.
_TOGETHER = timedelta(seconds=5)


@dataclass(frozen=True)
class Looked:
    """What somebody saw on a day.

    Attributes:
        on: the day.
        seen, unseen, unsure: traits that were there, that were looked for and not there, and that
            could not be told.
        whole: whether every other trait of the register was looked for and not there.
        note: anything else, in words.
    """

    on: date
    seen: Collection[Trait] = ()
    unseen: Collection[Trait] = ()
    unsure: Collection[Trait] = ()
    whole: bool = False
    note: str = ""

    def named(self) -> Iterator[tuple[Trait, Seen]]:
        """Each trait that has to be named, and what was seen of it."""
        yield from ((trait, Seen.YES) for trait in self.seen)
        if not self.whole:
            yield from ((trait, Seen.NO) for trait in self.unseen)
        yield from ((trait, Seen.UNSURE) for trait in self.unsure)

    def said_of(self, animal: Animal) -> str:
        """The look in words."""
        unsure = [f"{trait} cannot be told" for trait in self.unsure]
        if self.whole:
            seen = " + ".join(str(trait) for trait in self.seen) or "normal"
            return f"Whole look at {animal}: {', '.join([seen, *unsure])}"
        told = [f"{trait} {seen.label}" for trait, seen in self.named()]
        return f"{', '.join(told)} on {animal}"


def rows_of_look(animal: Animal, looked: Looked, by: Account) -> list[Record]:
    """Return the records of a look at an animal, in an order in which they can be kept."""
    whole = Look(animal=animal, on=looked.on, by=by, note=looked.note) if looked.whole else None
    note = "" if whole else looked.note
    named = [
        Observation(
            animal=animal, look=whole, trait=trait, seen=seen, on=looked.on, by=by, note=note
        )
        for trait, seen in looked.named()
    ]
    return [whole, *named] if whole else [*named]


def log_look(*, animal: Animal, looked: Looked, by: Account) -> DaybookEntry:
    """Log a look at an animal.

    Raises:
        ValidationError: a trait is of another species.
    """
    with writing(by=by, what=looked.said_of(animal), subject=animal) as book:
        for row in rows_of_look(animal, looked, by):
            book.keep(row)
    return book.entry


def change_look(*, look: Look, looked: Looked, by: Account, reason: str = "") -> DaybookEntry:
    """Correct a whole look: its day, and what was seen at it.

    What the look named before and does not name now was looked for and not there.

    Raises:
        Overtaken: somebody else corrected it since the form was made.
    """
    what = f"Corrected: {looked.said_of(look.animal)}"
    with writing(by=by, what=what, reason=reason, subject=look.animal) as book:
        book.refuse_overtaken(look)
        look.on, look.note = looked.on, looked.note
        book.keep(look)
        _rename(book, look, {trait.pk: (trait, seen) for trait, seen in looked.named()})
    return book.entry


def _rename(book: Writing, look: Look, named: Mapping[int, tuple[Trait, Seen]]) -> None:
    """Let a look's observations be those named."""
    there = {one.trait_id: one for one in look.observations.live()}
    for pk, (trait, seen) in named.items():
        one = there.pop(pk, None) or Observation(
            animal=look.animal, look=look, trait=trait, by=look.by
        )
        one.seen, one.on = seen, look.on
        book.keep(one)
    for one in there.values():
        one.seen, one.on = Seen.NO, look.on
        book.keep(one)


def change_observation(*, observation: Observation, by: Account, reason: str = "") -> DaybookEntry:
    """Save an observation that was corrected in memory."""
    what = f"Corrected: {observation}"
    with writing(by=by, what=what, reason=reason, subject=observation.animal) as book:
        book.keep(observation)
    return book.entry


def take_back(book: Writing, record: Record, *, reason: str) -> None:
    """Withdraw a record of an animal; with a whole look goes all that was seen at it."""
    if isinstance(record, Look):
        for one in record.observations.live():
            book.withdraw(one, reason=reason)
    book.withdraw(record, reason=reason)


def let_in(book: Writing, record: Record) -> None:
    """Restore a record of an animal; with a whole look comes back what went just before it."""
    reason, since = record.withdrawn_reason, record.withdrawn_at
    book.restore(record)
    if isinstance(record, Look) and since is not None:
        went = record.observations.filter(withdrawn_reason=reason)
        for one in went.filter(withdrawn_at__range=(since - _TOGETHER, since)):
            book.restore(one)
