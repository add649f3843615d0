"""How the book is written: one entry in the daybook, its records, and the numbers they move.

    with writing(by=account, what="Saw Saltgrass on F-014", subject=animal) as book:
        book.keep(Observation(...))

Everything inside is one transaction. When it ends, the standings that the records can move have
been computed anew: whoever reads the book next never sees an old number.
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from itertools import chain
from typing import Any, TypeVar

from django.contrib.contenttypes.models import ContentType
from django.db import connection, transaction
from django.db.models import Max, Min
from django.utils import timezone

from keeper.domain import inference
from keeper.domain.book import batches, submission
from keeper.domain.book.aside import is_aside, remember, stop_before_figures
from keeper.domain.book.dependents import refuse_dangling
from keeper.domain.book.merging import merge, refuse_overtaken
from keeper.domain.book.refusing import NothingChanged, Questioned, Refused, sentence
from keeper.domain.book.submission import Question
from keeper.domain.book.touched import Touched, bears, touched_by, touched_by_new
from keeper.models import Account, DaybookEntry, Record, Role, Touch

Kept = TypeVar("Kept", bound=Record)

# What writers wait for in PostgreSQL: any number that nothing else in the database uses.
WRITERS = 0x4B6570746C696E65


# Above so many ids a query names none: databases limit what one query may name.
_MOST_NAMED = 5000


class Writing:
    """One entry being written."""

    def __init__(self, entry: DaybookEntry, by: Account | None) -> None:
        self.entry = entry
        self.by = by
        self.touched = Touched()
        self._new: list[Record] = []
        # Every record saved, by id, and whether this entry made it.
        self._saved: dict[type[Record], dict[int, bool]] = {}
        # Every record saved, as this entry left it.
        self._records: dict[tuple[type[Record], int], Record] = {}
        self._asked: list[Question] = []
        self._days: set[date] = set()
        # Where each kind of record's history ended before this entry.
        self._before: dict[type[Record], int] = {}

    def keep(self, record: Kept, **many: Iterable[Any]) -> Kept:
        """Check and save a record that is new or changed; `many` sets many-to-many fields.

        Of a record that exists only what was changed is written; what others changed since it
        was read, or since its form was made, stays.

        Raises:
            ValidationError: the record is not in order; nothing of the entry is kept then.
            Overtaken: somebody else changed the same field meanwhile.
        """
        remember(record)
        if record.pk is None:
            self._keep_new(record, many)
            return record
        before = self._merged(record)
        many = {name: rows for name, rows in many.items() if not _are(record, name, rows)}
        if not many and _values(before) == _values(record):
            return record
        batches.check(record)
        self._note_day(record, before)
        if many or bears(before, record):
            self.touched.add(touched_by(before))
            self._save(record, created=False, many=many)
            self.touched.add(touched_by(record))
        else:
            self._save(record, created=False)
        return record

    def keep_many(self, records: Iterable[Record]) -> None:
        """Check and save new records together, as `keep` does each, in queries by the kind.

        A record may name others of them that come before it.

        Raises:
            NotInOrder: a record is not in order; it is named, and nothing of the entry is kept.
        """
        for wave in batches.waves(list(records)):
            for record in wave:
                remember(record)
            model = type(wave[0])
            self._note_before(model)
            if batches.save_together(wave, by=self.by, reason=self._short, alone=self._keep_new):
                for record in wave:
                    self._note(record, created=True)
                    self._note_day(record)
                self._new += wave

    def _keep_new(self, record: Record, many: dict[str, Iterable[Any]] | None = None) -> None:
        batches.check(record)
        self._save(record, created=True, many=many)
        self._note_day(record)
        self._new.append(record)

    def withdraw(self, record: Record, *, reason: str) -> None:
        """Take a record out of the book's account; it stays readable and can be restored.

        Raises:
            Refused: it was withdrawn already.
        """
        remember(record)
        if self._merged(record).is_withdrawn:
            raise Refused(sentence(f"{record} was withdrawn already: nothing is left to do."))
        self.touched.add(touched_by(record))
        record.withdrawn_at = self.entry.at
        record.withdrawn_reason = reason
        self._save(record, created=False)
        self.touched.add(touched_by(record))

    def withdraw_many(self, records: Sequence[Record], *, reason: str) -> None:
        """Take records that were just read and count out of the account together.

        As `withdraw` each, in queries by the kind: what names one of them is among them, or goes
        with them in the same entry.
        """
        kinds: dict[type[Record], list[Record]] = {}
        for record in records:
            if record._history_m2m_fields:
                self.withdraw(record, reason=reason)  # its lists have a history of their own
            else:
                kinds.setdefault(type(record), []).append(record)
        self.touched.add(touched_by_new(one for rows in kinds.values() for one in rows))
        for model, rows in kinds.items():
            self._note_before(model)
            for record in rows:
                remember(record)
            batches.withdraw_together(
                rows, at=self.entry.at, why=reason, by=self.by, reason=self._short
            )
            for record in rows:
                self._note(record, created=False)

    def restore(self, record: Record) -> None:
        """Let a withdrawn record count again.

        Raises:
            ValidationError: its code or its place is taken by now.
            Refused: it counts already.
        """
        remember(record)
        if not self._merged(record).is_withdrawn:
            raise Refused(sentence(f"{record} counts already: nothing is left to do."))
        record.withdrawn_at = None
        record.withdrawn_reason = ""
        batches.check(record)
        self._save(record, created=False)
        self.touched.add(touched_by(record))

    def now(self, record: Kept) -> Kept:
        """Return a record as it is in the book now, whatever is in memory."""
        found: Kept = type(record)._base_manager.get(pk=record.pk)
        return found

    def ask(self, questions: Iterable[str]) -> None:
        """Ask whether what looks odd is so: sentences, each of which names the fact.

        At the end the entry is refused until the form insists on all that was asked. What was
        insisted on is kept with the entry. Where no form was sent there is nobody to ask.
        """
        if submission.current() is not None:
            self._asked += map(Question, questions)

    def _refuse_asked(self) -> None:
        """Refuse what is asked and not insisted on, and note what was.

        Raises:
            Questioned: the form holds the questions.
        """
        form = submission.current()
        if form is None or not self._asked:
            return
        open_ = tuple(one for one in self._asked if one.key not in form.insisted)
        if open_:
            form.asked = open_
            raise Questioned(" ".join(one.said for one in open_))
        self.entry.insisted = "\n".join(one.said for one in self._asked)
        self.entry.save(update_fields=["insisted"])

    def refuse_overtaken(self, record: Record) -> None:
        """Refuse if something that belongs to a record was written since its form was made.

        Raises:
            Overtaken: somebody wrote it; the message names the entry.
        """
        refuse_overtaken(record, submission.current())

    def close(self) -> None:
        """Note what was written, and bring the standings up to date.

        Raises:
            NothingChanged: nothing was written.
            Refused: something that counts would name something that does not.
            Questioned: something looks odd and was not insisted on.
        """
        if not self._saved:
            raise NothingChanged
        refuse_dangling(self._records.values())
        self._refuse_asked()
        self._date_entry()
        Touch.objects.bulk_create(chain.from_iterable(map(self._touches, self._saved)))
        touched = self.bears_on()
        if touched:
            stop_before_figures()
            inference.refresh(touched, entry=self.entry)

    def bears_on(self) -> Touched:
        """Return what all that was written so far bears on."""
        touched = touched_by_new(self._new)
        if self.touched:
            touched.only_new = False
            touched.add(self.touched)
        return touched

    def _touches(self, model: type[Record]) -> Iterator[Touch]:
        """Which records of one kind the entry wrote, and from which save on."""
        saved = self._saved[model]
        kind = ContentType.objects.get_for_model(model)
        rows = model.history.filter(history_id__gt=self._before[model]).order_by()
        if len(saved) <= _MOST_NAMED:
            rows = rows.filter(id__in=saved)
        # The first row that the entry added to a record's history: before it, it was as it
        # shall be again if the entry is undone.
        firsts = dict(rows.values_list("id").annotate(Min("history_id")))
        for pk, created in saved.items():
            if pk in firsts:
                yield Touch(
                    entry=self.entry, record_type=kind, record_id=pk, history_id=firsts[pk],
                    created=created,
                )  # fmt: skip

    def _merged(self, record: Record) -> Record:
        """Take over what others changed, and return the row as it is now."""
        now = self.now(record)
        if record.pk not in self._saved.get(type(record), {}):
            merge(record, now, submission.current())
        return now

    def _save(
        self, record: Record, *, created: bool, many: dict[str, Iterable[Any]] | None = None
    ) -> None:
        self._note_before(type(record))
        record._history_user = self.by  # type: ignore[attr-defined]  # for simple-history
        record._change_reason = self._short  # type: ignore[attr-defined]
        with batches.worded(record):
            record.save()
        for name, values in (many or {}).items():
            getattr(record, name).set(values)
        self._note(record, created=created)

    @property
    def _short(self) -> str | None:
        """The reason as a row of history has room for it; the whole stands in the entry."""
        return self.entry.reason[:100] or None

    def _note_day(self, record: Record, before: Record | None = None) -> None:
        """Note on which day happened what a record tells of."""
        day = record.happened_on(before)
        if day is not None:
            self._days.add(day)

    def _date_entry(self) -> None:
        """Say on which day that was which the entry tells of, if its records agree on one."""
        if self.entry.day is None and len(self._days) == 1:
            (self.entry.day,) = self._days
            self.entry.save(update_fields=["day"])

    def _note_before(self, model: type[Record]) -> None:
        """Note where the history of a kind of record ended before the entry first wrote one."""
        if model not in self._before:
            last = model.history.aggregate(last=Max("history_id"))["last"]
            self._before[model] = last or 0

    def _note(self, record: Record, *, created: bool) -> None:
        """Note that a record was saved."""
        record.note_as_read()
        self._saved.setdefault(type(record), {}).setdefault(record.pk, created)
        self._records[type(record), record.pk] = record


@contextmanager
def writing(
    *,
    by: Account | None,
    what: str,
    reason: str = "",
    subject: Record | None = None,
    at: datetime | None = None,
    of_records: bool = True,
) -> Iterator[Writing]:
    """Open an entry, and bring the standings up to date when it closes.

    `subject` is the record whose page the entry belongs to; a new record becomes the subject by
    `about`. `at` is for what is written down later than it happened; now if not given. An entry
    that writes no record, as of an account, says so by `of_records`. Nothing is kept if the block
    raises.

    The block runs alone: whatever it decides by what it reads in the book holds until it ends. So
    every check that decides whether something may be written stands in it.

    Raises:
        AlreadyWritten: the form of this request was written before.
        BookRestored: the book was restored since that form was made.
        NothingChanged: the block wrote no record.
        Refused: something that counts would name something that does not, or the account may not
            write, or not any more.
        Questioned: something looks odd and was not insisted on.
    """
    with transaction.atomic():
        wait_for_other_writers()
        if of_records and by is not None:
            refuse_who_may_not_write(by)
        token = submission.claim()
        entry = DaybookEntry.objects.create(
            at=at or timezone.now(), by=by, what=what[:200], reason=reason, token=token
        )
        if subject is not None:
            about(entry, subject)
        book = Writing(entry, by)
        yield book
        if of_records:
            book.close()
        if token and (form := submission.current()) is not None:
            form.written = entry.pk


def wait_for_other_writers() -> None:
    """Let one entry be written at a time: standings rest on all that was written before.

    SQLite's transactions begin like this by themselves; PostgreSQL is asked for a lock that ends
    with the transaction. Whoever only reads never waits, nor does what is written aside.
    """
    if connection.vendor == "postgresql" and not is_aside():
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [WRITERS])


def refuse_who_may_not_write(by: Account) -> None:
    """Refuse a viewer, and whose account was switched off a moment ago.

    Raises:
        Refused: the account may not write; it says whom to ask.
    """
    if not Account.objects.filter(pk=by.pk, is_active=True).exclude(role=Role.VIEWER).exists():
        raise Refused(f"{by} may not write in this book. Ask its owner.")


def about(entry: DaybookEntry, subject: Record) -> None:
    """Say on which record's page an entry belongs."""
    entry.subject_type = ContentType.objects.get_for_model(subject)
    entry.subject_id = subject.pk
    entry.save(update_fields=["subject_type", "subject_id"])


def call(entry: DaybookEntry, what: str) -> None:
    """Say what an entry did, where that is known only once it is done."""
    entry.what = what[:200]
    entry.save(update_fields=["what"])


def _are(record: Record, name: str, rows: Iterable[Any]) -> bool:
    """Whether a many-to-many field holds these rows already."""
    kept = set(getattr(record, name).values_list("pk", flat=True))
    return kept == {getattr(row, "pk", row) for row in rows}


def _values(record: Record) -> dict[str, Any]:
    return {field.attname: getattr(record, field.attname) for field in record._meta.concrete_fields}


__all__ = [
    "WRITERS",
    "Questioned",
    "Refused",
    "Writing",
    "about",
    "call",
    "wait_for_other_writers",
    "writing",
]
