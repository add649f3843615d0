"""How a number moved over time: a plot, and the same as a table with the cause of each move."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from keeper.domain.animals.moves import all_moves
from keeper.domain.saying import wording
from keeper.models import Animal, DaybookEntry, Line, StandingChange, Trait
from keeper.pages.animals.timeplot import State, TimePlot, time_plot


@dataclass(frozen=True)
class Step:
    """One move: its number in the plot, from what to what, and whether it was taken back."""

    number: int
    change: StandingChange
    undone_by: DaybookEntry | None

    @property
    def entry(self) -> DaybookEntry:
        """The entry of the daybook that made it."""
        return self.change.entry

    @property
    def on(self) -> date:
        """The day of that entry."""
        return timezone.localdate(self.entry.at)


@dataclass(frozen=True)
class Moving:
    """One number over time.

    Attributes:
        trait, line: whose number.
        plot: of more than one move.
        steps: the newest first.
        earlier: how many moves the table leaves out; the plot has them all.
    """

    trait: Trait
    line: Line | None
    plot: TimePlot | None
    steps: tuple[Step, ...]
    earlier: int

    @property
    def all(self) -> int:
        """How many moves there are."""
        return self.earlier + len(self.steps)

    @property
    def key(self) -> str:
        """Part of the page's element identifiers."""
        return f"{self.trait.pk}-{self.line.pk if self.line else 'all'}"


def moving(moves: Sequence[StandingChange], *, most: int | None = None) -> Moving | None:
    """Return how one number moved, of its moves in order; None if it never did."""
    if not moves:
        return None
    steps = [Step(number, one, one.entry.undone_by) for number, one in enumerate(moves, start=1)]
    first = moves[0]
    before = State(
        steps[0].on,
        first.two_before or 0.0,
        1.0 if first.none_before is None else first.none_before,
        first.disputed_before,
    )
    states = [State(s.on, s.change.two, s.change.none, s.change.disputed) for s in steps]
    listed = steps[-most:] if most else steps
    return Moving(
        trait=first.trait,
        line=first.line,
        plot=time_plot(before, states, timezone.localdate()) if len(states) > 1 else None,
        steps=tuple(reversed(listed)),
        earlier=len(steps) - len(listed),
    )


def movings(animal: Animal) -> tuple[Moving, ...]:
    """Return how every number of an animal moved, by trait; one query for all."""
    grouped: dict[Trait, dict[Line | None, list[StandingChange]]] = {}
    for one in all_moves(animal):
        grouped.setdefault(one.trait, {}).setdefault(one.line, []).append(one)
    found = []
    for trait in sorted(grouped, key=lambda one: one.name):
        found += [moving(moves) for moves in _told_apart(grouped[trait])]
    return tuple(one for one in found if one is not None)


def _told_apart(
    by_line: dict[Line | None, list[StandingChange]],
) -> Iterable[list[StandingChange]]:
    """The whole trait first; where its only line moved in the same way, that line alone."""
    whole = by_line.pop(None, [])
    lines = sorted(by_line.values(), key=lambda moves: str(moves[0].line))
    if len(lines) == 1 and _words(lines[0]) == _words(whole):
        return lines
    return [whole, *lines] if whole else lines


def _words(moves: Sequence[StandingChange]) -> list[tuple[int, str, str]]:
    return [(one.entry_id, wording.before(one), wording.after(one)) for one in moves]
