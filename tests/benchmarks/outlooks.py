"""Whether forecasts mean what they say, and what holding back by them is worth.

    python -m tests.benchmarks.outlooks --projects 1000 --holdbacks 150

Projects of which the truth is known: founders as their papers say, a clutch of two of them that was
looked at, by Mendel. A forecast is made of what is known; then the truth is played on by the same
keeper, who knows no more. Where the season of success falls in the forecast must be
uniform (the randomised probability integral transform: seasons are whole, so that a place within
the season is drawn), and the middle 80 % must hold 80 of 100.

Then two of the hatchlings are held back: by the forecast, at random, or by the customary figure
(each by its parents' papers and its own look alone). The truth is played on from each, and the
seasons that they take are compared.
"""

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from random import Random

import numpy as np

from genetics import (
    Animal,
    Clutch,
    Couple,
    ForecastQuestion,
    Goal,
    Locus,
    Population,
    Sighting,
    Solved,
    TallyLine,
    Trait,
    forecast,
    joint,
    solve,
)
from genetics.plans.forecast.genome import genome
from genetics.plans.forecast.hand import at_hand
from genetics.plans.forecast.random_numbers import Stream
from genetics.plans.forecast.simulate import play

LOCI = (Locus("a", ("+", "m")), Locus("b", ("+", "m")))
TRAITS = (Trait("A", recessive_at=("a",)), Trait("B", recessive_at=("b",)))
GOAL = Goal(shows={"A": True, "B": True})
SEASONS = 14
PAPERS = (
    {"+/+": 1 / 3, "+/m": 2 / 3},
    {"+/+": 1 / 2, "+/m": 1 / 2},
    {"+/m": 1.0},
    {"m/m": 1.0},
    {"+/+": 1.0},
)
Truth = dict[str, dict[str, str]]


@dataclass(frozen=True)
class Drawn:
    """A project of which the truth is known, and what is known of it."""

    population: Population
    truth: Truth
    founders: tuple[str, ...]
    young: tuple[str, ...]


def drawn(random: Random, young: int) -> Drawn:
    """Founders by their papers, a clutch of two of them: some young with a record, some counted."""
    truth: Truth = {}
    animals = []
    for name in ("F1", "F2", "M1", "M2"):
        papers = {locus.id: random.choice(PAPERS) for locus in LOCI}
        truth[name] = {
            locus: random.choices(list(said), list(said.values()))[0]
            for locus, said in papers.items()
        }
        sex = "female" if name[0] == "F" else "male"
        animals.append(Animal(name, sex=sex, founder=papers, shows=_seen(truth[name])))  # type: ignore[arg-type]
    names = [f"K{n}" for n in range(young)]
    for name in names:
        truth[name] = _child(truth["F1"], truth["M1"], random)
        sex = random.choice(("female", "male"))
        animals.append(Animal(name, sex=sex, clutch="C", shows=_seen(truth[name])))  # type: ignore[arg-type]
    rest = [_child(truth["F1"], truth["M1"], random) for _ in range(3)]
    tally = tuple(TallyLine(1, shows=_seen(one)) for one in rest)
    clutch = Clutch("C", (Couple("F1", "M1"),), tally=tally)
    population = Population(loci=LOCI, traits=TRAITS, animals=tuple(animals), clutches=(clutch,))
    return Drawn(population, truth, ("F1", "F2", "M1", "M2"), tuple(names))


def _seen(one: dict[str, str]) -> dict[str, Sighting]:
    return {"A": Sighting(one["a"] == "m/m"), "B": Sighting(one["b"] == "m/m")}


def _child(dam: dict[str, str], sire: dict[str, str], random: Random) -> dict[str, str]:
    return {
        locus: "/".join(
            sorted((random.choice(dam[locus].split("/")), random.choice(sire[locus].split("/"))))
        )
        for locus in ("a", "b")
    }


def question(one: Drawn, kept: Sequence[str], runs: int, seed: int) -> ForecastQuestion:
    """The project bred on from its founders and those of the young that were kept."""
    ages = dict.fromkeys(one.founders, 4) | dict.fromkeys(kept, 1)
    return ForecastQuestion(
        GOAL, ages, SEASONS, ((4, 0.25), (6, 0.5), (8, 0.25)), lays=0.85, lives=0.97, pairs=2,
        matings=2, places=8, runs=runs, seed=seed,
    )  # fmt: skip


