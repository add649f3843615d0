"""The whole book solved: every hypothesis weighed, every posterior read."""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import product
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from genetics.arrays import Bools1, Floats2
from genetics.components import Components
from genetics.errors import BeyondExact, ImpossibleEvidence
from genetics.individuals import Individuals, lay_out
from genetics.keys import reported_keys
from genetics.model import Factor, Model, Node, Vanished, build, genotype
from genetics.network import GroupResult, Network, build_network, solve_network
from genetics.population import NO_SIRE, Animal, Clutch, Population
from genetics.space_list import MOST_STATES, make_spaces
from genetics.spaces import EITHER, FEMALE, Space, every_key

if TYPE_CHECKING:
    from genetics.increment import Kin

CELLS = 2.0**26
"""Table cells that exact inference may take for one component unless told otherwise."""

SHARED_CELLS = 2.0**20
"""Table cells that words which share a trust may take together; beyond they are taken apart."""

SHARED = "words that share a trust tie too much together, and are not sampled"

Partition = tuple[tuple[str, ...], ...]
Spaces = dict[tuple[str, ...], Space]
"""State spaces by what they are of, to share between solutions of like populations."""


@dataclass(frozen=True)
class Effort:
    """How far to go: cells for exact inference, whether sampling may follow, or must replace it."""

    limit: float
    sampled: bool
    narrow: float | None
    notice: Callable[[str], None]


@dataclass
class World:
    """One hypothesis about which lines are one locus, solved."""

    prior: float
    classes: Partition
    model: Model
    group_of: dict[int, GroupResult]
    aux_group: dict[Node, GroupResult]
    log_evidence: float


