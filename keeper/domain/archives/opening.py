"""Archive → an empty book: all of it, checked as if it had been entered, or nothing."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from django.contrib.auth.hashers import make_password
from django.core.management.color import no_style
from django.db import DataError, IntegrityError, connection, transaction
from django.db.models import DateField, Field, Model
from django.utils import timezone

from keeper.domain import inference
from keeper.domain.archives import checking
from keeper.domain.archives.inside import Archive, look, value_of_its_own
from keeper.domain.archives.manifest import damaged
from keeper.domain.archives.pictures import FOLDER, Placed, named
from keeper.domain.archives.tables import IN_AN_EMPTY_BOOK, Table, column_name, label, tables
from keeper.domain.archives.values import Unfit, from_json
from keeper.domain.book.writing import Refused, wait_for_other_writers
from keeper.domain.erasure import sweeping
from keeper.domain.erasure.taking_out import erase_again
from keeper.models import Account, Book, Role, Sheet, mark_of, new_epoch

# Rows written at a time.
_AT_A_TIME = 500


@dataclass(frozen=True)
class Opened:
    """What came of opening an archive.

    Attributes:
        owner: the account that the book is the owner's by.
        helpers: the names of those who have to be let in anew.
        differences: figures that were not as this program works them out; they were left as they
            stood.
        faults: records that would not be taken if they were entered now; kept all the same.
    """

    owner: Account
    helpers: tuple[str, ...]
    differences: tuple[inference.Difference, ...]
    faults: tuple[str, ...]


def is_empty() -> bool:
    """Whether nothing was ever entered in the book, so that an archive can go into it."""
    return not any(
        table.model._base_manager.exists()
        for table in tables()
        if label(table.model) not in IN_AN_EMPTY_BOOK
    ) and (Account.objects.count() <= 1)


def open_into_book(path: Path, *, with_faults: bool = False) -> Opened:
    """Fill the empty book with all that an archive holds, under the same numbers.

    The archive's owner is from then on whoever owns this book: name and password are theirs.
    Helpers come without a password and switched off. `with_faults`: records that break a rule of
    their own are taken too, and told.

    Raises:
        Refused: the book is not empty, or what is wrong with the archive; nothing was written.
    """
    archive = look(path)
    placed = Placed()
    try:
        with transaction.atomic():
            wait_for_other_writers()
            if not is_empty():
                raise Refused(
                    "There is something in this book already. An archive goes into an empty book "
                    "only: start one in another data folder, and open it there."
                )
            opened = _filled(archive, with_faults=with_faults)
            archive.place_pictures(placed)
            erase_again()
            _begin_another_life()
            _go_on_counting()
    except BaseException:
        placed.take_out()
        raise
    if sweeping.is_left() and not connection.in_atomic_block:
        sweeping.finish()
    return opened


def _filled(archive: Archive, *, with_faults: bool) -> Opened:
    present = Account.objects.filter(role=Role.OWNER).first()
    with _refusing():
        _make_room()
        for table in tables():
            _load(table, archive)
        owner = _hand_over(present)
        checking.refuse_dangling()
    _refuse_other_pictures(archive)
    faults = tuple(checking.faults())
    if faults and not with_faults:
        raise Refused(
            f"A record in this archive breaks a rule of the book: {faults[0]} Correct it where the "
            "book is and make a new archive; or take it as it is, told beside the others: "
            "`manage.py open_archive FILE --with-faults`."
        )
    helpers = Account.objects.exclude(pk=owner.pk).order_by("name").values_list("name", flat=True)
    return Opened(owner, tuple(helpers), _differences(), faults)


def _begin_another_life() -> None:
    """Number sheets from now on in a series of its own: the book may go on elsewhere too."""
    taken = set(Sheet.objects.values_list("series", flat=True))
    epoch = next(one for one in iter(new_epoch, None) if mark_of(one) not in taken)
    Book.objects.update_or_create(pk=1, defaults={"epoch": epoch, "restored_at": timezone.now()})


@contextmanager
def _refusing() -> Iterator[None]:
    """Say in words what the database does not take."""
    try:
        yield
    except (IntegrityError, DataError, OverflowError, UnicodeError) as error:
        said = str(error).splitlines()[0][:160]
        raise damaged(f"its rows do not fit together ({said})") from error


def _make_room() -> None:
    """Take out what an empty book has by itself; the archive brings its own."""
    for table in reversed(tables()):
        if label(table.model) in IN_AN_EMPTY_BOOK and table.record is None:
            table.model._base_manager.all().delete()
    for table in tables():
        if label(table.model) in IN_AN_EMPTY_BOOK and table.record is not None:
            table.model._base_manager.all().delete()


def _load(table: Table, archive: Archive) -> None:
    rows = (_row(table, said) for said in archive.rows(table))
    # Dates that the database layer would set to now are set again to what they were.
    dated = [
        field
        for field in table.columns
        if isinstance(field, DateField) and (field.auto_now or field.auto_now_add)
    ]
    kept = {field.name: field for field in dated}
    while batch := list(islice(rows, _AT_A_TIME)):
        were = {row.pk: {name: getattr(row, name) for name in kept} for row in batch}
        table.model._base_manager.bulk_create(batch)
        if kept:
            for row in batch:
                for name, value in were[row.pk].items():
                    setattr(row, name, value)
            table.model._base_manager.bulk_update(batch, list(kept))


def _row(table: Table, said: dict[str, Any]) -> Model:
    values: dict[str, Any] = {}
    for field in table.columns:
        name = column_name(field)
        if name in said:
            values[field.attname] = _read(table, field, said[name])
        else:
            values[field.attname] = value_of_its_own(field)
    if table.model is Account:
        values |= {"password": make_password(None), "is_active": False}
    return table.model(**values)


def _read(table: Table, field: "Field[Any, Any]", said: Any) -> Any:
    try:
        return from_json(field, said)
    except Unfit as unfit:
        shown = repr(said)[:60]
        raise damaged(
            f"{column_name(field)} of a row of {table.name} is {shown} and should be {unfit}"
        ) from unfit


def _hand_over(present: Account | None) -> Account:
    """Make the archive's owner the account of whoever owns this book, and return it."""
    owner = Account.objects.filter(role=Role.OWNER).first()
    if owner is None:
        raise damaged("it has no owner's account")
    owner.is_active = True
    if present is not None:
        owner.password = present.password
    owner.save_without_historical_record()  # type: ignore[attr-defined]  # of simple-history
    others = Account.objects.exclude(pk=owner.pk)
    if (
        present is not None
        and present.name != owner.name
        and not others.filter(login_name=present.login_name).exists()
    ):
        owner.name = present.name
        # Else it would be whoever is logged in: an account that gave way to this one.
        owner._history_user = owner  # type: ignore[attr-defined]  # for simple-history
        owner.save()
    return owner


def _refuse_other_pictures(archive: Archive) -> None:
    """Refuse pictures that no row names, and rows that name a picture nobody knows of."""
    brought = {one.path.removeprefix(FOLDER) for one in archive.manifest.pictures}
    wanted, missing = set(named()), set(archive.manifest.missing)
    if odd := sorted((wanted - missing) ^ brought):
        raise damaged(f"its rows and its pictures do not go together ({odd[0][:80]!r})")


def _go_on_counting() -> None:
    """Let new rows have numbers after those that came with theirs.

    The last thing done: PostgreSQL does not take it back if the transaction fails.
    """
    models = [table.model for table in tables()]
    with connection.cursor() as cursor:
        for command in connection.ops.sequence_reset_sql(no_style(), models):
            cursor.execute(command)


def _differences() -> tuple[inference.Difference, ...]:
    """What this program works out otherwise; what the engine cannot take is refused."""
    try:
        return tuple(inference.differences())
    except Exception as error:
        raise damaged(f"its records make no book that can be worked out ({error})"[:240]) from error
