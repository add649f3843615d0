"""Ways to a goal: which crosses lead there from the animals at hand, in how many seasons.

Every step but the last descends into the last, so a route is its last couple: all of its steps are
those that the couple descends from.  In a generation there are one or two steps, so a route is
found by choosing one or two steps of the first generation, then one or two that use them, then
the couple.

The search is exact.  A step's clutch is at most what the best gives of what its parents may be
(`Breeding.crossed`), so a route takes at least the seasons that follow
from these, and is weighed only where that may put it among the ten best.  Sets of first steps are
taken in the order of the least that a route through them can take; a further generation costs at
least 1 + `mature`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, combinations, product
from typing import Literal, NamedTuple

import numpy as np

from genetics.arrays import Floats1, Floats2, Ints1
from genetics.json_values import JsonObject
from genetics.plans.questions import RoutesQuestion
from genetics.plans.steps import (
    BOTH,
    FEMALE,
    MALE,
    Breeding,
    Context,
    Figures,
    Parent,
    Step,
    descent,
)
from genetics.solving import Solved

MOST_ROUTES = 10
SAME = 1e-9
"""Seasons that differ by no more are equal."""
KEPT: tuple[Literal["female", "male", "both"], ...] = ("female", "male", "both")


@dataclass(frozen=True, slots=True)
class RouteStep:
    """One cross of a route.

    Attributes:
        generation: 1 for a cross of animals at hand.
        dam, sire: ids of animals at hand, or `"k1"` for what the first step kept.
        shows: the look that is kept; in the last step the goal's.
        sex: what later steps use; in the last step the goal's, else `"any"`.
        chance: that a hatchling has the look; in the last step, that it meets the goal.
        clutch: that a clutch has what is kept.
        known: whether all young of the look and sex kept are of one genotype at the goal's loci.
        needed: hatchlings for a chance of 95 % of what is kept, `None` where no number is enough.
    """

    generation: int
    dam: str
    sire: str
    shows: Mapping[str, bool]
    sex: Literal["female", "male", "both", "any"]
    chance: float
    clutch: float
    known: bool
    needed: int | None


@dataclass(frozen=True, slots=True)
class Route:
    """Steps by generation, and the seasons that they take: the slowest step's of each."""

    steps: tuple[RouteStep, ...]
    generations: int
    seasons: float

    def as_json(self) -> JsonObject:
        """The contract's object."""
        return {
            "steps": [
                {
                    "dam": step.dam, "sire": step.sire, "shows": dict(step.shows),
                    "sex": step.sex, "chance": step.chance, "clutch": step.clutch,
                    "known": step.known,
                }
                for step in self.steps
            ],
            "generations": self.generations,
            "seasons": self.seasons,
        }  # fmt: skip


class Found(NamedTuple):
    """A route as its last couple."""

    seasons: float
    steps: int
    dam: Parent
    sire: Parent


def routes(solved: Solved, question: RoutesQuestion) -> tuple[Route, ...]:
    """The ten routes of fewest seasons, then of fewest steps; animals of unknown sex take no part.

    Raises:
        BeyondExact: too many genotypes at once, or too many routes to be weighed.
    """
    search = _Search(Breeding(solved, question), question)
    for generations in range(1, question.generations + 1):
        search.run(generations)
    return tuple(search.written(one) for one in search.best)


def routes_answers(solved: Solved, question: RoutesQuestion) -> list[JsonObject]:
    """The contract's answer, the best route first."""
    return [route.as_json() for route in routes(solved, question)]


