"""Who decides: by the policy that a forecast documents, by the book's advice, or by less.

All of them ask the book alone. The first asks what the forecast's own keeper would do, were what
the book says by now all that is known; so what becomes of its projects must be as was forecast.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from random import Random
from typing import Protocol

import numpy as np

from genetics import Solved
from genetics.compiled import loops
from genetics.kernels.protocols import Genes
from genetics.kernels.typed import FORECAST
from genetics.plans.forecast.genome import Genome, genome
from genetics.plans.forecast.hand import Hand
from genetics.plans.forecast.policy import roomy
from genetics.plans.forecast.simulate import Table
from keeper import models as m
from keeper.domain.projects import holdbacks, queries
from keeper.domain.projects import outlook as outlooks
from keeper.domain.season.planning import Wishes, season_plan
from keeper.domain.season.writes import plan_pairings
from tests.benchmarks.played.books import Book, young_of

Couple = tuple[m.Animal, m.Animal]
# Of one decision: compiled loops are not worth loading for it, and taken where they are loaded.
_WORK = 0.0
AGAIN = 2
"""After so many seasons the book is asked once more."""


class Keeper(Protocol):
    """Decides who is paired, and who stays of what is there after the hatches."""

    def pairs(self, book: Book, year: int) -> list[Couple]:
        """The pairs of a season, females first."""

    def sort_out(self, book: Book, year: int, clutches: Sequence[m.Clutch]) -> None:
        """Hold back, release and sell."""


@dataclass(frozen=True)
class Course:
    """What became of a project.

    Attributes:
        season: in which its goal is reached, 0 for none.
        later: what the book showed after `AGAIN` seasons, of those that follow; nothing where it
            was reached by then.
    """

    season: int
    later: tuple[float, ...] | None


def play(book: Book, keeper: Keeper) -> Course:
    """Play a project to its goal or its last season."""
    later = None
    for season, year in enumerate(seasons(book), start=1):
        if step(book, keeper, season, year):
            return Course(season, later)
        if season == AGAIN:
            later = book.outlook_on(date(year, 10, 2)).chances[: book.course.seasons - season]
    return Course(0, later)


def seasons(book: Book) -> range:
    """The years that are looked ahead."""
    first = book.first_year
    return range(first, first + book.course.seasons)


def step(book: Book, keeper: Keeper, season: int, year: int) -> bool:
    """Play one season: whether the goal is reached in it."""
    if season > 1:
        book.bury(year)
    bred = [book.breed(year, rank, *pair) for rank, pair in enumerate(keeper.pairs(book, year))]
    if book.reached >= book.case.wanted:
        return True
    keeper.sort_out(book, year, [one for one in bred if one is not None])
    return False


# --- as the forecast's own keeper -----------------------------------------------------------------


@dataclass
class Mind:
    """The forecast's keeper with what the book says of some animals, in the order given."""

    table: Table
    packed: Genes
    n: int

    @property
    def pen(self) -> tuple[np.ndarray[tuple[int], np.dtype[np.int64]], ...]:
        """The animals, as the loops have them."""
        return self.table.pen


class Policy:
    """The forecast's documented policy, on what the book says of every animal by now."""

    def pairs(self, book: Book, year: int) -> list[Couple]:
        """The pairs with the best chance of the goal, then of coming nearer."""
        animals = [one.animal for one in book.members()]
        mind = _mind(book, animals, year)
        if mind is None:
            return []
        table, run = mind.table, loops(FORECAST, _WORK)
        made = run.choose(mind.packed, table.mind, table.rules, table.pen, mind.n, table.room)
        couples = table.room[1][:made].tolist()
        return [(animals[dam], animals[sire]) for dam, sire in couples]

    def sort_out(self, book: Book, year: int, clutches: Sequence[m.Clutch]) -> None:
        """Keep those that the policy keeps, and sell the others."""
        members = book.members()
        young = [one for clutch in clutches for one in young_of(clutch)]
        animals = [*(one.animal for one in members), *young]
        mind = _mind(book, animals, year)
        if mind is None:
            return
        table, run = mind.table, loops(FORECAST, _WORK)
        # Where each came from, beside who is always kept.
        order = table.pen[4].copy()
        left = run.keep(
            mind.packed, table.mind, table.rules, table.rates, table.pen, mind.n, table.room
        )
        stays = set(table.pen[4][:left].tolist())
        kept = {animals[place].pk for place in range(mind.n) if int(order[place]) in stays}
        book.hold_back(year, [one for one in young if one.pk in kept])
        book.release(year, [one for one in members if one.animal_id not in kept])
        book.sell(year, [one for one in animals if one.pk not in kept])


