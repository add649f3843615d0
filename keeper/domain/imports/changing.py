"""An import's own row: begun, picked, answered, mended, thrown away. None of it is evidence."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict

from django.core.files.base import ContentFile
from django.db import transaction

from keeper.domain.book.writing import Refused, wait_for_other_writers
from keeper.domain.imports.choices import Choices
from keeper.domain.imports.table import take_heads
from keeper.domain.imports.tables import files, heads
from keeper.models import Account, Import, Species, Stage

_MOST_OPEN = 20


def begin(*, name: str, data: bytes, by: Account) -> Import:
    """Keep a file that is to be brought in, and read its first sheet.

    Raises:
        Refused: it cannot be read as a table, or too many are begun.
    """
    if Import.objects.exclude(stage=Stage.DONE).count() >= _MOST_OPEN:
        raise Refused(
            f"{_MOST_OPEN} imports are begun and not finished. Finish one or throw one away first."
        )
    sheet = files.read(data)
    one = Import(by=by, name=files.readable(name)[-120:].strip() or "a table")
    _take(one, sheet)
    species = list(Species.objects.live()[:2])
    one.choices = asdict(Choices(species=species[0].pk if len(species) == 1 else None))
    ending = one.name.rpartition(".")[2].lower()
    one.file = ContentFile(data, name=f"table.{ending if ending.isalnum() else 'csv'}"[:20])
    one.save()
    return one


def _take(one: Import, sheet: files.Sheet) -> None:
    one.sheets, one.sheet, one.notes = sheet.names, sheet.name[:120], sheet.notes
    one.keep_rows(sheet.rows)
    one.mended, one.left_out = {}, []
    take_heads(one)


@contextmanager
def changing(one: Import, version: int | None = None) -> Iterator[Import]:
    """Change an import alone: of two windows that change it the second sees what the first did.

    Raises:
        Refused: it is written, or was changed since the version that a page showed.
    """
    with transaction.atomic():
        wait_for_other_writers()
        now = Import.objects.get(pk=one.pk)
        _refuse_written(now)
        if version is not None and now.version != version:
            raise Refused("This import was changed in another window. Look through it again.")
        yield now
        now.version += 1
        now.save()


def _refuse_written(one: Import) -> None:
    if one.stage == Stage.WRITING:
        raise Refused("This is being written. Look again when it is done.")
    if one.is_over:
        raise Refused("This was brought in already. Take its entry back in the daybook first.")


def choose_sheet(*, one: Import, sheet: str, version: int) -> None:
    """Take another sheet of the workbook; what was mended in the one before is forgotten.

    Raises:
        Refused: it cannot be read as a table.
    """
    if not one.file:
        raise Refused("The file is not here any more. Send it again.")
    with one.file.open() as kept:
        found = files.read(kept.read(), sheet)
    with changing(one, version) as now:
        _take(now, found)
        now.stage = Stage.COLUMNS


def choose_heads(*, one: Import, row: int, count: int, version: int) -> None:
    """Take the heads of other rows; 0: the table has none."""
    with changing(one, version) as now:
        take_heads(now, row, count)
        now.stage = Stage.COLUMNS


def pick(*, one: Import, picks: Sequence[str], choices: Choices, version: int) -> None:
    """Say what the columns mean and what holds for every row."""
    with changing(one, version) as now:
        now.picks, now.choices = list(picks), asdict(choices)
        now.stage = Stage.CHECKED


def answer(*, one: Import, answers: Mapping[str, Mapping[str, str]]) -> None:
    """Keep what was answered."""
    with changing(one) as now:
        now.answers = {**now.answers, **{key: dict(said) for key, said in answers.items()}}


def ask_again(*, one: Import, key: str) -> None:
    """Forget an answer."""
    with changing(one) as now:
        now.answers.pop(key, None)


def mend(*, one: Import, row: int, texts: Mapping[int, tuple[str, str]]) -> None:
    """Write other texts into a row's cells: by column what stood there, and what shall.

    Raises:
        Refused: another window has mended the same cell otherwise.
    """
    with changing(one) as now:
        rows = now.rows()
        if not 0 < row <= len(rows):
            raise Refused("There is no such row any more. Look through the table again.")
        mended = dict(now.mended.get(str(row), {}))
        for column, (before, after) in texts.items():
            here = mended.get(str(column), rows[row - 1][column])
            if here not in {before, after}:
                raise Refused(
                    f"“{heads.letter(column)}{row}” was mended in another window: “{here}”. "
                    "Look at it again."
                )
            if after != here:
                mended[str(column)] = after
        now.mended = {**now.mended, str(row): mended}


def leave_out(*, one: Import, rows: Sequence[int], out: bool) -> None:
    """Leave rows out, or take them in again."""
    with changing(one) as now:
        kept = set(now.left_out)
        now.left_out = sorted(kept | set(rows) if out else kept - set(rows))


def throw_away(*, one: Import) -> None:
    """Forget an import that was not written, and its file.

    Raises:
        Refused: it was written; its entry can be undone instead.
    """
    with transaction.atomic():
        wait_for_other_writers()
        now = Import.objects.get(pk=one.pk)
        _refuse_written(now)
        file = now.file
        now.delete()
        if file:  # it went before, where it named somebody who was erased
            transaction.on_commit(lambda: file.storage.delete(str(file.name)))
