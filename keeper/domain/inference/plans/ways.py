"""Ways to a project's goal: which crosses lead there from the animals at hand."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import genetics
from keeper.domain.inference.plans.gains import families
from keeper.domain.inference.questions.asking import Unanswerable
from keeper.domain.inference.questions.goals import goal_parts
from keeper.domain.inference.questions.guests import GUEST, Guest
from keeper.models import Animal, Project

MOST_AT_HAND = 8


@dataclass(frozen=True)
class WayParent:
    """A parent: an animal (its id), what a step of this number kept, or neither: one bought."""

    animal: int | None = None
    step: int | None = None


@dataclass(frozen=True)
class WayStep:
    """One cross and what is kept of it.

    Attributes:
        number: from 1; `generation`: from 1.
        shows: trait → whether what is kept shows it; in the last step the goal's.
        sex: what later steps use: "female", "male", "both"; in the last the goal's, or "any".
        chance: that one hatchling is what is kept; `clutch`: that a clutch gives it.
        known: whether all that look so are of one genotype at the goal's loci.
        needed: hatchlings for a chance of 95 % of it; nothing where no number is enough.
        last: whether it gives the goal itself.
    """

    number: int
    generation: int
    dam: WayParent
    sire: WayParent
    shows: Mapping[str, bool]
    sex: str
    chance: float
    clutch: float
    known: bool
    needed: int | None
    last: bool


@dataclass(frozen=True)
class Way:
    """The steps of a way, and the seasons that it takes if a step that fails is tried again."""

    steps: tuple[WayStep, ...]
    generations: int
    seasons: float


@dataclass(frozen=True)
class Ways:
    """The ways of fewest seasons, the best first; records that contradict each other, in words."""

    ways: tuple[Way, ...]
    conflict: tuple[str, ...] = ()


def ways(
    project: Project,
    animals: Sequence[Animal],
    *,
    generations: int,
    eggs: int,
    mature: int,
    bought: Guest | None = None,
) -> Ways:
    """The ten ways of fewest seasons from at most eight animals of known sex.

    Raises:
        Unanswerable: it is too large, or the goal cannot be asked so.
    """
    parts = goal_parts(project)
    found = families(project.species, animals, {part.trait_id for part in parts}, bought)
    goal = found.goal(parts, project.sex)
    if goal is None or found.one is None:
        return Ways((), found.conflict)
    one = found.one
    ids = {one.code(animal): animal.pk for animal in animals}
    at_hand = list(ids)
    if bought is not None:
        at_hand.append(GUEST)
    question = genetics.RoutesQuestion(goal, tuple(at_hand), generations, eggs, mature)
    try:
        solved = one.solve()
        routes = genetics.routes(solved, question)
    except genetics.BeyondExact as beyond:
        raise Unanswerable(
            "There are more ways than can be weighed exactly: choose fewer animals or generations."
        ) from beyond
    return Ways(tuple(_way(route, ids) for route in routes), found.conflict)


def _way(route: "genetics.Route", ids: Mapping[str, int]) -> Way:
    def parent(name: str) -> WayParent:
        if name in ids:
            return WayParent(animal=ids[name])
        return WayParent() if name == GUEST else WayParent(step=int(name[1:]))

    count = len(route.steps)
    return Way(
        tuple(
            WayStep(
                number=number,
                generation=step.generation,
                dam=parent(step.dam),
                sire=parent(step.sire),
                shows=dict(step.shows),
                sex=step.sex,
                chance=step.chance,
                clutch=step.clutch,
                known=step.known,
                needed=step.needed,
                last=number == count,
            )
            for number, step in enumerate(route.steps, start=1)
        ),
        route.generations,
        route.seasons,
    )
