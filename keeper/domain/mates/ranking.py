"""Mates in order: what a pair gives the open projects first, then what it tells of the animal."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor

from keeper.domain.inference import GoalChance, Mates, Proof
from keeper.models import Animal, GoalPart, Project, Species

# Chances that differ by less are the same, and the next thing decides.
_PLACES = 9
# What a clutch settles with a smaller chance is nothing to pair two animals for.
_LEAST = 0.01


@dataclass(frozen=True)
class ForProject:
    """What a pair gives an open project; without a chance it is too large to be worked out."""

    project: Project
    parts: tuple[GoalPart, ...]
    chance: GoalChance | None
    hatchlings: int

    @property
    def each(self) -> float:
        """The chance that one hatchling meets the goal."""
        return self.chance.each if self.chance else 0.0

    @property
    def one_of_a_clutch(self) -> float:
        """The chance of at least one in a clutch."""
        return self.chance.at_least_one[self.hatchlings] if self.chance else 0.0


@dataclass(frozen=True)
class Rank:
    """A mate and what it is worth.

    Attributes:
        place: where it stands among those asked about.
        projects: those that a hatchling of the pair can serve, the likeliest first.
        proofs: what a clutch would tell of the animal, the likeliest to be settled first.
        kinship: of the pair.
        too_large: whether some project's chance could not be worked out.
    """

    mate: Animal
    place: int
    projects: tuple[ForProject, ...]
    proofs: tuple[Proof, ...]
    kinship: float
    too_large: bool

    @property
    def is_worth_it(self) -> bool:
        """Whether it serves a project or tells something of the animal."""
        return bool(self.projects or self.proofs)

    @property
    def _order(self) -> tuple[float, float, float, str]:
        served = max((one.one_of_a_clutch for one in self.projects), default=0.0)
        settled = max((one.settled for one in self.proofs), default=0.0)
        return (-round(served, _PLACES), -round(settled, _PLACES), self.kinship, self.mate.code)


def hatchlings_of(species: Species) -> int:
    """Return how many hatchlings to count on, by the species' figures; never rounded up."""
    return max(1, floor(species.eggs_usual * Fraction(species.hatch_rate)))


def ranked(
    asked: Mates, projects: Sequence[tuple[Project, Sequence[GoalPart]]], hatchlings: int
) -> list[Rank]:
    """Return the mates that were asked about, the most worth first.

    By the best chance of at least one in a clutch that meets an open goal, then by the best chance
    that a clutch settles something that the animal may carry, then by kinship.
    """
    eggs = (hatchlings,)
    goals = [(one, tuple(parts), asked.goals(one, eggs)) for one, parts in projects]
    proofs = asked.proofs(hatchlings)
    related = asked.kinships(range(len(asked.mates)))
    found = []
    for place, mate in enumerate(asked.mates):
        served = [
            ForProject(project, parts, answers[place], hatchlings)
            for project, parts, answers in goals
        ]
        able = [one for one in served if one.each > 0]
        able.sort(key=lambda one: (-round(one.one_of_a_clutch, _PLACES), one.project.name))
        found.append(
            Rank(
                mate=mate,
                place=place,
                projects=tuple(able),
                proofs=tuple(one for one in proofs[place] if one.settled >= _LEAST),
                kinship=related[place],
                too_large=any(one.chance is None for one in served),
            )
        )
    return sorted(found, key=lambda one: one._order)
