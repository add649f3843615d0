"""The line of a way: nothing outside it, nothing over another."""

from collections.abc import Mapping
from datetime import date, timedelta
from itertools import pairwise

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from keeper import models as m
from keeper.domain.breeding.picture import APART, WIDTH, way_line
from keeper.domain.breeding.steps import Step
from keeper.domain.breeding.way import Done, Expected, Stage, Way

START = date(2025, 11, 1)
DAYS = st.integers(0, 400)
# Of a step: the days it was done on, and where it was not, from when and for how long it is due.
STEPS = st.dictionaries(
    st.sampled_from(Step),
    st.tuples(st.lists(DAYS, max_size=3), DAYS, st.integers(0, 40)),
    min_size=1,
    max_size=10,
)


def day(number: int) -> date:
    return START + timedelta(days=number)


def stage(step: Step, days: list[int], low: int, width: int) -> Stage:
    done = tuple(Done(day(one), "") for one in days)
    return Stage(
        step, str(step), done, None if done else Expected(day(low), day(low + width), "so")
    )


# The first draw of a run reads every module for its constants, which is no fault of the drawing.
@settings(suppress_health_check=[HealthCheck.too_slow])
@given(steps=STEPS, now=DAYS)
def test_marks_and_bars_lie_inside_and_apart(
    steps: Mapping[Step, tuple[list[int], int, int]], now: int
) -> None:
    today = day(now)
    listed = tuple(stage(step, *told) for step, told in steps.items())
    way = Way(None, m.Species(name="a python"), None, listed)
    line = way_line(way, today)
    assert line is not None
    places = [(one.x, one.x, one.y) for one in line.marks]
    places += [(one.x, one.x + one.width, one.y) for one in line.bars]
    assert len(line.marks) == sum(len(set(one.days)) for one in listed)
    assert len(line.bars) == sum(one.expected is not None for one in listed)
    for low, high, y in places:
        assert 0 <= low <= high <= WIDTH + 4
        assert 0 < y < line.line
    for lane in {y for _, _, y in places}:
        row = sorted((low, high) for low, high, y in places if y == lane)
        for (_, before), (after, _) in pairwise(row):
            assert after - before >= APART - 5
    assert line.today is None or 0 <= line.today <= WIDTH
    assert 1 <= len(line.ticks) <= 8


def test_nothing_known_is_not_drawn() -> None:
    assert way_line(Way(None, m.Species(name="a python"), None), START) is None
