"""Prospects: written down, let go, taken up again, tried out, bought."""

from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar
from uuid import uuid4

from django.core.exceptions import ValidationError
from django.db import transaction

from keeper.domain.animals.writes import Arrival, add_animal, enter
from keeper.domain.book.writing import Refused, Writing, about, writing
from keeper.models import (
    Account,
    Animal,
    Contact,
    DaybookEntry,
    Paper,
    Prospect,
    ProspectWord,
    Statement,
)

Answer = TypeVar("Answer")

# The reason that `undoing` gives for what it withdraws.
UNDONE = "undone"


def keep_prospect(
    *,
    prospect: Prospect,
    words: Sequence[ProspectWord],
    by: Account,
    contact: Contact | None = None,
    reason: str = "",
) -> DaybookEntry:
    """Save a prospect that is new or was changed in memory, with all that is said of it.

    `words` are not saved yet, one a trait; what was said of other traits before is withdrawn.
    `contact` is its source, if that one is new to the book.

    Raises:
        ValidationError: it or a word is not in order, or a trait is of another species.
        Refused: it was let go or bought.
    """
    _suit(prospect, words)
    verb = "Changed" if prospect.pk else "Noted"
    with writing(by=by, what=f"{verb} the prospect {prospect}", reason=reason) as book:
        if prospect.pk:
            _is_open(book.now(prospect))
            book.refuse_overtaken(prospect)
        if contact is not None:
            prospect.source = book.keep(contact)
        book.keep(prospect)
        about(book.entry, prospect)
        _set_words(book, prospect, words)
    return book.entry


def _suit(prospect: Prospect, words: Sequence[ProspectWord]) -> None:
    for word in words:
        if word.trait_id and word.trait.species_id != prospect.species_id:
            raise ValidationError(
                f"{word.trait} is no trait of {prospect.species}. Choose one that is."
            )


def _set_words(book: Writing, prospect: Prospect, words: Sequence[ProspectWord]) -> None:
    """Keep what is said now, and withdraw what is not said any more."""
    said = {word.trait_id: word for word in words}
    for old in ProspectWord.objects.live().filter(prospect=prospect):
        new = said.pop(old.trait_id, None)
        if new is None:
            book.withdraw(old, reason=book.entry.reason or "not said of it any more")
            continue
        old.line, old.claim, old.chance = new.line, new.claim, new.chance
        book.keep(old)
    for word in said.values():
        word.prospect = prospect
        book.keep(word)


def let_go(*, prospect: Prospect, reason: str, by: Account) -> DaybookEntry:
    """Give a prospect up; it stays readable, with the reason, and can be taken up again.

    Raises:
        Refused: it was let go or bought already.
    """
    what = f"Let the prospect {prospect} go"
    with writing(by=by, what=what, reason=reason, subject=prospect) as book:
        _is_open(book.now(prospect))
        book.withdraw(prospect, reason=reason)
    return book.entry


def take_up(*, prospect: Prospect, by: Account) -> DaybookEntry:
    """Think again of buying one that was let go, or whose entry was taken back.

    Raises:
        Refused: it was not let go.
    """
    with writing(by=by, what=f"Took up the prospect {prospect} again", subject=prospect) as book:
        if not book.now(prospect).is_withdrawn:
            raise Refused(f"{prospect} was not let go: it stands among the prospects.")
        was_undone = prospect.withdrawn_reason == UNDONE
        book.restore(prospect)
        for word in _taken_back(prospect) if was_undone else ():
            book.restore(word)
    return book.entry


def _taken_back(prospect: Prospect) -> Iterable[ProspectWord]:
    """The words that were taken back with a prospect, the last of each trait."""
    words = ProspectWord.objects.withdrawn().filter(prospect=prospect, withdrawn_reason=UNDONE)
    return {word.trait_id: word for word in words.order_by("withdrawn_at", "pk")}.values()


def _is_open(prospect: Prospect) -> None:
    if prospect.bought is not None:
        raise Refused(
            f"{prospect} was bought as {prospect.bought}: what is said of it stands there now. "
            "Change it there."
        )
    if prospect.is_withdrawn:
        raise Refused(f"{prospect} was let go. Take it up again first.")


def arrival_of(prospect: Prospect, animal: Animal, paper: Paper | None = None) -> Arrival:
    """Return a prospect as an arrival: what was said of it becomes statements of its source.

    Raises:
        Refused: the register does not hold any more what was said.
    """
    animal.species, animal.source = prospect.species, prospect.source
    words = ProspectWord.objects.live().filter(prospect=prospect)
    statements = []
    for word in words.select_related("trait", "line__trait"):
        for named in (word.trait, word.line):
            if named is not None and named.is_withdrawn:
                raise Refused(f"{named} was withdrawn from the register: change what is said.")
        statements.append(
            Statement(
                trait=word.trait,
                line=word.line,
                claim=word.claim,
                chance=word.chance,
                on=prospect.seen_on or animal.acquired_on,
            )
        )
    return Arrival(animal, paper=paper, statements=statements)


def buy(
    *, prospect: Prospect, animal: Animal, by: Account, paper: Paper | None = None
) -> DaybookEntry:
    """Enter a prospect as an animal of the book, with its papers and statements, in one entry.

    Raises:
        ValidationError: the animal or its paper is not in order; nothing is kept.
        Refused: it was let go or bought already, or more copies are said of it than fit.
    """
    with writing(by=by, what=f"Bought {animal.code}: the prospect {prospect}") as book:
        _is_open(book.now(prospect))
        enter(book, arrival_of(prospect, animal, paper))
        prospect.bought = animal
        book.keep(prospect)
    return book.entry


class _TakenBack(Exception):
    """Ends a trial: what was written in it is not kept."""


def as_if_here(*, prospect: Prospect, by: Account, ask: Callable[[Animal], Answer]) -> Answer:
    """Return what `ask` answers of the animal that a prospect would be; nothing is kept.

    The animal is entered as `buy` would, asked about, and taken back: its figures are exactly
    those that it would have. Rows of it that the answer holds have ids that do not exist.

    Raises:
        ValidationError, Refused: as `buy`.
    """
    animal = Animal(
        code=f"P{prospect.pk}-{uuid4().hex[:12]}",
        sex=prospect.sex,
        hatched_year=prospect.hatched_year,
    )
    answers: list[Answer] = []
    try:
        with transaction.atomic():
            add_animal(arrival=arrival_of(prospect, animal), by=by)
            answers.append(ask(animal))
            raise _TakenBack
    except _TakenBack:
        return answers[0]