def _mind(book: Book, animals: Sequence[m.Animal], year: int) -> Mind | None:
    """What the forecast's keeper knows of animals; nothing where none can come to the goal."""
    if not animals:
        return None
    basis = outlooks.gathering(book.project, animals)(None)
    ages = {one: year - (one.hatched_year or 0) for one in animals}
    posed = basis.posed(ages, book.course)
    assert not posed.conflict
    if not posed.scenarios:
        return None
    question = posed.scenarios[0][1].question
    names = tuple(question.animals)
    known = genome(basis.solved, question.goal, names, None)
    table = Table(Hand(known, names, (), np.zeros(len(names))), question)
    begun = len(book.begun_with)
    if question.places is None:
        rules = list(table.rules)
        rules[6], rules[11] = begun + roomy(question.pairs), begun
        table.rules = tuple(rules)  # type: ignore[assignment]
    run = loops(FORECAST, _WORK)
    _, kinds, sexes, grown, idents = table.pen[:5]
    for place, (animal, name) in enumerate(zip(animals, names, strict=True)):
        kinds[place] = run.kind_of(table.mind, _belief(basis.solved, known, name))
        sexes[place] = 0 if animal.sex == m.Sex.FEMALE else 1
        grown[place] = question.animals[name]
        first = animal.pk in book.begun_with
        idents[place] = book.begun_with.index(animal.pk) if first else begun + place
    return Mind(table, known.packed(), len(animals))


def _belief(
    solved: Solved, known: Genome, name: str
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """The chances of an animal's genotypes: exact, as the book's loci share no evidence here."""
    (reading,) = known.readings
    chance = np.ones(len(reading.digits))
    for place, k in enumerate(reading.spaces):
        space = reading.model.spaces[k]
        keys = np.array(space.keys[0])[space.key_of[0]]
        said = solved.posterior(name, space.loci[0].id)
        chance *= [float(said.get(key, 0.0)) for key in keys[reading.in_space(place)].tolist()]
    return chance


# --- by the book's advice, and by less ------------------------------------------------------------

Choice = Callable[[Book, int, m.Clutch], Sequence[m.Animal]]


@dataclass
class Advised:
    """Pairs of the season's plan; who is held back is chosen; over the places the least is let go.

    `choose` names whom of a clutch to hold back, `runs` is how many runs advice is asked with.
    """

    choose: Choice
    runs: int = 400

    def pairs(self, book: Book, year: int) -> list[Couple]:
        """The pairs of greatest worth, planned in the book."""
        wishes = Wishes(
            season=year, eggs=round(book.case.eggs * float(book.species.hatch_rate)),
            matings=book.case.matings, clutches=book.case.pairs, kinship=None, rest_after=None,
            mixed=True, rare=0, tests=0, weights={book.project.pk: 1},
        )  # fmt: skip
        found = season_plan(book.species, [book.project], wishes).pairs
        if not found:
            return []
        planned = [
            m.PlannedPairing(season=year, dam=one.dam, sire=one.sire, reason="for the goal")
            for one in found
        ]
        plan_pairings(pairings=planned, by=book.by)
        return [(one.dam, one.sire) for one in found]

    def sort_out(self, book: Book, year: int, clutches: Sequence[m.Clutch]) -> None:
        """Hold back clutch by clutch, release down to the places, sell the others."""
        for clutch in clutches:
            book.hold_back(year, self.choose(book, year, clutch))
        while (places := book.case.places) is not None and len(book.members()) > places:
            book.release(year, [self._least(book, year)])
        inside = {one.animal_id for one in book.members()}
        here = m.Animal.objects.live().filter(species=book.species, status=m.Status.KEPT)
        book.sell(year, [one for one in here.order_by("pk") if one.pk not in inside])

    def _least(self, book: Book, year: int) -> m.Member:
        """The member without whom the outlook is best, as the project's page compares them."""
        members = book.members()
        course = replace(book.course, runs=self.runs)
        gathered = outlooks.gathering(book.project, (one.animal for one in members))
        today = after_hatching(year)

        def without(member: m.Member) -> float:
            change = f"without-{member.animal_id}"
            found = outlooks.outlook_of(book.project, members, course, today, change, gathered)
            return sum(found.chances)

        return max(members, key=lambda one: (without(one), one.pk))


def after_hatching(year: int) -> date:
    """The day on which the hatches of a year are sorted out."""
    return date(year, 8, 20)


def by_advice(runs: int) -> Choice:
    """Whom the hatch's page advises to keep."""

    def choose(book: Book, year: int, clutch: m.Clutch) -> Sequence[m.Animal]:
        found = holdbacks.advice(
            book.project, clutch, after_hatching(year), course=book.course, runs=runs
        )
        return found.keep if found is not None else ()

    return choose


def at_random(book: Book, year: int, clutch: m.Clutch) -> Sequence[m.Animal]:
    """One of each sex, whichever."""
    return _one_of_each(clutch, lambda one: Random(f"{book.case.seed} {one.code}").random())


def by_custom(book: Book, year: int, clutch: m.Clutch) -> Sequence[m.Animal]:
    """One of each sex: the likeliest to carry all by the parents alone and by its own look."""
    parts = queries.goal_of(book.project)
    genes = {part.trait.base_id or part.trait_id for part in parts}

    def figure(one: m.Animal) -> float:
        standings = m.Standing.objects.filter(animal=one, line=None, trait__in=genes)
        said = {each.trait_id: each.customary or 0.0 for each in standings}
        return -float(np.prod([said.get(pk, 0.0) for pk in genes]))

    return _one_of_each(clutch, figure)


def _one_of_each(clutch: m.Clutch, last: Callable[[m.Animal], float]) -> list[m.Animal]:
    young = sorted(young_of(clutch), key=lambda one: (last(one), one.code))
    return [
        next(one for one in young if one.sex == sex)
        for sex in (m.Sex.FEMALE, m.Sex.MALE)
        if any(one.sex == sex for one in young)
    ]
