"""Which cross would settle whether two lines are one gene, and how many hatchlings it takes.

A cross is looked at as a bet on two readings. Under each reading the parents are of several
kinds, and each kind shows the look on a hatchling with one fixed chance; the kinds are the joint
posterior of both parents, so that all hatchlings of a pair share what their parents are. After k
visuals in n hatchlings

    P(one gene | k) = Σ w p^k (1 − p)^(n − k) over the kinds under one gene, divided by the same
    sum over all kinds.

The pair is settled when that is at least the level or at most one minus the level. The number of
hatchlings that a cross needs is the smallest n with which the chance to end settled, over all k,
is at least 95 %. Where the parents may carry nothing that can meet, normal hatchlings may never
settle it: then no n reaches 95 %.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from math import comb

import genetics
from keeper import models as m
from keeper.domain.inference.questions.asking import Unanswerable
from keeper.domain.inference.questions.compatibility import Whole, is_one, line_pair, whole
from keeper.domain.inference.standings.copies import unsure

SURE = 0.95
# Tried where a pair stands beyond the last already.
LEVELS = (0.95, 0.99)
# More hatchlings than this belong to no test of a few seasons.
MOST = 100
# Pairs of animals that are worked out exactly; each costs an inference.
_WORKED_OUT = 8
# Sums of floats that should be equal differ by less.
_NEAR = 1e-12

# Whether one gene, the weight, and the chance that a hatchling is seen to show the look.
Kind = tuple[bool, float, float]


@dataclass(frozen=True)
class Forecast:
    """What a number of hatchlings of one pair would tell of two lines.

    Attributes:
        hatchlings: the fewest with which the pair of lines ends settled in 95 % at least; None if
            no number up to `MOST` is enough.
        ever: the chance to end settled with as many hatchlings as one likes.
        in_a_clutch: the chance that one usual clutch settles it.
        normals_for_two: so many hatchlings, all normal, make it two genes; None: no number.
        visuals_for_one: so many hatchlings, all visual, make it one gene; None: no number.
        visual_proves, normal_proves: whether a single visual (normal) leaves nothing but one gene
            (two genes).
    """

    hatchlings: int | None
    ever: float
    in_a_clutch: float
    normals_for_two: int | None
    visuals_for_one: int | None
    visual_proves: bool
    normal_proves: bool


@dataclass(frozen=True)
class SettlingCross:
    """A female and a male, by id, and what their hatchlings would tell."""

    dam: int
    sire: int
    forecast: Forecast


@dataclass(frozen=True)
class Settling:
    """The crosses that could settle an open pair, the best first.

    Attributes:
        level: how sure "settled" is here: 95 %, or 99 % where the book is beyond 95 % already.
            None where it is beyond that too, and nothing was worked out.
        crosses: those worked out.
        possible: how many pairs of the animals may bring the two lines together.
    """

    level: float | None
    crosses: tuple[SettlingCross, ...]
    possible: int


def best_crosses(
    one: m.Line,
    other: m.Line,
    *,
    females: Sequence[m.Animal],
    males: Sequence[m.Animal],
    book: Whole | None = None,
) -> Settling:
    """Return the best of the pairs of these animals to settle whether two lines are one gene.

    The likeliest pairs by what each animal carries are worked out exactly and ranked by the
    chance that a usual clutch settles it.

    Raises:
        Unanswerable: it is too large to be worked out.
    """
    book, species = book or whole(one.trait), one.trait.species
    now = line_pair(book, one, other).now
    level = next((each for each in LEVELS if 1 - each < now < each), None)
    if book.book is None or level is None:
        return Settling(level, (), 0)
    gives = _gives(one, other, (*females, *males))
    pairs = _promising(gives, females, males)[:_WORKED_OUT]
    rate = Fraction(str(species.hatch_rate))
    size = genetics.FixedClutch(species.eggs_usual, rate)
    clutch = [float(size.pmf(n)) for n in range(species.eggs_usual + 1)]
    kinds = _kinds(book, one, other, pairs)
    found = [SettlingCross(*pair, forecast(kinds[pair], level, clutch)) for pair in pairs]
    found.sort(key=lambda cross: _rank(cross.forecast))
    return Settling(level, tuple(found), _possible(gives, females, males))


def _rank(one: Forecast) -> tuple[float, float, float]:
    return -round(one.in_a_clutch, 9), one.hatchlings or MOST + 1, -one.ever


# What an animal gives to a hatchling, on average, of the one line and of the other, and how sure
# it is that it carries any.
_Gives = Mapping[int, tuple[float, float, float]]


def _gives(one: m.Line, other: m.Line, animals: Sequence[m.Animal]) -> _Gives:
    found: dict[int, tuple[float, float, float]] = {}
    pks = [animal.pk for animal in animals]
    stored = m.Standing.objects.filter(animal__in=pks, line__in=(one, other), none__lt=1)
    for pk, line, two, single in stored.values_list("animal_id", "line_id", "two", "one"):
        a, b, sure = found.get(pk, (0.0, 0.0, 0.0))
        copies = two + single / 2
        if line == one.pk:
            a = copies
        else:
            b = copies
        found[pk] = a, b, min(1.0, sure + two + single)
    return found


def _possible(gives: _Gives, females: Sequence[m.Animal], males: Sequence[m.Animal]) -> int:
    """How many couples may bring the lines together: all but those of one line alone."""
    counts = []
    for sex in (females, males):
        brings = [gives[one.pk][:2] for one in sex if one.pk in gives]
        only_one = sum(b == 0 for _, b in brings)
        only_other = sum(a == 0 for a, _ in brings)
        counts.append((len(brings), only_one, only_other))
    (f, f_one, f_other), (m_all, m_one, m_other) = counts
    return f * m_all - f_one * m_one - f_other * m_other


def _promising(
    gives: _Gives, females: Sequence[m.Animal], males: Sequence[m.Animal]
) -> list[tuple[int, int]]:
    """Couples in which the lines may meet, those first that bring both most surely."""
    ranked = []
    for dam, sire in product(_best(gives, females), _best(gives, males)):
        (a, b, sure), (c, d, as_sure) = gives[dam.pk], gives[sire.pk]
        apart = min(1.0, a * d + b * c)
        if apart > 0:
            rank = -round(apart * sure * as_sure, 9)
            ranked.append((rank, dam.code, sire.code, dam.pk, sire.pk))
    return [(dam, sire) for *_, dam, sire in sorted(ranked)]


def _best(gives: _Gives, animals: Sequence[m.Animal]) -> list[m.Animal]:
    """The animals that bring the one line most surely, and those that bring the other."""
    bring = [animal for animal in animals if animal.pk in gives]
    found: dict[int, m.Animal] = {}
    for line in (0, 1):
        those = sorted(bring, key=lambda one: -gives[one.pk][line] * gives[one.pk][2])
        found |= {animal.pk: animal for animal in those[:_WORKED_OUT]}
    return list(found.values())


def _kinds(
    book: Whole, one: m.Line, other: m.Line, pairs: Sequence[tuple[int, int]]
) -> dict[tuple[int, int], list[Kind]]:
    """The kinds of each couple under each reading, with what a keeper would see of their young.

    Couples are asked about together; where that is too large, one after another.
    """
    try:
        return _kinds_of(book, one, other, pairs)
    except genetics.BeyondExact:
        if len(pairs) == 1:
            raise Unanswerable(
                "Which cross would settle it is more than can be worked out exactly here: these "
                "animals may differ in too many genes at once. Prove some of them out first."
            ) from None
    found: dict[tuple[int, int], list[Kind]] = {}
    for pair in pairs:
        found |= _kinds(book, one, other, [pair])
    return found


def _kinds_of(
    book: Whole, one: m.Line, other: m.Line, pairs: Sequence[tuple[int, int]]
) -> dict[tuple[int, int], list[Kind]]:
    assert book.book is not None
    trait, population = one.trait, book.book.population
    names = {book.locus_of(one.pk), book.locus_of(other.pk)}
    goal = genetics.Goal(shows={trait.name: True})
    questions = {
        (dam, sire): genetics.OffspringQuestion(book.code(dam), book.code(sire), goal=goal)
        for dam, sire in pairs
    }
    queries = tuple(genetics.couple_query(population, question) for question in questions.values())
    solved = genetics.solve(population, queries=queries)
    seen, mistaken = float(trait.penetrance), float(trait.mistaken)
    return {
        pair: [
            (is_one(world.classes, names), chance * weight, p * seen + (1 - p) * mistaken)
            for world, chance in zip(solved.worlds, solved.chance, strict=True)
            for weight, _, p in genetics.couple_kinds(solved, world, question)
        ]
        for pair, question in questions.items()
    }


def forecast(kinds: Iterable[Kind], level: float, clutch: Sequence[float]) -> Forecast:
    """Return what hatchlings would tell; `clutch` are the chances of 0, 1, 2 … hatchlings.

    >>> hets = [(True, 0.5, 0.25), (False, 0.5, 0.0)]
    >>> one = forecast(hets, 0.95, [0.0, 1.0])
    >>> one.hatchlings, one.normals_for_two, one.visual_proves, one.in_a_clutch
    (11, 11, True, 0.125)
    """
    rows = _gathered(kinds)
    ever = sum(mass for p in {p for _, _, p in rows} if (mass := _mass_if_settled(rows, p, level)))
    reached = ever >= SURE - _NEAR
    numbers = range(1, MOST + 1)
    sure = (n for n in numbers if reached and _settled(rows, level, n) >= SURE - _NEAR)
    within = sum(q * _settled(rows, level, n) for n, q in enumerate(clutch) if q)
    normals = (n for n in numbers if _posterior(rows, 0, n) <= 1 - level + _NEAR)
    visuals = (n for n in numbers if _posterior(rows, n, n) >= level - _NEAR)
    return Forecast(
        hatchlings=next(sure, None),
        ever=1.0 if _always(rows, level) else unsure(ever),
        in_a_clutch=unsure(within),
        normals_for_two=next(normals, None) if any(p < 1 for _, _, p in rows) else None,
        visuals_for_one=next(visuals, None) if any(p > 0 for _, _, p in rows) else None,
        visual_proves=_only(rows, one_gene=True, p=lambda p: p > 0),
        normal_proves=_only(rows, one_gene=False, p=lambda p: p < 1),
    )


def _gathered(kinds: Iterable[Kind]) -> list[Kind]:
    found: dict[tuple[bool, float], float] = defaultdict(float)
    for same, weight, p in kinds:
        found[same, min(1.0, round(p, 12))] += weight
    whole_mass = sum(found.values())
    return [(same, weight / whole_mass, p) for (same, p), weight in found.items() if weight > 0]


def _only(rows: list[Kind], *, one_gene: bool, p: Callable[[float], bool]) -> bool:
    """Whether what the condition on p makes possible is so under one reading alone."""
    readings = {same for same, _, chance in rows if p(chance)}
    return readings == {one_gene}


def _masses(rows: list[Kind], k: int, n: int) -> tuple[float, float]:
    """Probability of k visuals in a given order among n, together with one gene, or with two."""
    one = two = 0.0
    for same, weight, p in rows:
        mass = weight * p**k * (1 - p) ** (n - k)
        if same:
            one += mass
        else:
            two += mass
    return one, two


def _posterior(rows: list[Kind], k: int, n: int) -> float:
    one, two = _masses(rows, k, n)
    # What cannot happen tells nothing.
    return one / (one + two) if one + two > 0 else 0.5


def _is_settled(one: float, two: float, level: float) -> bool:
    return max(one, two) >= (level - _NEAR) * (one + two) > 0


def _settled(rows: list[Kind], level: float, n: int) -> float:
    """The chance that n hatchlings settle it."""
    total = 0.0
    for k in range(n + 1):
        one, two = _masses(rows, k, n)
        if _is_settled(one, two, level):
            total += comb(n, k) * (one + two)
    return total


def _mass_if_settled(rows: list[Kind], p: float, level: float) -> float:
    """The weight of the kinds with this chance, if endless hatchlings of them settle it."""
    one = sum(weight for same, weight, chance in rows if same and chance == p)
    two = sum(weight for same, weight, chance in rows if not same and chance == p)
    return one + two if _is_settled(one, two, level) else 0.0


def _always(rows: list[Kind], level: float) -> bool:
    return all(_mass_if_settled(rows, p, level) for _, _, p in rows)
