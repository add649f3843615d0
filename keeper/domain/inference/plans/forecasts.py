"""When a project's goal will be reached, and what would bring it nearer."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import sqrt

import genetics
from keeper.domain.inference.plans.gains import Families, families
from keeper.domain.inference.questions.asking import Subproblem, Unanswerable
from keeper.domain.inference.questions.goals import goal_parts, wanted_lines
from keeper.domain.inference.questions.guests import GUEST, Guest
from keeper.domain.inference.standings.solving import Workers
from keeper.models import Animal, GoalPart, Project


@dataclass(frozen=True)
class BreedingCourse:
    """How a project is bred on.

    Attributes:
        seasons: how many to look ahead, the first among them.
        pairs: most females paired in a season; `matings`: most females of one male.
        places: most animals kept at the end of a season; nothing for no limit.
        eggs, hatch: eggs of a clutch, and the share of them that hatches.
        lays: chance that a paired female lays; `lives`: that an animal lives on to the next season.
        mature_female, mature_male: age in seasons from which they breed.
        runs, seed: of the simulation.
    """

    seasons: int
    pairs: int
    matings: int
    places: int | None
    eggs: int
    hatch: float
    lays: float
    lives: float
    mature_female: int
    mature_male: int
    runs: int = 20_000
    seed: int = 1


@dataclass(frozen=True)
class Outlook:
    """When the goal will be reached.

    Attributes:
        chances: by season, the chance that it is reached in it or before; `errors`: of each, the
            standard error, 0 where nothing was simulated.
        tenth, median, ninetieth: the first season, counted from 1, with that chance; nothing where
            it is not among them.
        exact: whether nothing was simulated.
        by_run: the season in which each run reached it, 0 for none; empty where exact.
        conflict: records that cannot all be true, in words.
    """

    chances: tuple[float, ...]
    errors: tuple[float, ...]
    tenth: int | None
    median: int | None
    ninetieth: int | None
    exact: bool
    by_run: bytes
    conflict: tuple[str, ...] = ()


@dataclass(frozen=True)
class Posed:
    """An outlook as the engine is asked for it.

    Attributes:
        scenarios: each with its chance, which sum to 1; none where nothing here reaches the goal.
        seasons: how many are looked ahead.
        conflict: records that cannot all be true, in words.
    """

    scenarios: tuple[tuple[float, "genetics.Scenario"], ...]
    seasons: int
    conflict: tuple[str, ...] = ()

    def answered(self, forecasts: "Iterable[genetics.Forecast | None]") -> Outlook:
        """The outlook, by the forecasts of its scenarios in their order.

        Raises:
            Unanswerable: one of them is none, being beyond exact inference.
        """
        found = []
        for (chance, _), forecast in zip(self.scenarios, forecasts, strict=True):
            if forecast is None:
                raise Unanswerable(_TOO_MUCH)
            found.append((chance, forecast))
        match found:
            case []:
                nothing = (0.0,) * self.seasons
                return Outlook(nothing, nothing, None, None, None, True, b"", self.conflict)
            case [(_, only)]:
                return _read(only, self.conflict)
        return _average(found, self.seasons, self.conflict)


@dataclass(frozen=True)
class Basis:
    """A project's goal and the families that bear on it, gathered and solved once.

    Outlooks may be asked of any of the animals that it was gathered around.
    """

    project: Project
    found: Families
    bought: Guest | None

    @cached_property
    def goal(self) -> "genetics.Goal | None":
        """The goal; nothing where nobody here carries what it takes."""
        return self.found.goal(goal_parts(self.project), self.project.sex)

    @cached_property
    def solved(self) -> "genetics.Solved":
        """The families, solved."""
        assert self.found.one is not None
        return self.found.one.solve(exact_only=True)

    def outlook(
        self,
        ages: Mapping[Animal, int],
        course: BreedingCourse,
        *,
        tested: tuple[Animal, GoalPart] | None = None,
    ) -> Outlook:
        """When the goal will be reached from these animals, by their ages in seasons.

        `tested`: what this animal carries for this part of the goal is found out first, whatever
        it is; the chances are then the average over what that may be.

        Raises:
            Unanswerable: it is too large, or a goal cannot be asked so.
        """
        posed = self.posed(ages, course, tested=tested)
        return posed.answered(self._forecast(one) for _, one in posed.scenarios)

    def posed(
        self,
        ages: Mapping[Animal, int],
        course: BreedingCourse,
        *,
        tested: tuple[Animal, GoalPart] | None = None,
    ) -> Posed:
        """The same as questions to the engine, for whoever has many of them answered.

        Raises:
            Unanswerable: it is too large, or a goal cannot be asked so.
        """
        goal, one, conflict = self.goal, self.found.one, self.found.conflict
        if goal is None or one is None:
            return Posed((), course.seasons, conflict)
        at_hand = {one.code(animal): age for animal, age in ages.items()}
        if self.bought is not None:
            at_hand[GUEST] = max(course.mature_female, course.mature_male)
        question = _question(goal, self.project, at_hand, course)
        if tested is None:
            only = genetics.Scenario(one.book.population, question)
            return Posed(((1.0, only),), course.seasons, conflict)
        animal, part = tested
        locus = next(iter(wanted_lines(one.of.inheritance, part)))
        name, code = one.of.inheritance.loci[locus].name, one.code(animal)
        may_be = self.solved.posterior(code, name)
        asked = tuple(
            (p, genetics.Scenario(_with_result(one, code, name, key), question))
            for key, p in may_be.items()
            if p > 0
        )
        return Posed(asked, course.seasons, conflict)

    def _forecast(self, one: "genetics.Scenario") -> "genetics.Forecast | None":
        """Answer one here, by the families as they are already solved where it is about them."""
        assert self.found.one is not None
        if one.population is not self.found.one.book.population:
            return next(genetics.forecasts([one]))
        try:
            return genetics.forecast(self.solved, one.question)
        except genetics.BeyondExact:
            return None


_TOO_MUCH = (
    "This goal turns on more genes together than a forecast can tell apart. "
    "Ask about fewer parts of it."
)


def basis(project: Project, animals: Iterable[Animal], bought: Guest | None = None) -> Basis:
    """Gather what bears on a project's goal around some animals, and one that is bought.

    Raises:
        Unanswerable: the register itself leaves nothing possible.
    """
    traits = {part.trait_id for part in goal_parts(project)}
    return Basis(project, families(project.species, animals, traits, bought), bought)


def answered(
    posed: "Sequence[Posed]", workers: Workers | None = None
) -> Iterator[Outlook | Unanswerable]:
    """Answer many outlooks, in order: here, or by workers, with the same figures to the last bit.

    Raises:
        NoWorkers: the workers are lost, or are not of this version.
    """
    scenarios = [one for each in posed for _, one in each.scenarios]
    ask = workers.forecasts if workers is not None else genetics.forecasts
    found = ask(scenarios)
    for one in posed:
        try:
            yield one.answered([next(found) for _ in one.scenarios])
        except Unanswerable as why:
            yield why


def _question(
    goal: "genetics.Goal", project: Project, at_hand: Mapping[str, int], course: BreedingCourse
) -> "genetics.ForecastQuestion":
    return genetics.ForecastQuestion(
        goal=goal,
        animals=at_hand,
        seasons=course.seasons,
        clutch=clutch_sizes(course.eggs, course.hatch),
        wanted=project.wanted,
        mature_female=course.mature_female,
        mature_male=course.mature_male,
        lays=course.lays,
        lives=course.lives,
        pairs=course.pairs,
        matings=course.matings,
        places=course.places,
        runs=course.runs,
        seed=course.seed,
    )


def clutch_sizes(eggs: int, hatch: float) -> tuple[tuple[int, float], ...]:
    """Living hatchlings of a clutch of so many eggs, each with its chance: binomial."""
    from scipy.stats import binom

    chances = binom.pmf(range(eggs + 1), eggs, hatch).tolist()
    whole = sum(chances)
    return tuple((count, chance / whole) for count, chance in enumerate(chances) if chance > 0)


def _read(found: "genetics.Forecast", conflict: tuple[str, ...]) -> Outlook:
    by_run = b"" if found.by_run is None else found.by_run.astype("uint8").tobytes()
    return Outlook(
        tuple(one.p for one in found.reached),
        tuple(one.se for one in found.reached),
        found.tenth,
        found.median,
        found.ninetieth,
        found.exact,
        by_run,
        conflict,
    )


def _average(
    found: "Sequence[tuple[float, genetics.Forecast]]", seasons: int, conflict: tuple[str, ...]
) -> Outlook:
    """The average over what a test may find, each as likely as it is now."""
    chances = [sum(p * each.reached[season].p for p, each in found) for season in range(seasons)]
    errors = [
        sqrt(sum((p * each.reached[season].se) ** 2 for p, each in found))
        for season in range(seasons)
    ]

    def first(share: float) -> int | None:
        return next((n for n, p in enumerate(chances, start=1) if p >= share), None)

    exact = all(each.exact for _, each in found)
    return Outlook(
        tuple(chances), tuple(errors), first(0.1), first(0.5), first(0.9), exact, b"", conflict
    )


def _with_result(one: Subproblem, code: str, locus: str, key: str) -> "genetics.Population":
    animals = tuple(
        each._replace(likelihood={**each.likelihood, locus: {key: 1}}) if each.id == code else each
        for each in one.book.population.animals
    )
    return replace(one.book.population, animals=animals)
