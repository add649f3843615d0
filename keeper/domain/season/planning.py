"""The best pairings of a season: what each pair is worth, which may not be, and the best of all.

A pair is worth, for each project, its weight times the chance that a clutch gives one animal at
least that meets the goal; a step of the project's chosen plan is worth half its chance, a clutch
that gives one that carries something for every part of the goal a quarter. The sum over a season
is so an expected number, for which it does not matter how the pairs are related. If it is wished,
parents that have few kin here count a little too, by their mean kinship, and what hatchlings would
tell of what their parents carry, in bits.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations

from keeper.domain import inference
from keeper.domain.diversity.health import means_here
from keeper.domain.inference import PairGains, PlannedPair
from keeper.domain.projects.plans import clutch_said
from keeper.domain.saying.counts import how_many
from keeper.domain.saying.figures import (
    even_chances,
    is_close_kin,
    kinship,
    kinship_like,
    percent,
    percent_up,
)
from keeper.domain.season import queries
from keeper.models import Animal, Line, PlanStep, Project, Species

STEP, NEARER, RARE, BIT = 0.5, 0.25, 0.1, 0.1
"""What a step of a plan, a hatchling that carries something for each part, parents without kin
here, and an even chance settled count of a goal."""
LEAST_BITS = 0.1
"""What is told of less than a tenth of an even chance is not named."""
DOUBT = 0.01
"""Above this chance of both parents it counts as possible that lines meet."""

Pair = tuple[int, int]


@dataclass(frozen=True)
class Wishes:
    """What the keeper asks of a season.

    Attributes:
        season: the year.
        eggs: living hatchlings that a clutch is taken to give.
        matings: most females of one male.
        clutches: most pairs, as there is room in the incubators; nothing for no limit.
        kinship: the highest kinship of a pair; nothing for no limit.
        rest_after: a female rests after so many seasons; nothing for never.
        mixed: whether pairs may bring two lines of one look together.
        rare: how much parents count that have few kin here, from 0.
        tests: how much it counts what hatchlings would tell of their parents, from 0.
        weights: project → what its goal counts.
        fixed, forbidden: pairs of a female and a male, by id.
    """

    season: int
    eggs: int
    matings: int
    clutches: int | None
    kinship: float | None
    rest_after: int | None
    mixed: bool
    rare: int
    tests: int
    weights: Mapping[int, int]
    fixed: frozenset[Pair] = frozenset()
    forbidden: frozenset[Pair] = frozenset()


@dataclass(frozen=True)
class Chosen:
    """A pair of the plan: why it is in it, and what the whole would be without it."""

    dam: Animal
    sire: Animal
    worth: float
    reasons: tuple[str, ...]
    warnings: tuple[str, ...]
    kinship: str
    close_kin: bool
    fixed: bool
    lost_without: float | None


@dataclass(frozen=True)
class SeasonPlan:
    """The best pairs of a season.

    Attributes:
        pairs: the pairs, the worthiest first.
        worth: what they are worth in all.
        left: animals that are left out, and why.
        barred: how many pairs are barred by each of the limits, in words.
        idle: grown animals that are in no pair.
        conflict: records that cannot all be true, in words.
    """

    pairs: list[Chosen]
    worth: float
    left: list[queries.Left]
    barred: list[str]
    idle: list[Animal]
    conflict: tuple[str, ...] = ()
    refused: tuple[str, ...] = ()


@dataclass
class _Table:
    """Every female (a row) with every male (a column)."""

    females: Sequence[Animal]
    males: Sequence[Animal]
    kinship: list[list[float]]
    gains: PairGains
    steps: Mapping[Pair, list[PlanStep]]
    projects: Sequence[Project]
    means: Mapping[int, float]
    barred: dict[tuple[int, int], list[str]] = field(default_factory=dict)

    @cached_property
    def most_kin(self) -> float:
        """The mean kinship of whoever has most kin here."""
        return max(self.means.values(), default=0.0)

    def pairs(self) -> Iterable[tuple[int, int]]:
        return (
            (row, column) for row in range(len(self.females)) for column in range(len(self.males))
        )

    def bar(self, place: tuple[int, int], why: str) -> None:
        self.barred.setdefault(place, []).append(why)

    def pair(self, place: tuple[int, int]) -> Pair:
        return self.females[place[0]].pk, self.males[place[1]].pk


KIN, HARM, LOST, MIX = (
    "too near of kin",
    "young may show what harms",
    "eggs may die of what both carry",
    "two lines of one look would meet",
)


def season_plan(species: Species, projects: Sequence[Project], wishes: Wishes) -> SeasonPlan:
    """Return the pairs of greatest worth within the limits.

    Raises:
        Unanswerable: what the pairs give cannot be worked out exactly.
    """
    who = queries.breeders(species, wishes.season, rest_after=wishes.rest_after)
    if not who.females or not who.males:
        return SeasonPlan([], 0.0, who.left, [], [*who.females, *who.males])
    table = _table(species, projects, who, wishes)
    worth = [
        [_worth(table, (row, column), wishes) for column in range(len(table.males))]
        for row in range(len(table.females))
    ]
    places = {table.pair(place): place for place in table.pairs()}
    fixed, refused = _fixed(table, places, wishes)
    forbidden = {places[pair] for pair in wishes.forbidden if pair in places} | set(table.barred)
    pairs, total = inference.best_pairs(
        worth,
        matings=wishes.matings,
        clutches=wishes.clutches,
        fixed=fixed,
        forbidden=forbidden - fixed,
    )
    chosen = [_chosen(table, one, wishes, total) for one in pairs]
    chosen.sort(key=lambda one: (-one.worth, one.dam.code))
    bred = {one.dam.pk for one in chosen} | {one.sire.pk for one in chosen}
    return SeasonPlan(
        pairs=chosen,
        worth=total,
        left=who.left,
        barred=_counted(table),
        idle=[one for one in (*who.females, *who.males) if one.pk not in bred],
        conflict=table.gains.conflict,
        refused=refused,
    )


def _table(
    species: Species, projects: Sequence[Project], who: queries.Breeders, wishes: Wishes
) -> _Table:
    females, males = who.females, who.males
    couples = [(dam, sire) for dam in females for sire in males]
    kin = iter(inference.kinships(couples))
    table = _Table(
        females,
        males,
        [[next(kin) for _ in males] for _ in females],
        inference.pair_gains(
            species,
            projects,
            females,
            males,
            wishes.eggs,
            tested=queries.open_traits(species) if wishes.tests else (),
        ),
        queries.steps_at_hand(projects, wishes.season),
        projects,
        means_here(species).kinship if wishes.rare else {},
    )
    _bar_near_kin_and_harm(table, wishes)
    carriers = queries.carriers(species)
    _bar_together(table, carriers, queries.lethal_lines(species), LOST)
    if not wishes.mixed:
        _bar_together(table, carriers, _apart(carriers), MIX)
    return table


def _bar_near_kin_and_harm(table: _Table, wishes: Wishes) -> None:
    for place in table.pairs():
        row, column = place
        if wishes.kinship is not None and table.kinship[row][column] > wishes.kinship + 1e-9:
            table.bar(place, KIN)
        if table.gains.harm[row][column] > 0:
            table.bar(place, HARM)


def _bar_together(
    table: _Table,
    carriers: Mapping[int, Mapping[int, float]],
    lines: Iterable[tuple[int, int]],
    why: str,
) -> None:
    """Bar pairs of which one may carry the one line and the other the other.

    The chance that both do is at most that of the less likely, whatever ties them.
    """
    for one, other in lines:
        first, second = carriers.get(one, {}), carriers.get(other, {})
        for place in table.pairs():
            dam, sire = table.pair(place)
            both = max(
                min(first.get(dam, 0.0), second.get(sire, 0.0)),
                min(second.get(dam, 0.0), first.get(sire, 0.0)),
            )
            if both > DOUBT and why not in table.barred.get(place, ()):
                table.bar(place, why)


def _apart(carriers: Collection[int]) -> list[tuple[int, int]]:
    """Pairs of lines of one look that sit at two loci, or may."""
    lines = Line.objects.filter(pk__in=carriers).order_by("pk")
    rows = list(lines.values_list("pk", "trait_id", "locus_id"))
    return [
        (one[0], other[0])
        for one, other in combinations(rows, 2)
        if one[1] == other[1] and one[2] != other[2]
    ]


def _worth(table: _Table, place: tuple[int, int], wishes: Wishes) -> float:
    row, column = place
    total = 0.0
    for project, weight in wishes.weights.items():
        if weight and project in table.gains.goals:
            total += weight * table.gains.goals[project][row][column]
            total += weight * NEARER * table.gains.nearer[project][row][column]
    total += wishes.tests * BIT * table.gains.bits[row][column]
    total += wishes.rare * RARE * _rarity(table, place)
    for step in table.steps.get(table.pair(place), ()):
        total += wishes.weights.get(step.plan.project_id, 0) * STEP * step.clutch_chance
    return total


def _rarity(table: _Table, place: tuple[int, int]) -> float:
    """How few kin two parents have here: from 0, those of most, to 1, those of none."""
    most = table.most_kin
    if most <= 0:
        return 0.0
    return 1.0 - sum(table.means.get(pk, most) for pk in table.pair(place)) / (2 * most)


def _fixed(
    table: _Table, places: Mapping[Pair, tuple[int, int]], wishes: Wishes
) -> tuple[set[tuple[int, int]], tuple[str, ...]]:
    """The pairs that are fixed and can be, and why others cannot."""
    taken: set[tuple[int, int]] = set()
    refused = []
    for pair in sorted(wishes.fixed):
        place = places.get(pair)
        if place is None:
            refused.append("A pair that was fixed cannot breed in this season: it is left out.")
            continue
        dam, sire = table.females[place[0]], table.males[place[1]]
        mates = sum(column == place[1] for _, column in taken)
        if any(row == place[0] for row, _ in taken):
            refused.append(f"{dam} is fixed with two males: {dam} × {sire} is left out.")
        elif mates >= wishes.matings:
            refused.append(
                f"{sire} would have more than {how_many(wishes.matings, 'female')}: "
                f"{dam} × {sire} is left out."
            )
        elif wishes.clutches is not None and len(taken) >= wishes.clutches:
            refused.append(f"There is no room for {dam} × {sire}: it is left out.")
        else:
            taken.add(place)
    return taken, tuple(refused)


def _chosen(table: _Table, one: PlannedPair, wishes: Wishes, total: float) -> Chosen:
    place = (one.female, one.male)
    related = table.kinship[one.female][one.male]
    warnings = list(table.barred.get(place, ()))
    if HARM in warnings:
        harm = percent_up(table.gains.harm[one.female][one.male])
        warnings[warnings.index(HARM)] = f"{HARM}: {harm} of hatchlings"
    return Chosen(
        dam=table.females[one.female],
        sire=table.males[one.male],
        worth=one.worth,
        reasons=tuple(_reasons(table, place, wishes)),
        warnings=tuple(warnings),
        kinship=f"{kinship(related)}, {kinship_like(related)}",
        close_kin=is_close_kin(related),
        fixed=one.without is None,
        lost_without=None if one.without is None else max(0.0, total - one.without),
    )


def _reasons(table: _Table, place: tuple[int, int], wishes: Wishes) -> Iterable[str]:
    row, column = place
    yield from _told(table, place, wishes)
    names = {step.plan.project_id: step for step in table.steps.get(table.pair(place), ())}
    clutch = f"a clutch of {wishes.eggs}"
    for project in table.projects:
        pk = project.pk
        if not wishes.weights.get(pk):
            continue
        reached = table.gains.goals[pk][row][column]
        nearer = table.gains.nearer[pk][row][column]
        if pk in names:
            step = names[pk]
            said = clutch_said(step.chance, step.clutch_chance, step.sex)
            yield f"{project}: step {step.number} of its plan, {said}"
        if reached > 0:
            yield f"{project}: {percent(reached)} that {clutch} gives what it wants"
        elif nearer > 0:
            yield f"{project}: {percent(nearer)} that {clutch} gives one that carries all of it"


def _told(table: _Table, place: tuple[int, int], wishes: Wishes) -> Iterable[str]:
    bits = table.gains.bits[place[0]][place[1]]
    if wishes.tests and bits >= LEAST_BITS:
        yield f"its hatchlings would tell what the two carry: {even_chances(bits)} even chances"


def _counted(table: _Table) -> list[str]:
    found = []
    for why in (KIN, HARM, LOST, MIX):
        count = sum(why in reasons for reasons in table.barred.values())
        if count:
            found.append(f"{how_many(count, 'pair')}: {why}")
    return found
