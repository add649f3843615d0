"""Many records kept together: the rows, the history and the errors of keeping them one by one."""

import re
from collections.abc import Callable, Iterable
from datetime import date
from typing import Any

import pytest
from django.contrib.contenttypes.models import ContentType
from django.db.models import ForeignKey

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.batches import NotInOrder
from keeper.domain.book.writing import Writing, writing
from tests.keeper.books import Book
from tests.keeper.counting import queries_of

Keep = Callable[[Writing, list[m.Record]], None]


def one_by_one(book: Writing, records: list[m.Record]) -> None:
    for record in records:
        for field in record._meta.concrete_fields:
            if isinstance(field, ForeignKey) and field.is_cached(record):
                # What was saved a moment ago has its number by now.
                setattr(record, field.name, getattr(record, field.name))
        book.keep(record)


def together(book: Writing, records: list[m.Record]) -> None:
    book.keep_many(records)


def hatch(book: Book, letter: str, number: int) -> list[m.Record]:
    """A clutch with so many hatchlings, each looked at, in the order in which they are entered."""
    clutch = m.Clutch(species=book.species, code=f"{letter}c", dam=m.Animal.objects.get(code="D"))
    sire = m.CandidateSire(clutch=clutch, sire=m.Animal.objects.get(code="S"))
    row = m.HatchRow(clutch=clutch, count=number + 2)
    records: list[m.Record] = [
        clutch, sire, row, m.RowSighting(row=row, trait=book.trait, seen=False),
    ]  # fmt: skip
    for n in range(number):
        young = m.Animal(
            species=book.species, code=f"{letter}{n}", clutch=clutch, hatch_row=row,
            hatched_on=date(2026, 7, 1),
        )  # fmt: skip
        look = m.Observation(
            animal=young, trait=book.trait, seen="no", on=date(2026, 7, 1), by=book.by
        )
        records += [young, look]
    return records


def left(entry: m.DaybookEntry, letter: str) -> dict[str, list[tuple[Any, ...]]]:
    """The rows, history and touches that an entry left, without their numbers and times."""
    found: dict[str, list[tuple[Any, ...]]] = {}
    kinds = m.Touch.objects.filter(entry=entry).values("record_type")
    for kind in ContentType.objects.filter(pk__in=kinds):
        model: Any = kind.model_class()
        touches = m.Touch.objects.filter(entry=entry, record_type=kind)
        pks = touches.values_list("record_id", flat=True)
        history = model.history.filter(history_id__in=touches.values("history_id"))
        found[model.__name__] = sorted(
            (
                re.sub(rf"\b{letter}(?=[c0-9])", "", str(row)), row.as_read == read_again(row),
                said.history_type, said.history_user,
                said.history_change_reason, saved(row) == saved(said),
                touches.get(record_id=row.pk).created,
            )
            for row in model.objects.filter(pk__in=pks)
            for said in history.filter(id=row.pk)
        )  # fmt: skip
    return found


def read_again(row: m.Record) -> dict[str, Any]:
    return dict(type(row)._base_manager.get(pk=row.pk).as_read)


def saved(row: Any) -> dict[str, Any]:
    columns = [field.attname for field in type(row)._meta.concrete_fields]
    return {name: getattr(row, name) for name in columns if not name.startswith("history_")}


def kept(book: Book, letter: str, keep: Keep) -> m.DaybookEntry:
    with writing(by=book.by, what="Hatched", reason="seen this morning") as entry:
        keep(entry, hatch(book, letter, 4))
    return entry.entry


@pytest.fixture
def book(owner: m.Account) -> Book:
    book = Book(owner)
    book.founder("D", "female", "carries")
    book.founder("S", "male", "possible", "1/2")
    return book


