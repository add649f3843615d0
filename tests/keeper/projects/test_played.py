"""Projects played through the book's own writes: what is decided, and when one is reached."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from io import StringIO
from typing import Any

import pytest
from django.core.cache import cache
from django.core.management import call_command
from django.db import transaction

from keeper import models as m
from tests.benchmarks.played.books import Book, Order, as_drawn
from tests.benchmarks.played.drawn import Genes, drawn, shown
from tests.benchmarks.played.keepers import Advised, Policy, at_random, play, seasons, step
from tests.benchmarks.played.told import later_place, place

RUNS = 40


def the_other_way(alike: Sequence[Genes]) -> Sequence[Genes]:
    return alike[::-1]


@contextmanager
def begun(seed: int, by: m.Account, order: Order = as_drawn) -> Iterator[Book]:
    """A project in a book that is forgotten afterwards."""
    cache.clear()
    with transaction.atomic():
        yield Book(drawn(seed), by, RUNS, order)
        transaction.set_rollback(True)


def decided(book: Book, keeper: Policy | Advised) -> list[Any]:
    """What the book shows and what is decided by it in a season and for the next, in codes."""
    step(book, keeper, 1, book.first_year)
    clutches = m.Clutch.objects.order_by("code").prefetch_related("candidates__sire")
    return [
        book.outlook,
        [
            (str(one), str(one.dam), [str(each) for each in one.candidates.all()])
            for one in clutches
        ],
        [(one.animal.code, one.holdback) for one in book.members()],
        sorted(m.Animal.objects.values_list("code", "status")),
        [[one.code for one in pair] for pair in keeper.pairs(book, book.first_year + 1)],
    ]


def carried(book: Book) -> Mapping[str, Genes]:
    """What each animal truly carries, by code."""
    return {one.code: book.genes[one.pk] for one in m.Animal.objects.all()}


@pytest.mark.parametrize("keeper", [Policy(), Advised(at_random, RUNS)], ids=["policy", "plan"])
def test_what_cannot_be_seen_decides_nothing(owner: m.Account, keeper: Policy | Advised) -> None:
    # Hatchlings of one sex and look change places: what differs is what they carry unseen. None
    # of them breeds within the season, so that all that can be seen stays the same.
    with begun(2, owner) as book:
        one, told = decided(book, keeper), carried(book)
    with begun(2, owner, the_other_way) as book:
        other, told_other = decided(book, keeper), carried(book)
    assert told != told_other
    assert {code: shown(genes) for code, genes in told.items()} == {
        code: shown(genes) for code, genes in told_other.items()
    }
    assert one == other


def test_it_is_reached_in_the_season_whose_looks_meet_it(owner: m.Account) -> None:
    with begun(5, owner) as book:
        course = play(book, Policy())
        wanted = {book.traits[look].pk for look in book.case.looks}
        met = dict.fromkeys(seasons(book), 0)
        for row in m.HatchRow.objects.filter(clutch__laid_on__year__gte=book.first_year):
            seen = row.sightings.filter(seen=True).values_list("trait_id", flat=True)
            if wanted <= set(seen):
                met[row.clutch.laid_on.year] += row.count
        by_season = [sum(list(met.values())[: n + 1]) for n in range(len(met))]
        assert course.season > 0
        assert by_season[course.season - 1] >= book.case.wanted
        assert course.season == 1 or by_season[course.season - 2] < book.case.wanted
        # And what the rows say by then is what the whole book says when it is asked anew.
        out = StringIO()
        call_command("recompute", "--check", stdout=out)
        assert out.getvalue() == "Every standing is what the book says.\n"


def test_nobody_dead_or_given_away_is_bred_from(owner: m.Account) -> None:
    with begun(2, owner) as book:
        keeper = Policy()
        step(book, keeper, 1, book.first_year)
        here = [one.animal for one in book.members()]
        assert book.case.places is None or len(here) <= book.case.places
        gone = next(dam for dam, _ in keeper.pairs(book, book.first_year + 1))
        gone.status = m.Status.DIED
        gone.save()
        assert gone not in [one.animal for one in book.members()]
        assert gone not in [dam for dam, _ in keeper.pairs(book, book.first_year + 1)]


def test_a_season_falls_in_its_own_part_of_an_outlook() -> None:
    one = {"seed": 1, "chances": [0.0, 0.25, 0.75], "season": {"by": 2}, "later": {"by": None}}
    assert 0 <= place(one, "by") < 0.25
    assert 0.25 <= place({**one, "season": {"by": 3}}, "by") < 0.75
    assert 0.75 <= place({**one, "season": {"by": 0}}, "by") < 1
    assert later_place(one, "by") is None
    # Asked again after two of three seasons, of which the third is the first that is left.
    again = {**one, "season": {"by": 3}, "later": {"by": [0.5]}}
    found = later_place(again, "by")
    assert found is not None and 0 <= found < 0.5