@dataclass
class Solved:
    """Answers of a solved population; probabilities average over the hypotheses left open.

    Attributes:
        population: what was solved.
        worlds: the hypotheses with positive probability.
        chance: their posterior probabilities.
        limit: table cells that exact inference may take for one component.
    """

    population: Population
    people: Individuals
    worlds: list[World]
    chance: list[float]
    evidence: Callable[[], float]
    limit: float
    spaces: Spaces = field(default_factory=dict)
    kin: Kin | None = None
    certain: Bools1 | None = None

    @cached_property
    def log_evidence(self) -> float:
        """Natural logarithm of the probability of all evidence; not a number if sampled."""
        return self.evidence()

    @property
    def exact(self) -> bool:
        """Whether no group had to be answered by sampling."""
        return all(g.exact for world in self.worlds for g in world.group_of.values())

    def posterior_table(self, locus: str) -> tuple[tuple[str, ...], tuple[str, ...], Floats2]:
        """Animal ids, genotype keys and the array of probabilities (animals × keys)."""
        one = self.population.loci[self.population.locus_index[locus]]
        keys = every_key(one, self.population.sex_determination)
        total = np.zeros((len(self.population.animals), len(keys)))
        for world, chance in zip(self.worlds, self.chance, strict=True):
            k = world.model.place(locus)
            space = world.model.spaces[k]
            states = world.group_of[k].posterior[k]
            table = np.zeros(total.shape)
            key_of = space.key_of[space.locus_position(locus)][: space.genotypes]
            for state, key in enumerate(key_of):
                table[:, key] += states[:, state]
            total += chance * table
        return tuple(self.population.animal_index), keys, total

    @cached_property
    def _tables(self) -> dict[str, tuple[tuple[str, ...], Floats2]]:
        return {}

    def posterior(self, animal: str, locus: str) -> dict[str, float]:
        """Probability of every genotype key that the animal's sex allows at the locus."""
        if locus not in self._tables:
            self._tables[locus] = self.posterior_table(locus)[1:]
        keys, table = self._tables[locus]
        i = self.population.animal_index[animal]
        row = dict(zip(keys, table[i].tolist(), strict=True))
        one = self.population.loci[self.population.locus_index[locus]]
        wanted = reported_keys(one, self.population.sex_determination, self.population.sexes[i])
        return {key: row[key] for key in wanted}

    def error(self, animal: str, locus: str) -> float:
        """Half width of the 95 % interval of the animal's probabilities there; 0 if exact."""
        worst = 0.0
        i = self.population.animal_index[animal]
        for world in self.worlds:
            k = world.model.place(locus)
            spread = world.group_of[k].error.get(k)
            if spread is not None:
                worst = max(worst, float(spread[i].max()))
        return worst

    def sex(self, animal: str) -> float:
        """Probability that an animal is female."""
        i = self.population.animal_index[animal]
        known = self.population.sexes[i]
        if known != "unknown":
            return float(known == "female")
        total = 0.0
        for world, chance in zip(self.worlds, self.chance, strict=True):
            sexed = [k for k, s in enumerate(world.model.spaces) if s.sex_linked]
            node: Node = ("sex", i)
            if node in world.aux_group:
                female = float(world.aux_group[node].marginal[node][0])
            elif sexed:
                k = sexed[0]
                row = world.group_of[k].posterior[k][i]
                female = float(row[world.model.spaces[k].sex[: len(row)] == 0].sum())
            else:
                return self._sex_by_parents(animal)
            total += chance * female
        return total

    def _sex_by_parents(self, animal: str) -> float:
        """Probability of female where no locus tells: with a sire, the share of females."""
        from genetics.dam_alone import sex_alone

        only, alone = sex_alone(self.population.sex_determination), 0.0
        record = self.population.animals[self.population.animal_index[animal]]
        if only != EITHER and record.clutch is not None:
            clutch = self.population.clutches[self.population.clutch_index[record.clutch]]
            if any(couple.sire == NO_SIRE for couple in clutch.candidates):
                shares = self.parentage(record.clutch)
                each = shares[animal] if isinstance(shares, dict) else shares
                couples = zip(clutch.candidates, each, strict=True)
                alone = sum(p for couple, p in couples if couple.sire == NO_SIRE)
        elif only != EITHER and record.sire == NO_SIRE:
            alone = 1.0
        return float(self.population.females) * (1.0 - alone) + alone * (only == FEMALE)

    def parentage(self, clutch: str) -> list[float] | dict[str, list[float]]:
        """Posterior of a clutch's candidate couples: a list, or by animal for `"each"`."""
        position = self.population.clutch_index[clutch]
        record = self.population.clutches[position]
        if len(record.candidates) == 1:
            alone = [1.0]
            if record.paternity == "one":
                return alone
            return {a.id: alone for a in self.population.animals if a.clutch == clutch}
        found: dict[int, list[float]] = {}
        for number, draw in enumerate(self.people.draws):
            if draw.clutch == position and (draw.animal >= 0 or record.paternity == "one"):
                node: Node = ("draw", number)
                each = np.zeros(len(draw.prior))
                for world, chance in zip(self.worlds, self.chance, strict=True):
                    each += chance * world.aux_group[node].marginal[node]
                found[draw.animal] = each.tolist()
        if record.paternity == "one":
            return found[-1]
        names = self.population.animals
        return {names[i].id: row for i, row in found.items()}

    def trust(self, name: str) -> float:
        """Posterior probability that what was said under one trust holds."""
        node: Node = ("trust", list(self.population.trust).index(name))
        if node not in self.worlds[0].aux_group:
            return float(self.population.trust[name])
        return sum(
            chance * float(world.aux_group[node].marginal[node][1])
            for world, chance in zip(self.worlds, self.chance, strict=True)
        )

    def same_locus(self) -> list[float]:
        """Posterior probability of each `same_locus` entry."""
        return [
            sum(
                chance
                for world, chance in zip(self.worlds, self.chance, strict=True)
                if any(set(entry.loci) <= set(one) for one in world.classes)
            )
            for entry in self.population.same_locus
        ]

    def asked(self, queries: Sequence[tuple[tuple[str, str], ...]]) -> Solved:
        """Solve again with joint tables for groups of (animal, locus) pairs."""
        return solve(self.population, limit=self.limit, queries=queries, spaces=self.spaces)

    def changed(
        self,
        *,
        animals: Iterable[Animal] = (),
        clutches: Iterable[Clutch] = (),
        without: Iterable[str] = (),
    ) -> Solved:
        """The book with records added or replaced (by id) or taken away, solved anew.

        Added records are inferred within the part of the pedigree that they can touch, the rest
        keeps its numbers (`genetics.increment`); anything else is solved in full, with the state
        spaces kept.

        Raises:
            ImpossibleEvidence: the changed book cannot be true.
            MalformedCase: a record contradicts the contract.
        """
        from genetics.increment import added

        animals, clutches, gone = tuple(animals), tuple(clutches), set(without)
        if not gone:
            quick = added(self, animals, clutches)
            if quick is not None:
                return quick
        population = replace(
            self.population,
            animals=_replaced(self.population.animals, animals, gone),
            clutches=_replaced(self.population.clutches, clutches, gone),
        )
        return solve(population, limit=self.limit, spaces=self.spaces)


