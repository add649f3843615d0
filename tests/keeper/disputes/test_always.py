"""A record that cannot be true moves no number outside its dispute, and withdrawn none at all."""

from collections.abc import Collection, Iterator
from datetime import date
from random import Random

import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from hypothesis import HealthCheck, Phase, example, given, settings
from hypothesis import strategies as st

import genetics
from keeper import models as m
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from keeper.domain.explaining import DisputeCluster, adopt, clusters, explained
from keeper.domain.inference.questions import asking
from tests.keeper.books import Book
from tests.keeper.disputes.rows import Numbers, numbers
from tests.keeper.inference.test_always import Day

# So many explanations of a dispute are adopted in turn.
_MOST_ADOPTED = 10


def is_disputed() -> bool:
    return m.Dispute.objects.filter(closed=None).exists()


def live_in_peace(day: Day, steps: int) -> None:
    """Random things of which none contradicts the rest."""
    deeds = [day.founder, day.clutch, day.clutch, day.hatchling, day.hatchling, day.look]
    for number in range(steps):
        point = transaction.savepoint()
        try:
            (day.founder if number < 3 else day.draw.choice(deeds))()
        except (ValidationError, IndexError, ValueError):
            transaction.savepoint_rollback(point)  # could not be done that day
        else:
            if is_disputed():
                transaction.savepoint_rollback(point)


def records(day: Day) -> Iterator[m.Record]:
    """Looks and rows of hatchlings that may or may not fit the book, in a random order."""
    draw = Random(day.draw.random())
    animals = list(m.Animal.objects.live().order_by("pk"))
    clutches = list(m.Clutch.objects.live().order_by("pk"))
    traits = [day.lines[0].trait, day.lines[2].trait]
    for _ in range(20):
        if clutches and draw.random() < 0.3:
            yield m.HatchRow(clutch=draw.choice(clutches), count=draw.randint(1, 3))
        else:
            look = m.Observation(animal=draw.choice(animals), trait=draw.choice(traits))
            look.seen = draw.choice(["yes", "no"])
            look.on, look.by = date(2026, 8, 1), day.book.by
            yield look


def plant(day: Day) -> tuple[m.DaybookEntry, list[m.Record]] | None:
    """Write the first record that opens a dispute; None if all of them can be true."""
    for record in records(day):
        point = transaction.savepoint()
        with writing(by=day.book.by, what="Planted") as book:
            kept: list[m.Record] = [book.keep(record)]
            if isinstance(record, m.HatchRow):
                trait = day.lines[0].trait
                kept.append(book.keep(m.RowSighting(row=record, trait=trait, seen=True)))
        if is_disputed():
            return book.entry, kept
        transaction.savepoint_rollback(point)
    return None


def open_still(cluster: DisputeCluster) -> set[str]:
    """Which sets of records of a cluster are in dispute."""
    now = m.Dispute.objects.filter(closed=None, species=cluster.species)
    own = {one.fingerprint for one in cluster.disputes}
    return own & set(now.values_list("fingerprint", flat=True))


def undisputed(found: Numbers) -> Numbers:
    return {whose: row for whose, row in found.items() if row[-1] is None}


@pytest.mark.django_db
@settings(
    max_examples=8,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(seed=st.integers(0, 10**6))
def test_a_disputed_record_moves_nothing_outside_and_leaves_nothing_behind(
    owner: m.Account, seed: int
) -> None:
    with transaction.atomic():
        day = Day(owner, seed)
        live_in_peace(day, 12)
        before = numbers()
        planted = plant(day)
        if planted is not None:
            entry, kept = planted
            outside = undisputed(numbers())
            assert outside == {whose: before.get(whose) for whose in outside}
            point = transaction.savepoint()
            with writing(by=owner, what="Withdrew it") as book:
                for record in kept:
                    book.withdraw(record, reason="it cannot be true")
            assert numbers() == before
            assert not is_disputed()
            transaction.savepoint_rollback(point)
            undo(entry=entry, by=owner)
            assert numbers() == before
        transaction.set_rollback(True)


@pytest.mark.django_db
@settings(
    max_examples=6,
    deadline=None,
    # To make a failing book smaller takes many more of them.
    phases=(Phase.explicit, Phase.generate),
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
# A clutch of which neither the old nor the new sire carries what its hatchlings show.
@example(seed=12000)
@given(seed=st.integers(0, 10**6))
def test_no_explanation_that_is_offered_leaves_its_dispute_open(
    owner: m.Account, seed: int
) -> None:
    with transaction.atomic():
        day = Day(owner, seed)
        live_in_peace(day, 12)
        plant(day)
        for cluster in clusters():
            offered = explained(cluster)
            assert offered
            for one in offered[:_MOST_ADOPTED]:
                point = transaction.savepoint()
                adopt(cluster=cluster, key=one.key, by=owner)
                assert open_still(cluster) == set(), one.text
                transaction.savepoint_rollback(point)
        transaction.set_rollback(True)


def families() -> list[tuple[object, ...]]:
    """What pages ask of the families of each animal, and what is set aside in them."""
    found: list[tuple[object, ...]] = []
    for animal in m.Animal.objects.live().order_by("pk").select_related("species"):
        asked = asking.families_of(animal.species, [animal.pk])
        found.append((asked.clashing, [one.book.population for one in asked.subproblems]))
    return found


@pytest.mark.django_db
@settings(
    max_examples=12,
    deadline=None,
    phases=(Phase.explicit, Phase.generate),
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(seed=st.integers(0, 10**6))
def test_conflicts_that_are_stored_are_set_aside_as_if_they_were_searched_for(
    owner: m.Account, seed: int
) -> None:
    with transaction.atomic():
        Day(owner, seed).live(20)
        stored = families()
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(asking, "conflicting", lambda species: frozenset())
            assert families() == stored
        transaction.set_rollback(True)


@pytest.mark.django_db
def test_a_stored_conflict_is_not_searched_for_among_all_records(owner: m.Account) -> None:
    book = Book(owner)
    clear = [book.founder(f"N{sex}", sex, "clear") for sex in ("female", "male")]
    young = book.young("K", book.clutch("C", *clear), seen=True)
    whole: list[genetics.Population] = []
    real = genetics.smallest_conflict

    def search(
        population: genetics.Population, among: Collection[genetics.RecordName] | None = None
    ) -> tuple[genetics.RecordName, ...]:
        if among is None:
            whole.append(population)
        return real(population, among)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(genetics, "smallest_conflict", search)
        assert asking.families_of(book.species, [young.pk]).clashing
        assert whole == []
        patch.setattr(asking, "conflicting", lambda species: frozenset())
        assert asking.families_of(book.species, [young.pk]).clashing
        assert len(whole) == 1