def test_keeping_many_leaves_the_rows_and_the_history_of_one_by_one(book: Book) -> None:
    first = left(kept(book, "a", one_by_one), "a")
    second = left(kept(book, "b", together), "b")
    assert first == second
    assert {kind: len(rows) for kind, rows in second.items()} == {
        "Animal": 4, "CandidateSire": 1, "Clutch": 1, "HatchRow": 1, "Observation": 4,
        "RowSighting": 1,
    }  # fmt: skip
    assert set(m.Animal.objects.filter(clutch__code="bc").values_list("hatched_year")) == {(2026,)}
    assert inference.differences() == []


def test_keeping_many_takes_the_queries_of_few(book: Book) -> None:
    def queries(letter: str, number: int) -> int:
        with writing(by=book.by, what="Hatched") as entry:
            records = hatch(book, letter, number)
            return queries_of(lambda: entry.keep_many(records))

    few = queries("a", 1)
    assert queries("b", 15) == few


def animal(record: m.Record) -> m.Animal:
    assert isinstance(record, m.Animal)
    return record


def faults(book: Book) -> Iterable[tuple[list[m.Record], int, dict[str, list[str]]]]:
    """Records of which one is not in order: which, and what is said."""
    taken = hatch(book, "a", 3)
    animal(taken[6]).code = "S"
    yield taken, 6, {"__all__": ["This code is in use already. Choose another."]}
    twice = hatch(book, "a", 3)
    animal(twice[6]).code = "A0"
    yield twice, 6, {"__all__": ["This code is in use already. Choose another."]}
    word = hatch(book, "a", 3)
    animal(word[6]).code, animal(word[6]).sex = "no spaces here", "both"
    yield word, 6, {
        "code": ["A code has letters, figures, and - . _ between them; no spaces."],
        "sex": ["Value 'both' is not a valid choice."],
    }  # fmt: skip
    sire = hatch(book, "a", 3)
    assert isinstance(sire[1], m.CandidateSire)
    sire[1].sire = m.Animal.objects.get(code="D")
    yield sire, 1, {"sire": ["D is not recorded as male. Correct its sex, or choose another."]}


@pytest.mark.parametrize("which", range(4))
def test_keeping_many_names_the_record_and_the_field(book: Book, which: int) -> None:
    records, place, said = list(faults(book))[which]
    before = m.DaybookEntry.objects.count(), m.Animal.objects.count()
    with pytest.raises(NotInOrder) as caught, writing(by=book.by, what="Hatched") as entry:
        entry.keep_many(records)
    assert (caught.value.record, caught.value.message_dict) == (records[place], said)
    assert (m.DaybookEntry.objects.count(), m.Animal.objects.count()) == before


def test_keeping_many_saves_parents_before_their_young(book: Book) -> None:
    dam = m.Animal(species=book.species, code="G", sex="female")
    young = m.Animal(species=book.species, code="Y", dam=dam)
    with writing(by=book.by, what="Imported") as entry:
        entry.keep_many([dam, young])
    assert m.Animal.objects.get(code="Y").dam == dam


def test_withdrawn_together_they_are_as_withdrawn_one_by_one(book: Book) -> None:
    def withdrawn(letter: str, take: Callable[[Writing, list[m.Record]], None]) -> m.DaybookEntry:
        records = hatch(book, letter, 3)
        with writing(by=book.by, what=f"Hatched {letter}") as kept:
            kept.keep_many(records)
        rows = [type(one)._base_manager.get(pk=one.pk) for one in reversed(records)]
        with writing(by=book.by, what=f"Withdrew {letter}", reason="a test") as gone:
            take(gone, rows)
        return gone.entry

    def one_after_another(entry: Writing, rows: list[m.Record]) -> None:
        for row in rows:
            entry.withdraw(row, reason="a test")

    def all_of_them(entry: Writing, rows: list[m.Record]) -> None:
        entry.withdraw_many(rows, reason="a test")

    single = withdrawn("a", one_after_another)
    before = {(one.animal_id, one.trait_id): one.two for one in m.Standing.objects.all()}
    many = withdrawn("b", all_of_them)
    assert left(single, "a") == left(many, "b")
    assert {(one.animal_id, one.trait_id): one.two for one in m.Standing.objects.all()} == before
