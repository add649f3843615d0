"""All that the benchmarks call of the engine."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from genetics.animal_table import AnimalTable
from genetics.compiled import compile_always
from genetics.individuals import lay_out
from genetics.model import build
from genetics.network import Network, build_network, solve_network
from genetics.population import (
    NOTHING,
    Clutch,
    Couple,
    Locus,
    Population,
    SameLocus,
    Sex,
    Sighting,
    TallyLine,
    Trait,
)
from genetics.solving import Solved, solve
from genetics.space_list import make_spaces
from tests.benchmarks.pedigrees import (
    BACKGROUND,
    STATEMENTS,
    Pedigree,
    animal_id,
    clutch_id,
    generate,
    locus_id,
    trait_id,
)
from tests.benchmarks.rivals import Factor

Floats = NDArray[np.float64]
CoupleRow = tuple[str, str, str]
TallyRow = tuple[int, int, tuple[bool, ...]]

#: Founder statements by kind of papers, with exact numbers.
_STATED = {
    papers: {key: Fraction(p) for key, p in statement.items()}
    for papers, statement in STATEMENTS.items()
}
_SIGHTED = {True: Sighting(True), False: Sighting(False)}


@dataclass(frozen=True)
class Records:
    """A pedigree in memory: its animals as columns, clutches and tally lines as rows.

    A rival is given the columns of the pedigree too.  Theirs are arrays; here they are lists, and
    ids stand for numbers.
    """

    ids: list[str]
    sexes: list[Sex]
    hatched_in: list[str | None]
    papers: list[tuple[int, ...]]
    looks: list[tuple[bool, ...]]
    clutches: list[CoupleRow]
    tallies: list[TallyRow]
    loci: int
    background: float


def records(pedigree: Pedigree) -> Records:
    """Name what the columns of a pedigree hold (not timed)."""
    couples = zip(pedigree.clutch_dam.tolist(), pedigree.clutch_sire.tolist(), strict=True)
    clutches = [
        (clutch_id(row), animal_id(dam), animal_id(sire)) for row, (dam, sire) in enumerate(couples)
    ]
    lines = (pedigree.tally_clutch, pedigree.tally_count, pedigree.tally_looks)
    tallies = [
        (clutch, count, tuple(looks))
        for clutch, count, looks in zip(*(column.tolist() for column in lines), strict=True)
    ]
    return Records(
        ids=[animal_id(row) for row in range(pedigree.animals)],
        sexes=["male" if sex else "female" for sex in pedigree.sex.tolist()],
        hatched_in=[clutch_id(row) if row >= 0 else None for row in pedigree.clutch.tolist()],
        papers=list(map(tuple, pedigree.papers.tolist())),
        looks=list(map(tuple, pedigree.looks.tolist())),
        clutches=clutches,
        tallies=tallies,
        loci=pedigree.loci,
        background=pedigree.background,
    )


def population(rows: Records, *, undecided: float | None = None) -> Population:
    """Build the engine's records of a book, which checks them too.

    With ``undecided`` all loci give one look, and each two may be one locus with that prior.
    """
    loci = [locus_id(j) for j in range(rows.loci)]
    traits = [trait_id(j) for j in range(rows.loci)]
    if undecided is None:
        shown: dict[str, tuple[str, ...]] = dict(zip(traits, zip(loci, strict=True), strict=True))
        pairs: list[SameLocus] = []
    else:
        shown = {traits[0]: tuple(loci)}
        pairs = [SameLocus((a, b), undecided) for i, b in enumerate(loci) for a in loci[:i]]
    return Population(
        loci=tuple(Locus(locus, ("+", "a")) for locus in loci),
        traits=tuple(Trait(trait, recessive_at=at) for trait, at in shown.items()),
        animals=_animals(rows, loci, list(shown)),
        clutches=_clutches(rows, list(shown)),
        sex_determination="XY",
        background={locus: {"a": rows.background} for locus in loci} if rows.background else {},
        same_locus=tuple(pairs),
    )


def _animals(rows: Records, loci: list[str], traits: list[str]) -> AnimalTable:
    """What was seen of those hatched here, what is stated of the others."""
    shows, stated = _Shows(traits), _Stated(loci)
    of_papers = zip(rows.hatched_in, rows.papers, strict=True)
    of_looks = zip(rows.hatched_in, rows.looks, strict=True)
    return AnimalTable(
        id=rows.ids,
        sex=rows.sexes,
        clutch=rows.hatched_in,
        founder=[stated[papers] if clutch is None else NOTHING for clutch, papers in of_papers],
        shows=[NOTHING if clutch is None else shows[looks] for clutch, looks in of_looks],
    )


def _clutches(rows: Records, traits: list[str]) -> tuple[Clutch, ...]:
    lines: dict[int, list[TallyLine]] = {}
    shows = _Shows(traits)
    for row, count, looks in rows.tallies:
        lines.setdefault(row, []).append(TallyLine(count, shows=shows[looks]))
    return tuple(
        Clutch(name, (Couple(dam, sire),), "one", tuple(lines.get(row, ())))
        for row, (name, dam, sire) in enumerate(rows.clutches)
    )


class _Stated(dict[tuple[int, ...], dict[str, dict[str, Fraction]]]):
    """What is stated of founders by papers: those with the same papers share one mapping."""

    def __init__(self, loci: list[str]) -> None:
        self.loci = loci

    def __missing__(self, papers: tuple[int, ...]) -> dict[str, dict[str, Fraction]]:
        named = zip(self.loci, papers, strict=True)
        made = {locus: _STATED[kind] for locus, kind in named if kind != BACKGROUND}
        self[papers] = made
        return made


class _Shows(dict[tuple[bool, ...], dict[str, Sighting]]):
    """What was seen by looks: animals that look the same share one mapping."""

    def __init__(self, traits: list[str]) -> None:
        self.traits = traits

    def __missing__(self, looks: tuple[bool, ...]) -> dict[str, Sighting]:
        seen = (any(looks),) if len(self.traits) < len(looks) else looks
        made = {trait: _SIGHTED[look] for trait, look in zip(self.traits, seen, strict=True)}
        self[looks] = made
        return made


def warm_up() -> None:
    """Compile the loops ahead, as a server does when it starts, and run each of them once."""
    compile_always()
    book = population(records(generate(200, seed=1, uncertain="all")))
    answers(book)
    sampled(book, narrow=4.0)


def solve_rows(rows: Records, *, undecided: float | None = None) -> tuple[Solved, list[Floats]]:
    """Build the records, solve them, read all posteriors: what is timed."""
    return answers(population(rows, undecided=undecided))


def answers(book: Population) -> tuple[Solved, list[Floats]]:
    """Solve a book and read all posteriors, one array (animals, genotypes) a locus."""
    solved = solve(book)
    return solved, [solved.posterior_table(locus.id)[2] for locus in book.loci]


def bars(solved: Solved, locus: int = 0) -> Floats:
    """Half widths of the error bars of all animals at a locus, 0 where exact."""
    name = locus_id(locus)
    return np.array([solved.error(animal.id, name) for animal in solved.population.animals])


def clutch_logged(solved: Solved, dam: int, sire: int, count: int, name: str) -> Solved:
    """Log a clutch of so many hatchlings, none of which showed any look."""
    shows = {trait.id: _SIGHTED[False] for trait in solved.population.traits}
    couple = Couple(animal_id(dam), animal_id(sire))
    clutch = Clutch(name, (couple,), tally=(TallyLine(count, shows=shows),))
    return solved.changed(clutches=[clutch])


def reduced(book: Population) -> Network:
    """The engine's reduced network of a book with one locus, before any planning."""
    people = lay_out(book)
    model = build(people, make_spaces(book, (), {}))
    return build_network(model, range(len(model.spaces)), model.factors, ())