Content = tuple[Hashable, ...]
"""All that decides the answer of a group."""
Record = TypeVar("Record", Animal, Clutch)


def _replaced(
    old: Sequence[Record], new: Iterable[Record], gone: Collection[str]
) -> tuple[Record, ...]:
    records = {record.id: record for record in old if record.id not in gone}
    records.update({record.id: record for record in new})
    return tuple(records.values())


def hypotheses(population: Population) -> list[tuple[float, Partition]]:
    """Every consistent reading of the undecided pairs with its prior: (prior, classes of loci).

    Entries are independent; a combination that declares different two lines which others make
    one is excluded and the rest renormalised.
    """
    entries = population.same_locus
    found: dict[Partition, float] = {}
    for flags in product((True, False), repeat=len(entries)):
        lines = Components(locus for entry in entries for locus in entry.loci)
        prior = 1.0
        for entry, same in zip(entries, flags, strict=True):
            prior *= float(entry.prior) if same else 1.0 - float(entry.prior)
            if same:
                lines.join(*entry.loci)
        clash = any(
            lines.together(*entry.loci)
            for entry, same in zip(entries, flags, strict=True) if not same
        )  # fmt: skip
        if clash or prior <= 0:
            continue
        classes: dict[str, list[str]] = {}
        for locus in population.loci:
            if locus.id in lines:
                classes.setdefault(lines.head(locus.id), []).append(locus.id)
        key = tuple(sorted(tuple(members) for members in classes.values() if len(members) > 1))
        found[key] = found.get(key, 0.0) + prior
    total = sum(found.values())
    return [(prior / total, classes) for classes, prior in found.items()]


def solve(
    population: Population,
    *,
    limit: float = CELLS,
    queries: Sequence[tuple[tuple[str, str], ...]] = (),
    spaces: Spaces | None = None,
    exact_only: bool = False,
    narrow: float | None = None,
    notice: Callable[[str], None] = lambda text: None,
) -> Solved:
    """Solve a population: exactly, or where that is too large by sampling with error bars.

    Args:
        population: the records.
        limit: table cells that exact inference may take for one component.
        queries: groups of (animal, locus) whose joint tables will be asked of the result.
        spaces: state spaces of an earlier call to share.
        exact_only: refuse to sample.
        narrow: sample every group even if exact inference fits, with cliques of at most so many
            cells (to compare the two).
        notice: told, before it starts, that a group will be answered by sampling.

    Raises:
        BeyondExact: a component needs more cells and sampling is refused, or hypotheses about
            lines would have to be weighed by an evidence that sampling does not give.
        ImpossibleEvidence: the evidence has probability zero (without a conflict set; see
            `genetics.conflict`).
    """
    people = lay_out(population)
    shared: Spaces = {} if spaces is None else spaces
    done: dict[Content, GroupResult] = {}
    worlds = []
    readings = hypotheses(population)
    effort = Effort(limit, len(readings) == 1 and not exact_only, narrow, notice)
    for prior, classes in readings:
        try:
            worlds.append(_world(people, prior, classes, shared, done, queries, effort))
        except Vanished:
            continue
    if not worlds:
        raise ImpossibleEvidence("the evidence cannot all be true")
    logs = np.array([np.log(world.prior) + world.log_evidence for world in worlds])
    most = logs.max()
    mass = np.exp(logs - most) if len(worlds) > 1 else np.ones(1)
    log_evidence = float(most + np.log(mass.sum()))
    return Solved(
        population, people, worlds, [float(m) for m in mass / mass.sum()],
        lambda: log_evidence, limit, shared,
    )  # fmt: skip