class _Search:
    """The best routes so far, and what is left to weigh."""

    def __init__(self, breeding: Breeding, question: RoutesQuestion) -> None:
        self.breeding = breeding
        self.mature = float(question.mature)
        self.best: list[Found] = []
        self.hand = {i: breeding.possible(i) for i in range(len(question.animals))}
        self._final: dict[tuple[int, int], float] = {}
        self._first: list[Step] | None = None

    # --- the best ---------------------------------------------------------------------------------

    def beaten(self, seasons: float, steps: int) -> bool:
        """Whether a route of at least so many seasons and steps is not among the best."""
        if len(self.best) < MOST_ROUTES:
            return False
        last = self.best[-1]
        ties = seasons > last.seasons - SAME and steps >= last.steps
        return ties or seasons > last.seasons + SAME

    def weigh(self, dam: Parent, sire: Parent) -> None:
        """Work out a route's figures and take it in, if it is among the best."""
        steps = descent(dam, sire)
        if self.beaten(self.least(dam, sire), len(steps) + 1):
            return
        seasons = self.seasons(dam, sire, steps)
        if seasons is None or self.beaten(seasons, len(steps) + 1):
            return
        found = sorted([*self.best, Found(seasons, len(steps) + 1, dam, sire)], key=_by_seasons)
        ranked: list[Found] = []
        while found:
            ties = [one for one in found if one.seasons <= found[0].seasons + SAME]
            found = found[len(ties) :]
            ranked += sorted(ties, key=lambda one: one.steps)
        self.best = ranked[:MOST_ROUTES]

    def least(self, dam: Parent, sire: Parent) -> float:
        """The seasons below which a route cannot be, by what its animals may be."""
        steps = descent(dam, sire)
        used = _sexes_used(steps, dam, sire)
        waits: dict[int, float] = {}
        for step in steps:
            crossed = self.breeding.crossed(*self.sets(step.dam, step.sire))
            wait = _wait(float(crossed.clutch[step.look, used[step]]))
            waits[step.generation] = max(waits.get(step.generation, 0.0), wait)
        last = self.last_wait(*self.sets(dam, sire))
        return sum(waits.values()) + last + self.mature * len(waits)

    def seasons(self, dam: Parent, sire: Parent, steps: Sequence[Step]) -> float | None:
        """The seasons that a route takes; None if it cannot be, or once it is beaten."""
        used = _sexes_used(steps, dam, sire)
        last = self.last_wait(*self.sets(dam, sire))
        generations = sorted({step.generation for step in steps})
        total = self.mature * len(generations)
        for done, generation in enumerate(generations, start=1):
            total += max(self.wait(s, used) for s in steps if s.generation == generation)
            if self.beaten(total + len(generations) - done + last, len(steps) + 1):
                return None
        figures = self.breeding.figures(_context(dam, sire, used), dam, sire)
        total += _wait(figures.goal_clutch)
        return total if np.isfinite(total) else None

    def wait(self, step: Step, used: Mapping[Step, int]) -> float:
        """Seasons until a step gives what is kept, on average."""
        return _wait(float(self.figures(step, used).clutch[step.look, used[step]]))

    def figures(self, step: Step, used: Mapping[Step, int]) -> Figures:
        """A step's figures in a route that uses its steps so."""
        return self.breeding.figures(_context(step.dam, step.sire, used), step.dam, step.sire)

    def sets(self, dam: Parent, sire: Parent) -> tuple[int, int]:
        """The numbers of what a couple may be."""
        numbers = [self.set_of(dam, FEMALE), self.set_of(sire, MALE)]
        for place, (parent, other) in enumerate(((dam, sire), (sire, dam))):
            if isinstance(other, Step) and parent in other.before:
                numbers[place] = self.breeding.alone(numbers[place])
        return numbers[0], numbers[1]

    def set_of(self, parent: Parent, sex: int) -> int:
        """The number of what a parent of that sex may be, nothing recorded of its own young."""
        if isinstance(parent, int):
            return self.hand[parent]
        crossed = self.breeding.crossed(*self.sets(parent.dam, parent.sire))
        return int(crossed.kept[sex, parent.look])

    def last_wait(self, dam: int, sire: int) -> float:
        """Fewest seasons until a couple meets the goal, by the numbers of what it may be."""
        if dam < 0 or sire < 0:
            return np.inf
        if (dam, sire) not in self._final:
            self._final[dam, sire] = _wait(self.breeding.goal_clutch(dam, sire))
        return self._final[dam, sire]

    # --- every route ------------------------------------------------------------------------------

    def run(self, generations: int) -> None:
        """Take in all routes of so many generations."""
        if self.beaten((1 + self.mature) * (generations - 1) + 1, generations):
            return
        if generations == 1:
            for pair in product(self.breeding.females, self.breeding.males):
                self.weigh(*pair)
            return
        sets = chain(combinations(self.first(), 1), combinations(self.first(), 2))
        if generations == 2:
            couples = [couple for some in sets for couple in self.couples(some)]
            for dam, sire in sorted(couples, key=lambda couple: self.least(*couple)):
                self.weigh(dam, sire)
            return
        tables = [(_Third(self, some).least, number, some) for number, some in enumerate(sets)]
        for least, _, some in sorted(tables, key=lambda one: one[:2]):
            # A route of three generations has three steps or more.
            if self.beaten(least, 3) or not np.isfinite(least):
                return
            for dam, sire in _Third(self, some).couples():
                self.weigh(dam, sire)

    def first(self) -> list[Step]:
        """The steps of the first generation that can give something."""
        if self._first is None:
            self._first = [
                self.breeding.step(dam, sire, look)
                for dam, sire in product(self.breeding.females, self.breeding.males)
                for look, row in enumerate(self.breeding.figures((), dam, sire).clutch)
                if row.max() > 0
            ]
        return self._first

    def couples(self, some: Sequence[Step]) -> Iterator[tuple[Parent, Parent]]:
        """The last couples of routes of two generations with these first steps."""
        if len(some) == 2:
            yield some[0], some[1]
            yield some[1], some[0]
            return
        yield some[0], some[0]
        yield from ((some[0], male) for male in self.breeding.males)
        yield from ((female, some[0]) for female in self.breeding.females)

    # --- the answer -------------------------------------------------------------------------------

    def written(self, found: Found) -> Route:
        """A route with all its figures."""
        breeding = self.breeding
        steps = descent(found.dam, found.sire)
        used = _sexes_used(steps, found.dam, found.sire)
        names = {step: f"k{number}" for number, step in enumerate(steps, start=1)}

        def name(parent: Parent) -> str:
            return breeding.animals[parent] if isinstance(parent, int) else names[parent]

        written = []
        for step in steps:
            figures = self.figures(step, used)
            context = _context(step.dam, step.sire, used)
            sexes = (FEMALE, MALE) if used[step] == BOTH else (used[step],)
            written.append(RouteStep(
                step.generation, name(step.dam), name(step.sire),
                dict(zip(breeding.traits, breeding.looks[step.look], strict=True)),
                KEPT[used[step]], float(figures.chance[step.look]),
                float(figures.clutch[step.look, used[step]]),
                breeding.known(context, step.dam, step.sire, step.look, sexes),
                breeding.needed(
                    context, step.dam, step.sire, breeding.look == step.look, sexes
                ),
            ))  # fmt: skip
        generation = 1 + max((step.generation for step in steps), default=0)
        written.append(self._last_step(found, used, generation, name(found.dam), name(found.sire)))
        return Route(tuple(written), generation, found.seasons)

    def _last_step(
        self, found: Found, used: Mapping[Step, int], generation: int, dam: str, sire: str
    ) -> RouteStep:
        breeding, goal = self.breeding, self.breeding.question.goal
        context = _context(found.dam, found.sire, used)
        figures = breeding.figures(context, found.dam, found.sire)
        sexes = {"female": (FEMALE,), "male": (MALE,)}.get(goal.sex or "", ())
        look = breeding.goal_look
        known = breeding.known(context, found.dam, found.sire, look, sexes)
        return RouteStep(
            generation, dam, sire, dict(goal.shows), goal.sex or "any", figures.goal,
            figures.goal_clutch, known,
            breeding.needed(context, found.dam, found.sire, breeding.meets, sexes),
        )  # fmt: skip


