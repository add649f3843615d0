"""What came of projects that were played, compared with what was said of them."""

from collections.abc import Iterable, Mapping, Sequence
from random import Random
from statistics import fmean, stdev
from typing import Any

SLACK = 0.03
"""How far the middle 80 % may be off."""


def together(projects: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """What was played of one project at several times, as one; of a way the last counts."""
    found: dict[int, dict[str, Any]] = {}
    for one in projects:
        own = found.setdefault(one["seed"], {**one, "season": {}, "later": {}})
        for what in ("season", "later"):
            own[what].update(one.get(what, {}))
    return list(found.values())


def report(projects: Sequence[Mapping[str, Any]]) -> None:
    """Print how the seasons fall in their outlooks, by who kept them; and what advice saves."""
    if not projects:
        print("no projects")
        return
    ways = dict.fromkeys(name for one in projects for name in one["season"])
    for name in ways:
        own = [one for one in projects if name in one["season"]]
        print(f"{name}: {len(own)} projects, {fmean(one['seconds'] for one in own):.1f} s of CPU "
              "each")  # fmt: skip
        _places("from the start", [place(one, name) for one in own])
        again = [where for one in own if (where := later_place(one, name)) is not None]
        if again:
            _places("asked again later, of those that go on", again)
        _interval(name, own)
    for name in ways:
        if name != "advice" and "advice" in ways:
            _saved(name, [one for one in projects if {"advice", name} <= one["season"].keys()])


def place(one: Mapping[str, Any], name: str) -> float:
    """Where the season falls in its outlook, from 0 to 1; within the season it is drawn."""
    return _place(one["season"][name], one["chances"], f"{one['seed']} {name}")


def later_place(one: Mapping[str, Any], name: str) -> float | None:
    """The same in the outlook that the book showed some seasons later."""
    later = one.get("later", {}).get(name)
    if later is None:
        return None
    gone = len(one["chances"]) - len(later)
    return _place(max(0, one["season"][name] - gone), later, f"{one['seed']} {name} later")


def _place(season: int, chances: Sequence[float], luck: str) -> float:
    below = [0.0, *chances]
    low, high = (below[season - 1], below[season]) if season else (below[-1], 1.0)
    return low + Random(luck).random() * (high - low)


def _places(what: str, places: Sequence[float]) -> None:
    number = len(places)
    inside = sum(0.1 <= one <= 0.9 for one in places) / number
    bins = [sum(min(9, int(10 * one)) == tenth for one in places) for tenth in range(10)]
    chi = sum((count - number / 10) ** 2 for count in bins) / (number / 10)
    mean = fmean(places)
    error = (0.16 / number) ** 0.5
    print(f"  {what}: {number}; the middle 80 % holds {inside:.1%}, error {error:.1%}")
    error = (1 / 12 / number) ** 0.5
    print(f"  mean place {mean:.3f}, error {error:.3f}, z {(mean - 0.5) / error:+.2f}")
    print(f"  by tenths {bins}; chi-squared {chi:.1f} on 9 (below 16.9 in 95 of 100)")


def _interval(name: str, projects: Sequence[Mapping[str, Any]]) -> None:
    """The interval from the first season with a tenth to the first with nine, as pages show it."""
    said, held = [], []
    for one in projects:
        chances = [0.0, *one["chances"], 1.0]
        seasons = range(1, len(chances))
        first = next(n for n in seasons if chances[n] >= 0.1)
        last = next(n for n in seasons if chances[n] >= 0.9)
        said.append(chances[last] - chances[first - 1])
        # None within the seasons counts as the one after the last.
        season = one["season"][name] or len(chances) - 1
        held.append(first <= season <= last)
    number = len(said)
    error = sum(p * (1 - p) for p in said) ** 0.5 / number
    off = fmean(held) - fmean(said)
    judged = "holds" if abs(off) <= max(SLACK, 2 * error) else "does not hold"
    print(f"  whole seasons from 10 to 90 %: held {fmean(held):.1%}, by the outlooks "
          f"{fmean(said):.1%}, error {error:.1%}: {judged}")  # fmt: skip
    for season in (2, 4, 6, 8, 10):
        reached = fmean(0 < one["season"][name] <= season for one in projects)
        told = [one["chances"][season - 1] for one in projects]
        error = sum(p * (1 - p) for p in told) ** 0.5 / number
        print(f"  by season {season}: {reached:.1%}, by the outlooks {fmean(told):.1%}, "
              f"error {error:.1%}")  # fmt: skip


def _saved(name: str, projects: Sequence[Mapping[str, Any]]) -> None:
    """Seasons that advice saves against another way; none within those looked ahead: one more."""
    late = len(projects[0]["chances"]) + 1
    more = [(one["season"][name] or late) - (one["season"]["advice"] or late) for one in projects]
    if len(more) > 1:
        error = stdev(more) / len(more) ** 0.5
        print(f"advice saves against {name} {fmean(more):.2f} seasons, give or take "
              f"{1.96 * error:.2f} ({len(more)} projects)")  # fmt: skip