def solve_or_apart(
    population: Population,
    *,
    queries: Sequence[tuple[tuple[str, str], ...]] = (),
    exact_only: bool = False,
) -> Solved:
    """Solve a population; where its words tie too much together, with those on each animal apart.

    What is solved then is another population (`Population.words_apart`), and the answer is to be
    marked: `solved.population` tells.

    Raises:
        BeyondExact: it is too large with words apart, and sampling does not do.
        ImpossibleEvidence: the evidence has probability zero.
    """
    if population.columns.told:
        try:
            return solve(population, limit=SHARED_CELLS, queries=queries, exact_only=True)
        except BeyondExact:
            population = population.words_apart()
    return solve(population, queries=queries, exact_only=exact_only)


def _world(
    people: Individuals, prior: float, classes: Partition, shared: Spaces,
    done: dict[Content, GroupResult], queries: Sequence[tuple[tuple[str, str], ...]],
    effort: Effort,
) -> World:  # fmt: skip
    """Solve one hypothesis, group by group; groups equal in another hypothesis are reused."""
    spaces = make_spaces(people.population, classes, shared, MOST_STATES)
    model = build(people, spaces)
    asked = [_query_nodes(model, query) for query in queries]
    groups = groups_of(model)
    world = World(prior, classes, model, {}, {}, model.constant)
    for members, factors in groups:
        wanted = []
        for query in asked:
            scope = tuple(node for node in query if node[1] in members)
            if scope and scope not in wanted:
                wanted.append(scope)
        key = (tuple(wanted), _content(model, members, factors))
        if key not in done:
            done[key] = _solve_group(build_network(model, members, factors, wanted), effort)
        result = done[key]
        for k in members:
            world.group_of[k] = result
        for node in result.marginal:
            world.aux_group[node] = result
        world.log_evidence += result.log_evidence
    return world


def _content(model: Model, members: list[int], factors: list[Factor]) -> Content:
    """All that decides a group's answer: equal content in another hypothesis, equal answer.

    The same spaces alone do not: what hides a look under one reading of the lines may not be
    there under another.
    """
    return (
        tuple(members),
        tuple(id(model.spaces[k]) for k in members),
        tuple(model.weights[k].tobytes() for k in members),
        tuple(model.present[k].tobytes() for k in members),
        tuple((factor.scope, factor.table.tobytes()) for factor in factors),
    )


def _solve_group(net: Network, effort: Effort) -> GroupResult:
    """Exactly where the plan fits, else by sampling if allowed."""
    if effort.narrow is None:
        try:
            return solve_network(net, effort.limit)
        except BeyondExact as beyond:
            if not effort.sampled:
                raise
            if not net.model.shared.isdisjoint(net.aux):
                # A chain would hardly ever leave the words it began with.
                raise BeyondExact(beyond.cells, beyond.limit, f"{SHARED}; {beyond}") from beyond
            effort.notice(f"{beyond}; answering by sampling, with error bars")
    from genetics.sampling import NARROW, sample_network

    return sample_network(net, narrow=effort.narrow or NARROW)


def _query_nodes(model: Model, query: Sequence[tuple[str, str]]) -> tuple[Node, ...]:
    index = model.people.population.animal_index
    nodes = {genotype(model.place(locus), index[animal]) for animal, locus in query}
    return tuple(sorted(nodes))


def groups_of(model: Model) -> list[tuple[list[int], list[Factor]]]:
    """Spaces joined by the factors between them, each group with its factors."""
    count = len(model.spaces)
    auxiliary = {node: count + number for number, node in enumerate(model.aux)}
    groups = Components(range(count + len(auxiliary)))
    scopes = [
        [node[1] if node[0] == "g" else auxiliary[node] for node in factor.scope]
        for factor in model.factors
    ]
    for scope in scopes:
        for one in scope[1:]:
            groups.join(one, scope[0])
    members: dict[int, list[int]] = {}
    for k in range(count):
        members.setdefault(groups.head(k), []).append(k)
    factors: dict[int, list[Factor]] = {head: [] for head in members}
    spare = next(iter(members))
    for factor, scope in zip(model.factors, scopes, strict=True):
        head = groups.head(scope[0]) if scope else spare
        factors[head if head in factors else spare].append(factor)
    return [(members[head], factors[head]) for head in members]
