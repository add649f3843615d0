"""What is noted: one entry a step, checked inside the lock, and no figure moves."""

from datetime import date, timedelta
from typing import Any
from unittest import mock

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused
from keeper.domain.breeding import writes
from tests.keeper.breeding.rows import Yard

pytestmark = pytest.mark.django_db

LAID = date(2026, 4, 20)


@pytest.fixture
def yard(owner: m.Account) -> Yard:
    return Yard(owner)


def lost(clutch: m.Clutch) -> int:
    return m.Clutch.objects.get(pk=clutch.pk).lost


def test_nothing_noted_starts_an_inference(yard: Yard) -> None:
    clutch = yard.lay("26-01", LAID)
    yard.hatch(clutch, LAID + timedelta(days=60), count=2)
    before = m.StandingChange.objects.count()
    with mock.patch.object(inference, "refresh") as refreshed:
        for kind in ("introduced", "lock", "separated"):
            yard.note(kind, date(2026, 1, 5), yard.one)
        for kind in ("follicles", "ovulation", "shed"):
            yard.note(kind, date(2026, 2, 5))
        yard.step(clutch, "candled", LAID + timedelta(days=5), 4, lost=1)
        yard.step(clutch, "pip", LAID + timedelta(days=58))
        yard.step(clutch, "first-meal", LAID + timedelta(days=70), 2)
        box = m.Incubation(clutch=clutch, since=LAID, box="B 2", temperature="31.5")
        writes.keep_incubation(incubation=box, by=yard.by)
        writes.withdraw_noted(noted=m.ClutchStep.objects.all()[0], reason="a slip", by=yard.by)
    refreshed.assert_not_called()
    assert m.StandingChange.objects.count() == before


def test_each_step_is_one_entry_and_is_undone_as_one(yard: Yard) -> None:
    clutch = yard.lay("26-01", LAID)
    entries = m.DaybookEntry.objects.count()
    yard.step(clutch, "candled", LAID + timedelta(days=5), 3, lost=2)
    assert m.DaybookEntry.objects.count() == entries + 1
    assert (m.ClutchStep.objects.live().count(), lost(clutch)) == (2, 2)
    undo(entry=m.DaybookEntry.objects.order_by("-pk")[0], by=yard.by)
    assert (m.ClutchStep.objects.live().count(), lost(clutch)) == (0, 0)


def test_losses_by_day_never_exceed_the_eggs(yard: Yard) -> None:
    clutch = yard.lay("26-01", LAID, eggs=3)
    yard.step(clutch, "lost", LAID + timedelta(days=9), 2)
    with pytest.raises(Refused, match=r"3 eggs, but 0 slugs \+ 4 lost \+ 0 hatched are 4"):
        yard.step(clutch, "lost", LAID + timedelta(days=10), 2)
    yard.step(clutch, "lost", LAID + timedelta(days=10), 1)
    assert lost(clutch) == 3


def test_the_hatch_counts_those_lost_by_day_at_least(yard: Yard) -> None:
    clutch = yard.lay("26-01", LAID)
    yard.step(clutch, "lost", LAID + timedelta(days=9), 2)
    with pytest.raises(Refused, match="2 lost were noted by day, and 1 are counted here"):
        yard.hatch(clutch, LAID + timedelta(days=60), count=2, lost=1)
    yard.hatch(clutch, LAID + timedelta(days=60), count=2, lost=3)
    assert lost(clutch) == 3
    # One of the three was counted on hatch day alone: those by day may grow into it.
    yard.step(clutch, "lost", LAID + timedelta(days=30), 1)
    assert lost(clutch) == 3


def test_taking_a_loss_back_takes_it_out_of_the_count(yard: Yard) -> None:
    clutch = yard.lay("26-01", LAID)
    step = yard.step(clutch, "lost", LAID + timedelta(days=9), 2)
    writes.withdraw_noted(noted=step, reason="not that clutch", by=yard.by)
    assert lost(clutch) == 0
    with pytest.raises(Refused, match=r"was withdrawn\. Restore it first"):
        writes.withdraw_noted(noted=step, reason="again", by=yard.by)
    writes.restore_noted(noted=m.ClutchStep.objects.get(pk=step.pk), by=yard.by)
    assert lost(clutch) == 2


def test_first_meals_of_many_are_one_entry(yard: Yard) -> None:
    clutch = yard.lay("26-01", LAID)
    yard.hatch(clutch, LAID + timedelta(days=60), count=4, own=3)
    young = list(m.Animal.objects.filter(clutch=clutch))
    entries = m.DaybookEntry.objects.count()
    fresh = m.Clutch.objects.get(pk=clutch.pk)
    step = m.ClutchStep(clutch=fresh, kind="first-meal", on=LAID + timedelta(days=75), count=1)
    writes.note_step(step=step, young=young, by=yard.by)
    assert m.DaybookEntry.objects.count() == entries + 1
    assert m.DaybookEntry.objects.order_by("-pk")[0].what == "First meal: 4 of 26-01"
    with pytest.raises(Refused, match="2 young without a record are more than the 1 there are"):
        yard.step(clutch, "first-meal", LAID + timedelta(days=76), 1)
    with pytest.raises(ValidationError, match="noted of this one already"):
        writes.note_step(
            step=m.ClutchStep(clutch=fresh, kind="first-meal", on=LAID + timedelta(days=76)),
            young=young[:1], by=yard.by,
        )  # fmt: skip


def test_what_cannot_be_is_refused(yard: Yard) -> None:
    tomorrow = timezone.localdate() + timedelta(days=1)
    with pytest.raises(Refused, match="still to come"):
        yard.note("ovulation", tomorrow)
    yard.note("ovulation", LAID)
    with pytest.raises(ValidationError, match="noted on this day already"):
        yard.note("ovulation", LAID)
    with pytest.raises(ValidationError, match="Name the male"):
        yard.note("lock", LAID)
    with pytest.raises(ValidationError, match="M-1 is not recorded as female"):
        yard.note("ovulation", LAID, dam=yard.one)
    m.Animal.objects.filter(pk=yard.dam.pk).update(
        status="sold", status_since=LAID - timedelta(days=1)
    )
    with pytest.raises(Refused, match="F-1 was not here any more: sold"):
        yard.note("shed", LAID)


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "danced"},
        {"kind": "lock"},
        {"kind": "ovulation", "size_mm": "20.0"},
    ],
)
def test_the_database_refuses_what_means_nothing(yard: Yard, wrong: dict[str, Any]) -> None:
    row = m.BreedingEvent(dam=yard.dam, on=LAID, **wrong)
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()


def test_a_sex_that_what_is_noted_rests_on_cannot_change(yard: Yard) -> None:
    yard.note("lock", LAID, yard.one)
    male = m.Animal.objects.get(pk=yard.one.pk)
    male.sex = "female"
    with pytest.raises(ValidationError, match=r"as a male\. Withdraw that first"):
        male.full_clean()


def test_a_litter_lies_in_no_box(owner: m.Account) -> None:
    yard = Yard(owner, bearing="live")
    clutch = m.Clutch.objects.create(
        species=yard.species, code="L-1", dam=yard.dam, hatched_on=LAID
    )
    with pytest.raises(Refused, match="bears live young"):
        writes.keep_incubation(
            incubation=m.Incubation(clutch=clutch, since=LAID, box="B"), by=yard.by
        )
