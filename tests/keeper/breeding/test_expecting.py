"""When the next step is expected: the species' figures, then the keeper's own, then hers."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from keeper import models as m
from keeper.domain.breeding.days import Took, day_after, took
from keeper.domain.breeding.due import due
from keeper.domain.breeding.steps import INTERVALS, Interval, Span, Step
from keeper.domain.breeding.way import between, expectations, way_of_clutch, way_of_season
from tests.keeper.breeding.rows import Yard
from tests.keeper.counting import queries_of

BY_STEP = {(one.start, one.end): one for one in INTERVALS}
OVULATION_SHED = BY_STEP[Step.OVULATION, Step.SHED]
LAID_HATCHED = BY_STEP[Step.LAID, Step.HATCHED]
DAY = date(2026, 1, 1)


@pytest.fixture
def yard(owner: m.Account) -> Yard:
    return Yard(
        owner, ovulation_shed_least=16, ovulation_shed_most=24, way_source="a keeper’s notes"
    )


def past_seasons(yard: Yard, took_days: Sequence[int], dam: m.Animal | None = None) -> None:
    """Seasons from 2010 on, in which ovulation came so many days before the shed."""
    for number, days in enumerate(took_days):
        laid = date(2010 + number, 4, 30)
        shed = laid - timedelta(days=30)
        yard.note("ovulation", shed - timedelta(days=days), dam=dam)
        yard.note("shed", shed, dam=dam)
        code = f"{(dam or yard.dam).code}-{number}"
        yard.lay(code, laid, dam=dam)


@pytest.mark.django_db
def test_the_figures_of_the_species_are_said_with_their_source(yard: Yard) -> None:
    yard.note("ovulation", date(2026, 2, 20))
    way = way_of_season(yard.dam, date(2026, 3, 1))
    assert way.next is not None
    assert way.next.expected is not None
    assert (way.next.step, way.next.expected.days) == (Step.SHED, "8 to 16 March")
    assert way.next.expected.ground == "16 to 24 days after “ovulation”; a keeper’s notes"


@pytest.mark.django_db
def test_what_is_beyond_the_next_follows_at_least_and_at_most(yard: Yard) -> None:
    # The shed 16 to 24 days on; laying 21 to 35 after it: 37 to 59; hatching 60 after that.
    yard.note("ovulation", DAY)
    way = way_of_season(yard.dam, DAY)
    ahead = {one.step: one.expected for one in way.stages if one.expected}
    laid, hatched = ahead[Step.LAID], ahead[Step.HATCHED]
    assert (laid.low, laid.high) == (DAY + timedelta(37), DAY + timedelta(59))
    assert laid.ground.endswith("as with pythons: common practice, no source")
    assert (hatched.low, hatched.high) == (DAY + timedelta(97), DAY + timedelta(119))


@pytest.mark.django_db
def test_five_intervals_of_the_species_count_before_its_figures(yard: Yard) -> None:
    others = [yard.animal(f"F-{number}", "female") for number in range(2, 7)]
    for number, dam in enumerate(others[:4]):
        past_seasons(yard, [18 + number], dam)
    assert (yard.species.pk, OVULATION_SHED) not in took().of_species
    past_seasons(yard, [22], others[4])
    # Of 18 … 22 the 10 % quantile is 18.4, the 90 % quantile 21.6: outwards to whole days.
    span = took().of_species[yard.species.pk, OVULATION_SHED]
    assert span == Span(18, 22, "your own 5 clutches", 5, 20.0)
    assert took().of_dam == {}


@pytest.mark.django_db(transaction=True)
def test_what_intervals_took_is_kept_until_anything_is_written(yard: Yard) -> None:
    past_seasons(yard, [16, 17])
    assert took(yard.species.pk) is took(yard.species.pk)
    assert took().of_dam == {}
    later = yard.animal("F-9", "female")
    past_seasons(yard, [19, 20, 21], later)
    assert took().of_dam[later.pk, OVULATION_SHED].known == "her own 3 clutches"


@pytest.mark.django_db
def test_three_of_her_own_count_before_those_of_all(yard: Yard) -> None:
    for number in range(2, 7):
        past_seasons(yard, [16], yard.animal(f"F-{number}", "female"))
    past_seasons(yard, [20, 21, 22])
    yard.note("ovulation", date(2026, 2, 1))
    way = way_of_season(yard.dam, date(2026, 2, 2))
    assert way.next is not None
    assert way.next.expected is not None
    assert way.next.expected.ground == (
        "20 to 22 days after “ovulation”; her own 3 clutches, 10 to 90 %, median 21"
    )


@pytest.mark.django_db
def test_days_of_one_season_do_not_run_into_the_next(yard: Yard) -> None:
    # An ovulation of 2010 that nothing came of is not of the clutch of 2012.
    yard.note("ovulation", date(2010, 2, 1))
    yard.note("ovulation", date(2012, 2, 20))
    yard.note("shed", date(2012, 3, 10))
    clutch = yard.lay("12-01", date(2012, 4, 5))
    stage = way_of_clutch(clutch).stage(Step.OVULATION)
    assert stage is not None
    assert stage.days == [date(2012, 2, 20)]


@pytest.mark.django_db
def test_all_days_of_the_book_are_one_query(yard: Yard) -> None:
    past_seasons(yard, [16])
    assert queries_of(took) == 1
    past_seasons(yard, [17, 18, 19], yard.animal("F-2", "female"))
    assert queries_of(took) == 1
    assert queries_of(lambda: took(yard.species.pk)) == 1


@pytest.mark.django_db
def test_a_litter_has_no_eggs_and_is_born(owner: m.Account) -> None:
    yard = Yard(owner, bearing="live", ovulation_birth_least=100, ovulation_birth_most=120)
    yard.note("ovulation", DAY)
    way = way_of_season(yard.dam, DAY)
    assert [one.name for one in way.stages] == ["ovulation", "born"]
    assert way.next is not None
    assert way.next.expected is not None
    assert way.next.expected.days == "11 April to 1 May"


@pytest.mark.django_db
def test_what_is_due_is_read_in_as_many_queries_for_more(yard: Yard) -> None:
    yard.note("ovulation", DAY)
    today = DAY + timedelta(days=20)
    (one,) = due(today)
    assert (one.step, one.dam, one.late) == (Step.SHED, yard.dam, False)
    assert due(DAY + timedelta(days=25))[0].late
    few = queries_of(lambda: due(today))
    for number in range(2, 7):
        yard.note("ovulation", DAY, dam=yard.animal(f"F-{number}", "female"))
    assert len(due(today)) == 6
    assert queries_of(lambda: due(today)) == few


@pytest.mark.django_db
def test_young_are_due_until_their_meals_are_noted(yard: Yard) -> None:
    clutch = yard.lay("26-01", DAY, eggs=2)
    yard.hatch(clutch, DAY + timedelta(days=60), count=2)
    today = DAY + timedelta(days=65)
    (one,) = due(today)
    assert (one.step, one.clutch, one.expected.low) == (
        Step.FIRST_SHED, clutch, DAY + timedelta(days=66),
    )  # fmt: skip
    yard.step(clutch, "first-shed", DAY + timedelta(days=68), 2)
    (one,) = due(DAY + timedelta(days=70))
    assert one.step == Step.FIRST_MEAL
    yard.step(clutch, "first-meal", DAY + timedelta(days=70), 2)
    assert due(DAY + timedelta(days=70)) == []


DAYS = st.dates(date(1990, 1, 1), date(2100, 1, 1))
SPANS = st.tuples(st.integers(0, 200), st.integers(0, 200)).map(sorted)


@given(start=DAYS, days=st.integers(0, 400))
def test_days_are_counted_by_the_calendar_alone(start: date, days: int) -> None:
    # Leap days are days; no clock is asked.
    assert (day_after(start, days) - start).days == days


def test_a_leap_day_is_one_day_more() -> None:
    assert day_after(date(2028, 2, 20), 20) == date(2028, 3, 11)
    assert day_after(date(2027, 2, 20), 20) == date(2027, 3, 12)
    assert day_after(date.max, 5) == date.max


@given(start=DAYS, spans=st.dictionaries(st.sampled_from(INTERVALS), SPANS))
def test_what_is_expected_lies_in_order_and_after_what_was(
    start: date, spans: Mapping[Interval, Sequence[int]]
) -> None:
    species = m.Species(name="a python", bearing="eggs")
    how = Took({(0, one): Span(low, high, "so") for one, (low, high) in spans.items()})
    species.pk = 0
    found = expectations(species, None, {Step.OVULATION: [start]}, how)
    for one in found.values():
        assert start <= one.low <= one.high
    for interval in INTERVALS:
        if interval.start in found and interval.end in found:
            later, sooner = found[interval.end], found[interval.start]
            assert later.low >= min(sooner.low, start) and later.high >= later.low
    assert Step.OVULATION not in found


@given(low=DAYS, days=st.integers(1, 400))
def test_two_days_in_words_name_both(low: date, days: int) -> None:
    high = low + timedelta(days=days)
    said = between(low, high)
    assert said.startswith(str(low.day))
    assert said.endswith((f"{high.day} {high:%B}", f"{high.day} {high:%B %Y}"))


def test_the_hatch_is_expected_when_the_species_page_says(yard_of_sixty: m.Species) -> None:
    found = expectations(yard_of_sixty, None, {Step.LAID: [date(2028, 2, 1)]}, Took())
    assert (found[Step.HATCHED].low, found[Step.HATCHED].high) == (
        date(2028, 3, 30), date(2028, 4, 6),
    )  # fmt: skip
    assert found[Step.HATCHED].ground == ("58 to 65 days after “laid”; common practice, no source")


@pytest.fixture
def yard_of_sixty() -> m.Species:
    return m.Species(
        pk=1, name="a python", incubation_days=60, incubation_least=58, incubation_most=65
    )