def as_factors(net: Network) -> tuple[list[int], list[Factor]]:
    """A reduced network as plain sizes and tables."""
    card = net.card.tolist()
    factors: list[Factor] = []
    for f in range(len(net.factor_start) - 1):
        scope = tuple(net.scope[net.factor_start[f] : net.factor_start[f + 1]].tolist())
        flat = net.data[net.data_start[f] : net.data_start[f + 1]]
        factors.append((scope, flat.reshape([card[v] for v in scope])))
    return card, factors


def solve_reduced(net: Network, limit: float) -> Floats:
    """Plan and propagate a reduced network; posteriors (animals, genotypes)."""
    return solve_network(net, limit).posterior[0]


def reduced_variables(net: Network) -> tuple[NDArray[np.int64], list[NDArray[np.int64]]]:
    """Animals that are open variables of the reduced network, and the states of each."""
    number = net.number[0][: net.model.people.recorded]
    animals = np.flatnonzero(number >= 0)
    animals = animals[np.argsort(number[animals])]
    return animals, [np.asarray(net.model.states(0, int(animal))) for animal in animals]


def sampled(book: Population, *, narrow: float) -> tuple[Solved, list[Floats]]:
    """Answer by sampling with cut sets that leave cliques of so few cells."""
    solved = solve(book, narrow=narrow)
    return solved, [solved.posterior_table(locus.id)[2] for locus in book.loci]
