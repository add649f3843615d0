"""Animals and what is seen on them: entered, corrected, taken out of the account, let in again."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import cast

from keeper.domain.animals.looks import Looked, let_in, rows_of_look, take_back
from keeper.domain.animals.odd import odd_animal
from keeper.domain.book.dependents import dependents
from keeper.domain.book.writing import Refused, Writing, about, call, writing
from keeper.domain.sources.writes import refuse_too_many_copies
from keeper.models import (
    Account,
    Animal,
    CandidateSire,
    Clutch,
    Contact,
    DaybookEntry,
    HatchRow,
    LabTest,
    Look,
    Member,
    Observation,
    Paper,
    Photo,
    PlannedPairing,
    PlanStep,
    Record,
    Statement,
)

# Records that belong to one animal and are read on its page.
OfAnimal = LabTest | Look | Observation | Paper | Photo | Statement


@dataclass
class Arrival:
    """A new animal with what came with it; the rows are not saved yet.

    Attributes:
        animal: the animal.
        contact: its source, if that one is new to the book.
        paper: its papers, if it has any.
        statements: what its source says it is.
        looked: what was seen on it, if anybody looked.
    """

    animal: Animal
    contact: Contact | None = None
    paper: Paper | None = None
    statements: list[Statement] = field(default_factory=list)
    looked: Looked | None = None


def add_animal(*, arrival: Arrival, by: Account) -> DaybookEntry:
    """Enter a new animal with its papers, statements and observations.

    Raises:
        ValidationError: something is not in order; nothing is kept.
        Refused: its statements name more copies than fit.
    """
    with writing(by=by, what=f"Added {arrival.animal.code}") as book:
        enter(book, arrival)
    return book.entry


def enter(book: Writing, arrival: Arrival) -> None:
    """Write a new animal, and what came with it, into an entry that becomes one about it.

    Raises:
        ValidationError: something is not in order.
        Refused: its statements name more copies than fit.
    """
    animal = arrival.animal
    if arrival.contact is not None:
        animal.source = book.keep(arrival.contact)
    book.keep(animal)
    about(book.entry, animal)
    if arrival.paper is not None:
        _belong(arrival.paper, animal)
        book.keep(arrival.paper)
    for statement in arrival.statements:
        _belong(statement, animal)
        statement.paper = arrival.paper
        book.keep(statement)
    if arrival.looked is not None:
        for row in rows_of_look(animal, arrival.looked, cast("Account", book.by)):
            book.keep(row)
    refuse_too_many_copies(animal)
    book.ask(odd_animal(animal))


def _belong(record: Paper | Statement, animal: Animal) -> None:
    record.animal = animal
    if animal.source is not None:
        record.source = animal.source


def change_animal(
    *, animal: Animal, by: Account, reason: str = "", contact: Contact | None = None
) -> DaybookEntry:
    """Save an animal that was changed in memory; of another clutch it leaves its old row.

    Raises:
        ValidationError: the animal is not in order.
        Questioned: something about it looks odd.
    """
    with writing(by=by, what=f"Changed {animal}", reason=reason, subject=animal) as book:
        before = book.now(animal)
        if contact is not None:
            animal.source = book.keep(contact)
        if before.hatch_row is not None and animal.clutch_id != before.clutch_id:
            animal.hatch_row = None
            book.keep(animal)
            _count_one_less(book, before.hatch_row)
        else:
            book.keep(animal)
        book.ask(odd_animal(animal, before.code))
        # What others changed meanwhile is in memory as well by now, and no part of this entry.
        call(book.entry, _changed(before, animal))
    return book.entry


def _changed(before: Animal, animal: Animal) -> str:
    names = [
        str(one.verbose_name)
        for one in Animal._meta.concrete_fields
        # The year follows from the day where that is known.
        if (one.name != "hatched_year" or animal.hatched_on is None)
        and getattr(before, one.attname) != getattr(animal, one.attname)
    ]
    return f"Changed {', '.join(names)} of {animal.code}"


def _count_one_less(book: Writing, row: HatchRow) -> None:
    """The hatchling was never of that clutch, so its row counted one too many."""
    if row.count > 1:
        row.count -= 1
        book.keep(row)
    else:
        book.withdraw(row, reason="its only hatchling is of another clutch")


def withdraw_animal(*, animal: Animal, by: Account, reason: str) -> DaybookEntry:
    """Take an animal out of the book's account.

    Raises:
        Refused: other records rest on it.
    """
    with writing(by=by, what=f"Withdrew {animal}", reason=reason, subject=animal) as book:
        if (rests := _rests_on(animal)) is not None:
            raise Refused(rests)
        book.withdraw(animal, reason=reason)
    return book.entry


# How what rests on an animal names it; it can be asked to go once none of these does.
_NAMES_IT = {
    (Clutch, "dam"): "it is the dam of",
    (CandidateSire, "sire"): "it may be the sire of",
    (Animal, "dam"): "it is recorded as a parent of",
    (Animal, "sire"): "it is recorded as a parent of",
    (Member, "animal"): "it is in the project",
    (PlanStep, "dam"): "it is bred from in the",
    (PlanStep, "sire"): "it is bred from in the",
    (PlannedPairing, "dam"): "it is planned for",
    (PlannedPairing, "sire"): "it is planned for",
}


def _rests_on(animal: Animal) -> str | None:
    for relation, rows in dependents(animal):
        why = _NAMES_IT.get((relation.model, relation.field))
        if why is not None and rows:
            names = ", ".join(str(_whose(row)) for row in rows[:3])
            return f"{animal} stays in the book: {why} {names}. Correct that first."
    return None


def _whose(row: Record) -> Record:
    match row:
        case CandidateSire():
            return row.clutch
        case Member():
            return row.project
        case PlanStep():
            return row.plan
    return row


def withdraw_record(*, record: OfAnimal, by: Account, reason: str) -> DaybookEntry:
    """Take one of an animal's records out of the account."""
    with writing(by=by, what=f"Withdrew: {record}", reason=reason, subject=record.animal) as book:
        take_back(book, record, reason=reason)
    return book.entry


def restore(*, record: Animal | OfAnimal, by: Account) -> DaybookEntry:
    """Let a withdrawn animal, or one of its records, count again.

    Raises:
        ValidationError: its code or place is taken by now.
        Refused: with it there are more copies stated than fit, or it names what is withdrawn.
    """
    animal = record if isinstance(record, Animal) else record.animal
    with writing(by=by, what=f"Restored: {record}", subject=animal) as book:
        let_in(book, record)
        if isinstance(record, Statement):
            refuse_too_many_copies(animal)
    return book.entry


def records_of(animal: Animal) -> Iterable[Record]:
    """Return the animal and all that was entered about it, withdrawn records among them."""
    yield animal
    yield from Look.objects.filter(animal=animal).select_related("animal")
    yield from Observation.objects.filter(animal=animal).select_related("animal", "trait", "look")
    yield from Statement.objects.filter(animal=animal).select_related("animal", "trait", "line")
    tests = LabTest.objects.filter(animal=animal)
    yield from tests.select_related("animal", "line", "laboratory")
    yield from Paper.objects.filter(animal=animal).select_related("animal", "source")
    yield from Photo.objects.filter(animal=animal).select_related("animal")
