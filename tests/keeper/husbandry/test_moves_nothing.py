"""Husbandry moves no figure: by type it never starts a computation, and no change comes of it."""

from datetime import date
from typing import Any
from unittest import mock

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book import touched, writing
from keeper.domain.book.undoing import undo
from tests.factories import AccountFactory, AnimalFactory
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db
DAY = date(2026, 6, 1)
KINDS = m.HusbandryRecord.__subclasses__()
MORE: dict[type[m.Record], dict[str, Any]] = {
    m.Meal: {"prey": "mouse"},
    m.Weight: {"grams": "480"},
    m.HealthNote: {"text": "Wheezes."},
    m.Treatment: {"what": "as ordered"},
    m.Quarantine: {"until": date(2026, 8, 1)},
}


def record(kind: type[m.HusbandryRecord], animal: m.Animal) -> m.HusbandryRecord:
    return kind(animal=animal, on=DAY, **MORE.get(kind, {}))


def test_there_are_seven_kinds() -> None:
    assert sorted(one.__name__ for one in KINDS) == [
        *("Cleaning", "HealthNote", "Meal", "Quarantine", "Shed", "Treatment", "Weight")
    ]


@pytest.mark.parametrize("kind", KINDS)
def test_no_kind_can_say_what_it_bears_on(kind: type[m.HusbandryRecord]) -> None:
    whatever = touched.touched_by.dispatch(m.Record)
    assert touched.touched_by.dispatch(kind) is whatever
    assert kind not in touched._BEARING


@pytest.mark.parametrize("kind", KINDS)
def test_a_write_starts_no_computation_and_leaves_no_change(
    kind: type[m.HusbandryRecord],
) -> None:
    owner = AccountFactory.create(role="owner")
    animal = Book(owner).founder("F-1", "female", "possible", "1/2")
    before = list(m.StandingChange.objects.values_list("pk", flat=True))
    begun = mock.Mock(side_effect=AssertionError("began to compute"))
    with mock.patch.object(inference, "refresh", begun):
        with writing.writing(by=owner, what="Noted") as book:
            kept = book.keep(record(kind, animal))
        entry = book.entry
        with writing.writing(by=owner, what="Corrected") as book:
            kept.note = "again"
            book.keep(kept)
        with writing.writing(by=owner, what="Together") as book:
            other = AnimalFactory.create(species=animal.species)
            book.keep_many([record(kind, other)])
        undo(entry=entry, by=owner, together=True)
    assert kind.objects.get(pk=kept.pk).is_withdrawn
    assert list(m.StandingChange.objects.values_list("pk", flat=True)) == before