def played(solved: Solved, one: Drawn, kept: Sequence[str], seed: int) -> int:
    """The season in which the truth reaches the goal, 0 for none, played by what is known."""
    asked = question(one, kept, 1, seed)
    animals = tuple(asked.animals)
    stream = Stream.of(seed)
    known = genome(solved, GOAL, animals, None)
    hand = at_hand(solved, known, animals, 1, stream.under("hand"))
    (reading,) = known.readings
    numbers = np.zeros((1, len(animals)), dtype=np.int64)
    for column, name in enumerate(animals):
        fits = np.ones(len(reading.digits), dtype=bool)
        for place, k in enumerate(reading.spaces):
            space = reading.model.spaces[k]
            keys = np.array(space.keys[0])[space.key_of[0]]
            fits &= keys[reading.in_space(place)] == one.truth[name][space.loci[0].id]
        (numbers[0, column],) = np.flatnonzero(fits)
    sexes = np.array(
        [
            [
                int(solved.population.sexes[solved.population.animal_index[a]] == "male")
                for a in animals
            ]
        ]
    )
    return int(play(hand, asked, stream, (numbers, sexes)).reached[0])


def calibration(projects: int, runs: int) -> None:
    """Print where the seasons of success fall in their forecasts."""
    places = []
    for number in range(projects):
        random = Random(number)
        one = drawn(random, 3)
        solved = solve(one.population)
        found = forecast(solved, question(one, one.young, runs, 2 * number))
        season = played(solved, one, one.young, 2 * number + 1)
        below = [0.0, *(each.p for each in found.reached)]
        low, high = (below[season - 1], below[season]) if season else (below[-1], 1.0)
        places.append(low + random.random() * (high - low))
    held = np.array(places)
    inside = float(((held >= 0.1) & (held <= 0.9)).mean())
    bins = np.histogram(held, 10, (0, 1))[0]
    expected = projects / 10
    chi = float(((bins - expected) ** 2 / expected).sum())
    error = (0.8 * 0.2 / projects) ** 0.5
    print(f"forecasts: {projects} projects, {runs} runs each")
    print(f"  the middle 80 % holds {inside:.1%} (77 to 83 % must hold; error {error:.1%})")
    print(f"  by tenths: {bins.tolist()}; chi-squared {chi:.1f} on 9 (below 16.9 in 95 of 100)")


def holdbacks(projects: int, runs: int) -> None:
    """Print the seasons that holding back two hatchlings takes, by three ways of choosing."""
    seasons: dict[str, list[float]] = {"forecast": [], "random": [], "customary": []}
    for number in range(projects):
        random = Random(10_000 + number)
        one = drawn(random, 5)
        solved = solve(one.population)
        chosen = {
            "forecast": _by_forecast(solved, one, runs, number),
            "random": tuple(random.sample(one.young, 2)),
            "customary": _by_custom(one),
        }
        for way, kept in chosen.items():
            # The same luck for all three, several times over.
            taken = [played(solved, one, kept, 1_000 * number + luck) for luck in range(20)]
            seasons[way].append(sum(each or SEASONS + 1 for each in taken) / len(taken))
    print(f"holding back two of five: {projects} projects, 20 runs of the truth each")
    for way, found in seasons.items():
        print(f"  by {way}: {np.mean(found):.2f} seasons (none within {SEASONS}: {SEASONS + 1})")
    for way in ("random", "customary"):
        saved = np.array(seasons[way]) - np.array(seasons["forecast"])
        error = saved.std(ddof=1) / len(saved) ** 0.5
        print(f"  saved against {way}: {saved.mean():.2f} seasons, give or take {1.96 * error:.2f}")


def _by_forecast(solved: Solved, one: Drawn, runs: int, seed: int) -> tuple[str, ...]:
    """The two with which the goal is reached soonest, on the average of the runs."""

    def mean(kept: tuple[str, ...]) -> float:
        found = forecast(solved, question(one, kept, runs, seed))
        return sum(each.p for each in found.reached)

    return max(combinations(one.young, 2), key=mean)


def _by_custom(one: Drawn) -> tuple[str, ...]:
    """The two likeliest to carry both, each by its parents' papers and its own look alone."""
    chances = {}
    for name in one.young:
        alone = replace(
            one.population,
            animals=tuple(
                each for each in one.population.animals if each.id in {*one.founders, name}
            ),
            clutches=tuple(each._replace(tally=()) for each in one.population.clutches),
        )
        asked = ((name, "a"), (name, "b"))
        carrying = dict.fromkeys(("a", "b"), ("+/m", "m/m"))
        chances[name] = joint(solve(alone, queries=[asked]), name, carrying)
    return tuple(sorted(one.young, key=lambda name: (-round(chances[name], 9), name))[:2])


def main() -> None:
    """Read what is asked, and print it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--projects", type=int, default=1000)
    parser.add_argument("--runs", type=int, default=2000)
    parser.add_argument("--holdbacks", type=int, default=100)
    options = parser.parse_args()
    calibration(options.projects, options.runs)
    if options.holdbacks:
        holdbacks(options.holdbacks, 1000)


if __name__ == "__main__":
    main()
