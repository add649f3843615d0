"""The steps of a clutch, which follows which, and how long that takes as a species is known."""

from dataclasses import dataclass
from enum import StrEnum

from keeper.models import Species

NO_SOURCE = "common practice, no source"
AS_WITH_PYTHONS = "as with pythons: common practice, no source"


class Step(StrEnum):
    """The steps, in their order; those that are noted have the words of their records."""

    PLANNED = "planned"
    INTRODUCED = "introduced"
    LOCK = "lock"
    SEPARATED = "separated"
    FOLLICLES = "follicles"
    OVULATION = "ovulation"
    SHED = "shed"
    LAID = "laid"
    SET_UP = "set-up"
    CANDLED = "candled"
    LOST = "lost"
    PIP = "pip"
    HATCHED = "hatched"
    FIRST_SHED = "first-shed"
    FIRST_MEAL = "first-meal"
    READY = "ready"


NAMES = {
    Step.PLANNED: "pairing planned",
    Step.INTRODUCED: "put together",
    Step.LOCK: "lock",
    Step.SEPARATED: "separated",
    Step.FOLLICLES: "follicles",
    Step.OVULATION: "ovulation",
    Step.SHED: "shed before laying",
    Step.LAID: "laid",
    Step.SET_UP: "into the incubator",
    Step.CANDLED: "candled",
    Step.LOST: "eggs lost",
    Step.PIP: "first pip",
    Step.HATCHED: "hatched",
    Step.FIRST_SHED: "first shed",
    Step.FIRST_MEAL: "first meal",
    Step.READY: "ready to go",
}
_OF_LITTERS = {Step.SHED: "shed after ovulation", Step.HATCHED: "born"}
# A litter is born: it has no eggs.
OF_EGGS = frozenset({Step.LAID, Step.SET_UP, Step.CANDLED, Step.LOST, Step.PIP})
# What is seen several times, of which the last before laying counts; of the others the first.
LAST_COUNTS = frozenset({Step.LOCK, Step.FOLLICLES, Step.OVULATION, Step.SHED})


@dataclass(frozen=True)
class Interval:
    """From one step to another; `column` names the species' own figures for it, if it has any."""

    start: Step
    end: Step
    column: str = ""


# Of several that end alike the first whose start is known counts.
INTERVALS = (
    Interval(Step.LOCK, Step.OVULATION),
    Interval(Step.OVULATION, Step.SHED, "ovulation_shed"),
    Interval(Step.SHED, Step.LAID, "shed_laying"),
    Interval(Step.LAID, Step.PIP),
    Interval(Step.LAID, Step.HATCHED, "incubation"),
    Interval(Step.OVULATION, Step.HATCHED, "ovulation_birth"),
    Interval(Step.HATCHED, Step.FIRST_SHED, "hatch_shed"),
    Interval(Step.FIRST_SHED, Step.FIRST_MEAL, "shed_meal"),
    Interval(Step.FIRST_MEAL, Step.READY),
)
_PYTHONS = {
    "ovulation_shed": (14, 28),
    "shed_laying": (21, 35),
    "hatch_shed": (6, 14),
    "shed_meal": (1, 10),
}


@dataclass(frozen=True)
class Span:
    """So many days, at least and at most, and how that is known.

    Attributes:
        count: of how many completed intervals, where they are the keeper's own; else 0.
        median: theirs, in days.
    """

    least: int
    most: int
    known: str
    count: int = 0
    median: float | None = None


def steps_of(species: Species) -> list[Step]:
    """Return the steps that a clutch or a litter of a species takes, in order."""
    return [one for one in Step if not (species.bears_live and one in OF_EGGS)]


def name_of(step: Step, species: Species) -> str:
    """Return what a step is called, of eggs or of a litter."""
    return (_OF_LITTERS if species.bears_live else {}).get(step, NAMES[step])


def stated(species: Species, interval: Interval) -> Span | None:
    """Return how long an interval takes by the figures of the species; None: nobody says."""
    column = interval.column
    if not column or (column == "ovulation_birth" and not species.bears_live):
        return None
    if column == "incubation":
        if species.bears_live:
            return None
        return Span(*species.incubation_stated, species.figures_source or NO_SOURCE)
    least, most = getattr(species, f"{column}_least"), getattr(species, f"{column}_most")
    if least is not None and most is not None:
        return Span(least, most, species.way_source or NO_SOURCE)
    if species.bears_live or column not in _PYTHONS:
        return None
    return Span(*_PYTHONS[column], AS_WITH_PYTHONS)