class _Third:
    """The routes of three generations with given first steps, as tables of what they take at least.

    A row is a step of the second generation: its couple and look, which of the first steps it
    uses (as bits), and by the sexes kept the seasons that it takes at least.
    """

    def __init__(self, search: _Search, some: Sequence[Step]) -> None:
        self.search, self.some = search, some
        breeding = search.breeding
        self.bit = {step: 1 << n for n, step in enumerate(some)}
        self.all = (1 << len(some)) - 1
        females: list[Parent] = [*breeding.females, *some]
        males: list[Parent] = [*breeding.males, *some]
        self.pairs = [
            (dam, sire) for dam, sire in product(females, males)
            if isinstance(dam, Step) or isinstance(sire, Step)
        ]  # fmt: skip
        sets = [search.sets(dam, sire) for dam, sire in self.pairs]
        possible = [n for n, (dam, sire) in enumerate(sets) if dam >= 0 and sire >= 0]
        self.pairs = [self.pairs[n] for n in possible]
        crossed = [breeding.crossed(*sets[n]) for n in possible]
        looks = len(breeding.looks)
        bits = [self._bits(dam) | self._bits(sire) for dam, sire in self.pairs]
        self.bits = np.repeat(np.array(bits, dtype=np.int64), looks)
        kept = np.array([one.kept for one in crossed], dtype=np.int64).reshape(-1, 2, looks)
        self.kept = kept.transpose(1, 0, 2).reshape(2, -1)
        clutch = np.array([one.clutch for one in crossed]).reshape(-1, 3)
        with np.errstate(divide="ignore"):
            self.waits: Floats2 = 1.0 / clutch
        self.start = 2.0 * search.mature + max(self._first_wait(step) for step in some)
        self.males: list[Parent] = males
        self.females: list[Parent] = females

    def _bits(self, parent: Parent) -> int:
        return 0 if isinstance(parent, int) else self.bit[parent]

    def _first_wait(self, step: Step) -> float:
        figures = self.search.breeding.figures((), step.dam, step.sire)
        return _wait(float(figures.clutch[step.look].max()))

    def _last(self, dams: Ints1, sires: Ints1) -> Floats2:
        """Fewest seasons of the last step, by the numbers of what the couple may be."""
        some, rows = np.unique(dams, return_inverse=True)
        others, columns = np.unique(sires, return_inverse=True)
        waits = [[self.search.last_wait(int(a), int(b)) for b in others] for a in some]
        table = np.array(waits).reshape(len(some), len(others))
        return table[rows.reshape(-1, 1), columns.reshape(1, -1)]

    def _tables(self) -> tuple[Floats2, Floats1, Floats2, Floats2]:
        """Least seasons: of two second steps, of one with itself, with another sire or dam."""
        dams, sires = self.kept
        female, male, both = self.waits.T
        last = self._last(dams, sires)
        two = self.start + np.maximum(female[:, None], male[None, :]) + last
        two[(self.bits[:, None] | self.bits[None, :]) != self.all] = np.inf
        one = self.start + both + np.diagonal(last)
        one[self.bits != self.all] = np.inf
        # The same step as dam and as sire keeps one of each.
        np.fill_diagonal(two, np.inf)
        with_sire = self._with(self.males, MALE, female)
        with_dam = self._with(self.females, FEMALE, male)
        return two, one, with_sire, with_dam

    def _with(self, others: Sequence[Parent], sex: int, waits: Floats1) -> Floats2:
        """Least seasons of one second step with an animal at hand or of the first generation."""
        alone = self.search.breeding.alone
        sets = np.array([alone(self.search.set_of(one, sex)) for one in others], dtype=np.int64)
        own = self.kept[1 - sex]
        last = self._last(own, sets) if sex == MALE else self._last(sets, own).T
        found = self.start + waits[:, None] + last
        bits = np.array([self._bits(other) for other in others], dtype=np.int64)
        found[(self.bits[:, None] | bits[None, :]) != self.all] = np.inf
        return found

    @property
    def least(self) -> float:
        """The seasons below which none of these routes can be."""
        return min((float(table.min()) for table in self._tables() if table.size), default=np.inf)

    def couples(self) -> list[tuple[Parent, Parent]]:
        """The last couples of routes that may be among the best, those of least seasons first."""
        two, one, with_sire, with_dam = self._tables()
        found: list[tuple[float, int, int, int]] = []
        for kind, (table, steps) in enumerate(
            ((two, 3), (one[:, None], 2), (with_sire, 2), (with_dam, 2))
        ):
            for row, column in np.argwhere(np.isfinite(table)):
                least = float(table[row, column])
                if not self.search.beaten(least, steps + len(self.some)):
                    found.append((least, kind, int(row), int(column)))
        return [self._couple(kind, row, column) for _, kind, row, column in sorted(found)]

    def _couple(self, kind: int, row: int, column: int) -> tuple[Parent, Parent]:
        step = self._step(row)
        if kind == 0:
            return step, self._step(column)
        if kind == 1:
            return step, step
        return (step, self.males[column]) if kind == 2 else (self.females[column], step)

    def _step(self, row: int) -> Step:
        breeding = self.search.breeding
        dam, sire = self.pairs[row // len(breeding.looks)]
        return breeding.step(dam, sire, row % len(breeding.looks))


def _sexes_used(steps: Sequence[Step], dam: Parent, sire: Parent) -> dict[Step, int]:
    """The sexes in which a route uses what each of its steps keeps."""
    dams = {step.dam for step in steps} | {dam}
    sires = {step.sire for step in steps} | {sire}
    return {step: (BOTH if step in sires else FEMALE) if step in dams else MALE for step in steps}


def _context(dam: Parent, sire: Parent, used: Mapping[Step, int]) -> Context:
    return tuple((step, used[step]) for step in descent(dam, sire))


def _wait(clutch: float) -> float:
    return 1.0 / clutch if clutch > 0 else np.inf


def _by_seasons(found: Found) -> float:
    return found.seasons
