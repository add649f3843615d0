"""Goals of projects in the engine's words, over the whole families of some animals at once.

What is planned over several generations needs all loci of a goal in one population, where the
other questions ask group by group.
"""

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from operator import add

import genetics
from keeper.domain.inference.questions.asking import Subproblem, Unanswerable, families_together
from keeper.domain.inference.questions.goals import (
    WANTED_SEX,
    goal_parts,
    two_needed,
    wanted_lines,
)
from keeper.domain.inference.questions.guests import Guest
from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.shown_looks import enough_copies
from keeper.domain.inference.standings.copies import unsure
from keeper.models import Animal, GoalPart, Need, Project, Species, Trait

Matrix = list[list[float]]
# What sums of floats may lose of a chance that is certain.
_NEAR = 1e-12


@dataclass(frozen=True)
class Families:
    """The families of some animals at the loci of some traits, as one population.

    Attributes:
        one: the population; nothing where nobody of them can carry any of it.
        conflict: records that cannot all be true, in words; the newest was set aside.
    """

    one: Subproblem | None
    conflict: tuple[str, ...]

    def goal(self, parts: Sequence[GoalPart], sex: str) -> "genetics.Goal | None":
        """A goal as the engine asks it; nothing where nobody here carries what it needs.

        Raises:
            Unanswerable: a part of it is a gene that several loci may hold.
        """
        if self.one is None:
            return None
        inheritance = self.one.of.inheritance
        shows: dict[str, bool] = {}
        genotypes: dict[str, tuple[str, ...]] = {}
        for part in parts:
            trait = inheritance.traits[part.trait_id]
            wanted = wanted_lines(inheritance, part)
            if not (inheritance.loci_of(trait) | wanted.keys()) <= self.one.loci or not wanted:
                return None
            if part.need == Need.SHOWS:
                shows[trait.name] = True
                if part.line is None and not part.among:
                    continue
            if len(wanted) > 1:
                raise Unanswerable(
                    f"Several genes can be meant by “{part}”, so that no way to it can be worked "
                    "out. Name a line in the goal."
                )
            ((locus, keys),) = _keys(inheritance, part).items()
            both = genotypes.get(locus, keys)
            genotypes[locus] = tuple(key for key in both if key in keys)
            if not genotypes[locus]:
                return None
        sexed = inheritance.species.has_sex_chromosomes
        return genetics.Goal(shows, genotypes, WANTED_SEX.get(sex) if sexed else None)


def families(
    species: Species,
    animals: Iterable[Animal],
    traits: Iterable[int],
    guest: Guest | None = None,
) -> Families:
    """Gather what bears on some animals in some traits, and a guest, as one population.

    Raises:
        Unanswerable: the register itself leaves nothing possible.
    """
    asked = families_together(species, {one.pk for one in animals}, set(traits), guest)
    return Families(next(iter(asked.subproblems), None), asked.conflict)


def _keys(inheritance: Inheritance, part: GoalPart) -> dict[str, tuple[str, ...]]:
    """The genotypes that meet a part of a goal, at the one locus that it needs."""
    needed = 2 if two_needed(part) else 1
    (keys,) = enough_copies(inheritance, wanted_lines(inheritance, part), needed)
    return keys


@dataclass(frozen=True)
class PairGains:
    """What each female (a row) with each male (a column) gives, parents uncertain together.

    Attributes:
        goals: project → the chance that a clutch gives one at least that meets its goal.
        nearer: project → the chance that one at least carries something for every part of it.
        harm: the chance of one hatchling to show what harms, the greatest over such looks.
        bits: what the hatchlings would tell of what the two carry, in bits, over some traits.
        conflict: records that cannot all be true, in words.
    """

    goals: dict[int, Matrix]
    nearer: dict[int, Matrix]
    harm: Matrix
    bits: Matrix
    conflict: tuple[str, ...]


