"""Which copies are kept."""

from datetime import UTC, datetime, timedelta

from keeper.domain.backups.rotation import kept

NOW = datetime(2026, 11, 30, 5, 15, tzinfo=UTC)


def days_ago(moments: set[datetime]) -> list[int]:
    return sorted((NOW - at).days for at in moments)


def test_three_years_of_daily_copies() -> None:
    daily = [NOW - timedelta(days=number) for number in range(3 * 365)]
    found = days_ago(kept(daily, last=7, weeks=5, months=24))
    assert found[:7] == [0, 1, 2, 3, 4, 5, 6]
    # The newest of a week is its Sunday, but for the present one, which began today, a Monday.
    assert [day for day in found if day < 35] == [*range(7), 8, 15, 22, 30]
    months = {(at.year, at.month) for at in kept(daily, last=7, weeks=5, months=24)}
    assert len(months) == 24
    assert len(found) < 7 + 5 + 24


def test_many_on_one_day_push_out_none_of_the_days_before() -> None:
    daily = [NOW - timedelta(days=number) for number in range(1, 20)]
    many = [NOW - timedelta(minutes=number) for number in range(50)]
    found = kept([*daily, *many], last=7, weeks=0, months=0)
    assert set(daily[:6]) <= found
    assert len(found & set(many)) == 7


def test_the_newest_is_never_dropped() -> None:
    assert kept([NOW], last=0, weeks=0, months=0) == {NOW}
    assert kept([], last=7, weeks=5, months=24) == set()
