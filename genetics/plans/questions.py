"""What is asked about seasons to come, as frozen records that mirror case files one to one.

`genetics.plans.reading` makes them of JSON, `genetics.plans.validation` checks them against the
population that they are about.  A field that a case leaves out has the default given here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from genetics.population import Goal, Number


@dataclass(frozen=True, slots=True)
class TestQuestion:
    """Is an animal one of `genotypes`, and would hatchlings with each of `mates` tell?

    Attributes:
        genotypes: locus → accepted genotype keys; all loci named must hold.
        mates: animals recorded as of the other sex.
        eggs: numbers of hatchlings that live.
        shows: the trait that is looked for on each hatchling.
        settle: chance, between a half and 1, at which the question counts as settled.
    """

    __test__ = False

    animal: str
    genotypes: Mapping[str, tuple[str, ...]]
    mates: tuple[str, ...]
    eggs: tuple[int, ...]
    shows: str
    settle: Number


@dataclass(frozen=True, slots=True)
class ForecastQuestion:
    """When will a goal be reached, if these animals are bred towards it?

    Attributes:
        wanted: how many hatchlings are to meet the goal.
        animals: those at hand with their age, in seasons, in the first season.
        seasons: how many seasons to look ahead.
        mature_female, mature_male: age from which an animal of that sex may breed.
        clutch: pairs of a number of living hatchlings and its chance.
        lays: chance that a paired female lays a clutch; `clutches` are tried a season.
        lives: chance that an animal lives on to the next season.
        pairs: most females paired in a season; `matings`: most females of one male.
        places: most animals kept at the end of a season; `None`: no limit.
        females: share of hatchlings that are female where chromosomes do not decide it; `None`:
            as the population says.
        runs, seed: of the simulation, where no closed form is used.
    """

    goal: Goal
    animals: Mapping[str, int]
    seasons: int
    clutch: tuple[tuple[int, Number], ...]
    wanted: int = 1
    mature_female: int = 3
    mature_male: int = 3
    lays: Number = 1
    lives: Number = 1
    pairs: int = 1
    matings: int = 1
    places: int | None = None
    clutches: int = 1
    females: Number | None = None
    runs: int = 20_000
    seed: int = 0


@dataclass(frozen=True, slots=True)
class RoutesQuestion:
    """Which crosses lead from the animals at hand to the goal?

    Attributes:
        animals: those at hand, at most 8.
        generations: most generations of a route, 1 to 3.
        eggs: living hatchlings of a clutch.
        mature: seasons from a hatchling to its first clutch.
    """

    goal: Goal
    animals: tuple[str, ...]
    generations: int = 2
    eggs: int = 8
    mature: Number = 3


@dataclass(frozen=True, slots=True)
class WeightedGoal:
    """A goal and how much a pair's chance of it counts."""

    goal: Goal
    weight: Number = Fraction(1)


@dataclass(frozen=True, slots=True)
class SeasonQuestion:
    """Who is bred with whom this year?

    Attributes:
        worth: a row a female, a column a male; `None` where `goals` and `eggs` make it.
        matings: most females of one male; `clutches`: most pairs, `None` for no limit.
        kinship: highest kinship of a pair, `None` for no limit.
        fixed, forbidden: pairs of a female and a male.
    """

    females: tuple[str, ...]
    males: tuple[str, ...]
    worth: tuple[tuple[Number, ...], ...] | None = None
    goals: tuple[WeightedGoal, ...] | None = None
    eggs: int | None = None
    matings: int = 1
    clutches: int | None = None
    kinship: Number | None = None
    fixed: tuple[tuple[str, str], ...] = ()
    forbidden: tuple[tuple[str, str], ...] = ()