def pair_gains(
    species: Species,
    projects: Sequence[Project],
    females: Sequence[Animal],
    males: Sequence[Animal],
    eggs: int,
    tested: Collection[int] = (),
) -> PairGains:
    """What every pair gives the projects, worked out exactly and all at once.

    `tested` are the traits of which it is asked what the hatchlings would tell.

    Raises:
        Unanswerable: it is too large to be worked out exactly, or a goal cannot be asked so.
    """
    parts = {project.pk: goal_parts(project) for project in projects}
    asked = {part.trait_id for each in parts.values() for part in each}
    found = families(species, [*females, *males], asked | _harmful(species) | set(tested))
    nothing: Matrix = [[0.0] * len(males) for _ in females]
    if found.one is None or not females or not males:
        return PairGains(
            dict.fromkeys(parts, nothing), dict.fromkeys(parts, nothing), nothing, nothing,
            found.conflict,
        )  # fmt: skip
    one = found.one
    solved = one.solve()
    dams, sires = [one.code(each) for each in females], [one.code(each) for each in males]

    def chances(goal: "genetics.Goal | None", eggs: int) -> Matrix:
        if goal is None:
            return nothing
        try:
            told = genetics.goal_chances(solved, dams, sires, goal, eggs)
        except genetics.BeyondExact as beyond:
            raise Unanswerable(
                "This is more than can be worked out exactly: ask about fewer animals or projects."
            ) from beyond
        return [
            [_at_least(*pair) for pair in zip(*rows, strict=True)]
            for rows in zip(told.one.tolist(), told.at_least_one.tolist(), strict=True)
        ]

    harm = nothing
    inheritance = one.of.inheritance
    for pk in sorted(_harmful(species)):
        if inheritance.loci_of(inheritance.traits[pk]) <= one.loci:
            shown = chances(genetics.Goal({inheritance.traits[pk].name: True}), 1)
            harm = _both(max, harm, shown)
    goals, nearer = {}, {}
    for project in projects:
        own = parts[project.pk]
        goals[project.pk] = chances(found.goal(own, project.sex), eggs)
        nearer[project.pk] = chances(_all_carried(found, own), eggs)
    bits = nothing
    for pk in tested:
        for told in _told(one, solved, inheritance.traits[pk], dams, sires, eggs):
            bits = _both(add, bits, told)
    return PairGains(goals, nearer, harm, bits, found.conflict)


def _at_least(one: float, several: float) -> float:
    """The chance among several hatchlings: certain only where that of one hatchling is."""
    return several if one >= 1 - _NEAR else unsure(several)


def _both(combined: Callable[[float, float], float], one: Matrix, other: Matrix) -> Matrix:
    return [list(map(combined, *rows)) for rows in zip(one, other, strict=True)]


def _told(
    one: Subproblem,
    solved: "genetics.Solved",
    trait: Trait,
    dams: Sequence[str],
    sires: Sequence[str],
    eggs: int,
) -> Iterable[Matrix]:
    """What hatchlings without a trait, or with it, tell of either parent, locus by locus."""
    inheritance = one.of.inheritance
    lines = {line.pk for line in inheritance.lines_of(trait)}
    for locus in sorted(inheritance.loci_of(trait) & one.loci):
        keys = tuple(key for key, copies in inheritance.keys(locus) if lines.intersection(copies))
        name = inheritance.loci[locus].name
        for suspect in ("dam", "sire"):
            asked = genetics.CarrierQuestion(suspect, name, keys, trait.name, eggs)
            try:
                told: Matrix = genetics.test_bits(solved, dams, sires, asked).tolist()
            except genetics.BeyondExact:
                continue
            yield told


def _all_carried(found: Families, parts: Sequence[GoalPart]) -> "genetics.Goal | None":
    """That something for every part is carried, as a goal."""
    carried = []
    for part in parts:
        other = GoalPart(project=part.project, trait=part.trait, line=part.line, need=Need.CARRIES)
        other.among = part.among
        carried.append(other)
    try:
        return found.goal(carried, "unknown")
    except Unanswerable:
        return None


def _harmful(species: Species) -> set[int]:
    traits = species.traits.live().exclude(harm="")
    return set(traits.values_list("pk", flat=True))


@dataclass(frozen=True)
class PlannedPair:
    """A pair of the best plan, by the places of the two in the lists asked about.

    Attributes:
        worth: of this pair.
        without: the best worth in all without it; nothing where it is fixed.
    """

    female: int
    male: int
    worth: float
    without: float | None


def best_pairs(
    worth: Sequence[Sequence[float]],
    *,
    matings: int,
    clutches: int | None,
    fixed: Iterable[tuple[int, int]],
    forbidden: Iterable[tuple[int, int]],
) -> tuple[list[PlannedPair], float]:
    """The pairs of greatest worth in all, each female once, and that worth; proved to be best."""
    females = tuple(str(row) for row in range(len(worth)))
    males = tuple(str(column) for column in range(len(worth[0]) if worth else 0))
    question = genetics.SeasonQuestion(
        females,
        males,
        worth=tuple(map(tuple, worth)),
        matings=matings,
        clutches=clutches,
        fixed=tuple((str(row), str(column)) for row, column in fixed),
        forbidden=tuple((str(row), str(column)) for row, column in forbidden),
    )
    found = genetics.best_pairs(question)
    pairs = [
        PlannedPair(int(one.female), int(one.male), one.worth, one.next) for one in found.pairs
    ]
    return pairs, found.worth
