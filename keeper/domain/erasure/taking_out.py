"""A person taken out: what would go, how it goes, and once more after a restore."""

from dataclasses import dataclass
from datetime import date

from django.db import connection
from django.utils import timezone
from django.utils.formats import date_format

from keeper.domain.backups import shelf
from keeper.domain.book.writing import Refused, writing
from keeper.domain.erasure import apart, files, searching, sweeping
from keeper.domain.erasure.person import Person, person_of
from keeper.models import Account, Contact, DaybookEntry, Role

_ERASED = "Erased person"


@dataclass(frozen=True)
class Preview:
    """What an erasure would take out, and what it would leave.

    Attributes:
        called: what stands in the person's place afterwards.
        rows: how many texts would be changed or emptied, histories among them.
        scans, tables: how many files would be deleted, of papers and of tables brought in.
        stays: names in the register and of animals in which the name stands.
        partly: texts in which a part of the name is left; they stay too.
        copies: how many copies of the book still hold the person.
        oldest, newest: when these were made; None: there is none.
    """

    called: str
    rows: int
    scans: int
    tables: int
    stays: tuple[str, ...]
    partly: tuple[str, ...]
    copies: int
    oldest: date | None
    newest: date | None


def preview(contact: Contact) -> Preview:
    """Return what an erasure would do; nothing is written."""
    person = person_of(contact)
    made = [one.made_at.date() for one in shelf.read().made]
    return Preview(
        called=person.called,
        rows=sum(1 for _ in searching.places(person)),
        scans=len(files.scans_of(person)),
        tables=sum(1 for _ in files.imports_naming(person)),
        stays=tuple(searching.left_in_the_register(person)),
        partly=tuple(searching.partly_named(person)),
        copies=len(made),
        oldest=min(made, default=None),
        newest=max(made, default=None),
    )


def erase(*, contact: Contact, typed: str, by: Account) -> tuple[DaybookEntry, bool]:
    """Take a person out for good; return the entry, and whether the file was written anew.

    `typed` is the name, which the owner types to say that this is meant.

    Raises:
        Refused: it is not the owner who asks, another name was typed, the person was erased
            already, or the law wants them kept.
    """
    on = timezone.localdate()
    with writing(by=by, what=f"{_ERASED} {contact.pk}", of_records=False) as book:
        now = Contact.objects.select_for_update().get(pk=contact.pk)
        _refuse(now, typed, by, on)
        person = person_of(now)
        # Before the book forgets: a list without them would let a restore bring them back.
        apart.note(person.pk, person.names, str(on))
        try:
            _take_out(person, on)
        except BaseException:
            apart.strike(person.pk, str(on))
            raise
    swept = not connection.in_atomic_block and sweeping.finish()
    return book.entry, swept


def erased_since(entry: int) -> bool:
    """Whether anybody was taken out after an entry: what was made before may still name them."""
    return DaybookEntry.objects.filter(pk__gt=entry, what__startswith=f"{_ERASED} ").exists()


def erase_again() -> list[int]:
    """Take out everybody on the list whom a restore or an archive brought back; return who.

    Part of the transaction that brought them; afterwards `sweeping.finish`.
    """
    found = []
    for one in apart.listed():
        contact = Contact.objects.filter(pk=one.contact, erased_on=None).first()
        if contact is not None:
            person = person_of(contact)
            if one.was(person.names):
                _take_out(person, date.fromisoformat(one.on))
                found.append(person.pk)
    return found


def _refuse(contact: Contact, typed: str, by: Account, on: date) -> None:
    if not Account.objects.filter(pk=by.pk, role=Role.OWNER, is_active=True).exists():
        raise Refused("Only the owner of the book can erase somebody. Ask them.")
    if contact.erased_on is not None:
        raise Refused(f"{contact.name} was erased already: nothing is left to do.")
    if contact.kept_until is not None and contact.kept_until >= on:
        raise Refused(
            f"This contact is to be kept until {date_format(contact.kept_until, 'j F Y')}: "
            f"{contact.kept_why} Erase it after that day, or correct the day on its page."
        )
    if Contact.objects.exclude(pk=contact.pk).filter(name__iexact=contact.name).exists():
        raise Refused(
            "Another contact has the same name, and nobody could tell in a text which of them is "
            "meant. Give one of them another name first."
        )
    if typed.strip() != contact.name.strip():
        raise Refused("That is not the name. Type it exactly as it stands on the page.")


def _take_out(person: Person, on: date) -> None:
    tables = list(files.imports_naming(person))
    going = [*files.scans_of(person), *(str(one.file.name) for one in tables if one.file)]
    sweeping.begin(person.pk, going)
    files.take_out_scans(person)
    for one in tables:
        files.take_out_of_table(person, one)
    for place in list(searching.places(person)):
        place.write()
    for model in (Contact, Contact.history.model):
        model._base_manager.filter(id=person.pk).update(erased_on=on, kept_until=None)
