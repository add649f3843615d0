"""Candidate sires from introductions and locks, worked by hand."""

from datetime import date, timedelta
from fractions import Fraction

import pytest

from keeper import models as m
from keeper.domain.breeding.proposing import propose, shares_of
from tests.keeper.breeding.rows import Yard
from tests.keeper.counting import queries_of

pytestmark = pytest.mark.django_db

LAID = date(2026, 4, 20)


@pytest.fixture
def yard(owner: m.Account) -> Yard:
    return Yard(owner)


def shares(dam: m.Animal, **more: int) -> dict[str, Fraction]:
    dam = m.Animal.objects.select_related("species").get(pk=dam.pk)
    return {one.who: one.candidate.share for one in propose(dam, LAID, **more).proposed}


def test_a_lock_weighs_four_introductions_and_the_rest_is_stated(yard: Yard) -> None:
    # M-1: put together (1) and one lock (4) weigh 5; M-2: put together, 1. Of the 995 in 1000 that
    # the dam alone leaves, 5/6 are 829.2 and 1/6 is 165.8 thousandths; what is over is the first's.
    yard.note("introduced", date(2026, 1, 10), yard.one)
    yard.note("lock", date(2026, 1, 12), yard.one)
    yard.note("separated", date(2026, 1, 15), yard.one)
    yard.note("introduced", date(2026, 2, 1), yard.other)
    assert shares(yard.dam) == {
        "M-1": Fraction(830, 1000),
        "M-2": Fraction(165, 1000),
        "the dam alone": Fraction(1, 200),
    }


def test_the_keeper_changes_what_a_lock_weighs(yard: Yard) -> None:
    # 1 + 1 against 1: of 995 thousandths 663.3 and 331.7; what is over is the first's.
    yard.note("introduced", date(2026, 1, 10), yard.one)
    yard.note("lock", date(2026, 1, 12), yard.one)
    yard.note("introduced", date(2026, 2, 1), yard.other)
    assert shares(yard.dam, lock_weight=1)["M-1"] == Fraction(664, 1000)


def test_the_keepers_own_rate_of_dams_alone_counts_and_never_for_most_of_a_clutch(
    yard: Yard, owner: m.Account
) -> None:
    yard.note("introduced", date(2026, 2, 1), yard.other)
    for typed, share in (("1/50", Fraction(1, 50)), ("9/10", Fraction(1, 4))):
        m.BaseRate.objects.all().delete()
        m.BaseRate.objects.create(mishap="alone", chance=typed, ground="my own count")
        assert shares(yard.dam)["the dam alone"] == share


def test_a_mate_of_an_earlier_season_keeps_the_base_rate_of_stored_sperm(yard: Yard) -> None:
    yard.lay("25-01", date(2025, 4, 1))
    yard.note("introduced", date(2026, 2, 1), yard.other)
    assert shares(yard.dam) == {
        "M-2": 1 - Fraction(1, 50) - Fraction(1, 200),
        "M-1": Fraction(1, 50),
        "the dam alone": Fraction(1, 200),
    }


def test_a_species_may_know_neither_stored_sperm_nor_dams_alone(owner: m.Account) -> None:
    yard = Yard(owner, stores_sperm=False, alone_known=False)
    yard.lay("25-01", date(2025, 4, 1))
    yard.note("lock", date(2026, 2, 1), yard.other)
    assert shares(yard.dam) == {"M-2": Fraction(1)}


def test_whoever_came_after_laying_or_left_long_before_is_left_out_and_why(yard: Yard) -> None:
    yard.note("introduced", date(2025, 6, 1), yard.one)
    yard.note("separated", date(2025, 6, 3), yard.one)
    yard.note("introduced", date(2026, 4, 21), yard.other)
    found = propose(yard.dam, LAID)
    assert found.proposed == ()
    assert found.left_out == (
        "M-1: left on 3 June 2025, 321 days before laying; 180 count.",
        "M-2: put in on 21 April 2026, after laying.",
    )


def test_a_male_not_separated_is_with_her_until_she_lays_and_no_longer(yard: Yard) -> None:
    yard.note("introduced", date(2025, 1, 1), yard.one)
    yard.lay("25-01", date(2025, 4, 1))
    assert "M-1: with her before she laid on 1 April 2025" in propose(yard.dam, LAID).left_out[0]


def test_a_lock_without_an_introduction_is_that_day_alone(yard: Yard) -> None:
    yard.note("lock", LAID - timedelta(days=181), yard.one)
    yard.note("lock", LAID - timedelta(days=180), yard.other)
    assert list(shares(yard.dam)) == ["M-2", "the dam alone"]


@pytest.mark.parametrize("weights", [[1], [5, 1], [1, 1, 1], [7, 3, 2, 2, 9]])
def test_shares_sum_to_what_is_left(weights: list[int]) -> None:
    rest = 1 - Fraction(1, 50) - Fraction(1, 1000)
    assert sum(shares_of(rest, weights)) == rest


def test_proposing_takes_as_many_queries_for_more_males(yard: Yard) -> None:
    yard.note("introduced", date(2026, 1, 10), yard.one)
    few = queries_of(lambda: propose(yard.dam, LAID))
    for number in range(3, 8):
        yard.note("introduced", date(2026, 1, number), yard.animal(f"M-{number}", "male"))
    assert queries_of(lambda: propose(yard.dam, LAID)) == few
