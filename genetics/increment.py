"""Records added to a solved book: only the part of the pedigree that they can touch is inferred.

Animals whose genotype is certain cut the pedigree.  What an added clutch or animal can move is the
set of uncertain animals reached from it without passing through a certain one.  That part, with
the certain animals on its border held at their genotypes, is a small population of its own: it is
solved with and without the added records; the posteriors replace the old ones and the difference
of the two log evidences is added.

Whoever keeps the posteriors in a database finds the same part there instead, and for a reason: to
add to a solved book the whole of it must be in memory, which costs more to read than a save may
take.  So there are two ways of one idea, each for its place:

* `Solved.changed` is for a book that is in memory and solved: what-if questions, one record after
  another, command line and benchmarks.  It returns the whole solved book, with its log evidence.
* The application's `nearby` and `quick` are for an entry that is saved and for a page that asks
  about a few animals.  They walk over stored posteriors and rows, a wave of queries at a time, and
  hand the part to `solve`; words, customary figures and what is written follow from it.

Both cut at certain animals alone, and both are for records that only narrow what can be; what they
give is tested against a book that is solved anew.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from genetics.arrays import Bools1
from genetics.errors import BeyondExact
from genetics.network import GroupResult
from genetics.population import Animal, Clutch, Population, Sex
from genetics.solving import Solved, World, solve
from genetics.spaces import Space

Keys = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Kin:
    """Who bred with whom in one solved book, by position of animal and clutch.

    Attributes:
        clutch: the clutch that an animal hatched in, -1 for none.
        own: the parents of an animal that is recorded without a clutch.
        young: the animals that are recorded without a clutch as young of an animal.
        clutches: the clutches that an animal bred.
        members, couples: the animals recorded of a clutch, and its recorded parents.
        shared: clutches with an unrecorded parent, which ties their young to one another.
    """

    clutch: list[int]
    own: dict[int, tuple[int, ...]]
    young: dict[int, tuple[int, ...]]
    clutches: dict[int, tuple[int, ...]]
    members: list[tuple[int, ...]]
    couples: list[tuple[int, ...]]
    shared: set[int]

    @classmethod
    def of(cls, population: Population) -> Kin:
        """The kin of a checked book."""
        columns = population.columns
        members: list[list[int]] = [[] for _ in population.clutches]
        kin = cls(columns.clutch.copy(), {}, {}, {}, [], [], set())
        for first, couples in zip(columns.first_couple, columns.couples, strict=True):
            last = first + couples
            kin._breed(columns.couple_dam[first:last] + columns.couple_sire[first:last])
        for i, (clutch, dam, sire) in enumerate(
            zip(columns.clutch, columns.dam, columns.sire, strict=True)
        ):
            if clutch >= 0:
                members[clutch].append(i)
            elif dam >= 0 or sire >= 0:
                kin._bear(i, (dam, sire))
        kin.members.extend(map(tuple, members))
        return kin

    def grown(
        self, population: Population, animals: Sequence[Animal], clutches: Sequence[Clutch]
    ) -> Kin:
        """The kin of the grown book, which ends with these new records."""
        kin = Kin(
            self.clutch.copy(), self.own.copy(), self.young.copy(), self.clutches.copy(),
            self.members.copy(), self.couples.copy(), self.shared.copy(),
        )  # fmt: skip
        index, number = population.animal_index, population.clutch_index
        for clutch in clutches:
            kin.members.append(())
            couple = clutch.candidates[0]
            kin._breed((index.get(couple.dam or "", -1), index.get(couple.sire or "", -1)))
        for animal in animals:
            i = len(kin.clutch)
            kin.clutch.append(-1 if animal.clutch is None else number[animal.clutch])
            if animal.clutch is not None:
                kin.members[kin.clutch[i]] += (i,)
            kin._bear(i, (index.get(animal.dam or "", -1), index.get(animal.sire or "", -1)))
        return kin

    def _breed(self, parents: Sequence[int]) -> None:
        """Take in the next clutch with its candidate parents."""
        position = len(self.couples)
        self.couples.append(tuple(parent for parent in parents if parent >= 0))
        if -1 in parents:
            self.shared.add(position)
        for parent in self.couples[position]:
            self.clutches[parent] = (*self.clutches.get(parent, ()), position)

    def _bear(self, animal: int, parents: Sequence[int]) -> None:
        """Take in the parents of an animal that is recorded without a clutch."""
        self.own[animal] = tuple(parent for parent in parents if parent >= 0)
        for parent in self.own[animal]:
            self.young[parent] = (*self.young.get(parent, ()), animal)

    def parents(self, animal: int) -> tuple[int, ...]:
        """The recorded parents of an animal."""
        clutch = self.clutch[animal]
        return self.couples[clutch] if clutch >= 0 else self.own.get(animal, ())


def added(solved: Solved, animals: Sequence[Animal], clutches: Sequence[Clutch]) -> Solved | None:
    """The solved book with new records, or `None` where it must be solved in full.

    In full: records that replace others, undecided lines, drawn parents, loci bound by rows of
    founders or by an unknown sex, and answers that are sampled or would have to be.

    Raises:
        ImpossibleEvidence: the new records contradict the touched part of the book.
        MalformedCase: a new record contradicts the contract.
    """
    if not _simple(solved, animals, clutches):
        return None
    kin = _kin(solved)
    touched = _touched(solved, _seeds(solved, animals, clutches))
    after = _neighbourhood(solved, kin, touched, animals, clutches)
    try:
        fresh = solve(after, limit=solved.limit, spaces=solved.spaces, exact_only=True)
    except BeyondExact:
        return None

    def log_evidence() -> float:
        if not touched:
            return solved.log_evidence + fresh.log_evidence
        before = _neighbourhood(solved, kin, touched, (), ())
        base = solve(before, limit=solved.limit, spaces=solved.spaces)
        return solved.log_evidence + fresh.log_evidence - base.log_evidence

    return _spliced(solved, touched, fresh, log_evidence, animals, clutches)


def _simple(solved: Solved, animals: Sequence[Animal], clutches: Sequence[Clutch]) -> bool:
    old = solved.population
    return (
        len(solved.worlds) == 1
        and not old.same_locus
        and not solved.worlds[0].aux_group
        and solved.exact
        and not solved.people.draws
        and not solved.people.begins
        and all(
            a.id not in old.animal_index and not (a.founder_joint or a.statements or a.begins)
            for a in animals
        )
        and all(c.id not in old.clutch_index and len(c.candidates) == 1 for c in clutches)
        and all(a.clutch not in old.clutch_index for a in animals)
        and _sexes_kept(old, animals, clutches)
    )


def _sexes_kept(old: Population, animals: Sequence[Animal], clutches: Sequence[Clutch]) -> bool:
    """No old animal's sex first follows from its new use as a parent."""
    names = [(a.dam, a.sire) for a in animals] + [
        (c.dam, c.sire) for clutch in clutches for c in clutch.candidates
    ]
    index = old.animal_index
    return all(
        name is None or name not in index or old.sexes[index[name]] == sex
        for pair in names
        for name, sex in zip(pair, ("female", "male"), strict=True)
    )


def _kin(solved: Solved) -> Kin:
    if solved.kin is None:
        solved.kin = Kin.of(solved.population)
    return solved.kin


def _certain(solved: Solved) -> Bools1:
    if solved.certain is None:
        solved.certain = _worked_out(solved)
    return solved.certain


def _worked_out(solved: Solved) -> Bools1:
    """Of which animals the genotype is certain."""
    world = solved.worlds[0]
    certain = np.ones(solved.people.recorded, dtype=bool)
    for k, space in enumerate(world.model.spaces):
        possible = world.model.weights[k][: solved.people.recorded] > 0
        certain &= possible.sum(axis=1) == 1
        certain &= space.multiplicity[possible.argmax(axis=1)] == 1.0 if _phased(space) else True
    return certain


def _phased(space: Space) -> bool:
    """Whether a key alone does not tell the state (phase of a linkage group)."""
    return len(space.loci) > 1 and not space.sex_linked


def _seeds(solved: Solved, animals: Sequence[Animal], clutches: Sequence[Clutch]) -> set[int]:
    names = {name for a in animals for name in (a.dam, a.sire)}
    names |= {name for clutch in clutches for c in clutch.candidates for name in (c.dam, c.sire)}
    index = solved.population.animal_index
    certain = _certain(solved)
    return {index[n] for n in names if n in index and not certain[index[n]]}


def _touched(solved: Solved, seeds: set[int]) -> set[int]:
    """Uncertain animals reached from the seeds over parents, children, mates and sibs.

    Sibs matter only where they share an unrecorded parent: a recorded one leads to them itself.
    """
    kin, certain = _kin(solved), _certain(solved)
    touched = set(seeds)
    stack = list(seeds)
    while stack:
        animal = stack.pop()
        near = set(kin.parents(animal))
        for child in kin.young.get(animal, ()):
            near.add(child)
            near.update(kin.own[child])
        for clutch in kin.clutches.get(animal, ()):
            near.update(kin.members[clutch])
            near.update(kin.couples[clutch])
        if kin.clutch[animal] in kin.shared:
            near.update(kin.members[kin.clutch[animal]])
        for one in near:
            if one not in touched and not certain[one]:
                touched.add(one)
                stack.append(one)
    return touched


def _neighbourhood(
    solved: Solved, kin: Kin, touched: set[int], animals: Sequence[Animal],
    clutches: Sequence[Clutch],
) -> Population:  # fmt: skip
    """The touched animals with their evidence, the certain ones on the border held fixed."""
    old = solved.population
    index = old.animal_index
    litters = {clutch for i in touched for clutch in kin.clutches.get(i, ())}
    litters |= {kin.clutch[i] for i in touched if kin.clutch[i] >= 0}
    inside = set(touched)
    for i in touched:
        inside.update(kin.young.get(i, ()))
    for clutch in litters:
        inside.update(kin.members[clutch])
    certain = _certain(solved)
    inside = {i for i in inside if i in touched or certain[i]}
    border = {p for i in inside for p in kin.parents(i)}
    border |= {p for clutch in litters for p in kin.couples[clutch]}
    for name in [n for a in animals for n in (a.dam, a.sire)] + [
        n for clutch in clutches for c in clutch.candidates for n in (c.dam, c.sire)
    ]:
        if name is not None and name in index:
            border.add(index[name])
    rows = []
    fixed: dict[Keys, dict[str, dict[str, int]]] = {}  # shared, to be checked and laid out once
    for i in sorted(inside | border):
        animal = old.animals[i]
        if animal.sex != old.sexes[i]:
            animal = animal._replace(sex=old.sexes[i])
        if i not in touched:
            keys = _keys(solved, i)
            genotypes = fixed.setdefault(keys, {locus: {key: 1} for locus, key in keys})
            animal = _held(animal, genotypes, keep_parents=i in inside)
        rows.append(animal)
    return replace(
        old,
        animals=(*rows, *animals),
        clutches=(*(old.clutches[c] for c in sorted(litters)), *clutches),
    )


def _held(animal: Animal, genotypes: dict[str, dict[str, int]], keep_parents: bool) -> Animal:
    """A certain animal held at its genotypes: by a likelihood as a child, by a statement else."""
    left = animal._replace(shows={}, likelihood={}, founder={}, founder_joint=(), statements=())
    if keep_parents and (animal.clutch or animal.dam or animal.sire):
        return left._replace(likelihood=genotypes)
    return left._replace(dam=None, sire=None, clutch=None, retained=0, founder=genotypes)


def _keys(solved: Solved, i: int) -> Keys:
    """Locus and genotype key of a certain animal, for each locus."""
    world = solved.worlds[0]
    found = []
    for k, space in enumerate(world.model.spaces):
        state = world.group_of[k].posterior[k][i].argmax()
        for locus, keys, key_of in zip(space.loci, space.keys, space.key_of, strict=True):
            found.append((locus.id, keys[key_of[state]]))
    return tuple(found)


def _spliced(
    solved: Solved, touched: set[int], fresh: Solved, log_evidence: Callable[[], float],
    animals: Sequence[Animal], clutches: Sequence[Clutch],
) -> Solved:  # fmt: skip
    """The old book with the posteriors of the touched part and of the new animals replaced."""
    old, world, renewed = solved.population, solved.worlds[0], fresh.worlds[0]
    where = fresh.population.animal_index
    sexes = tuple(fresh.population.sexes[where[a.id]] for a in animals)
    population = _grown(old, animals, clutches, sexes)
    target = np.array([*touched, *range(len(old.animals), len(population.animals))], dtype=int)
    source = [where[population.animals[i].id] for i in target]
    group_of = {}
    for k in range(len(world.model.spaces)):
        before = world.group_of[k].posterior[k]
        table = np.concatenate((before, np.zeros((len(animals), before.shape[1]))))
        table[target] = renewed.group_of[k].posterior[k][source]
        group_of[k] = GroupResult(posterior={k: table})
    made = World(1.0, (), world.model, group_of, {}, float("nan"))
    result = Solved(
        population, solved.people, [made], [1.0], log_evidence, solved.limit, solved.spaces
    )
    result.kin = _kin(solved).grown(population, animals, clutches)
    certain = np.concatenate((_certain(solved), np.zeros(len(animals), dtype=bool)))
    certain[target] = _certain(fresh)[source]
    result.certain = certain
    return result


def _grown(
    old: Population, animals: Sequence[Animal], clutches: Sequence[Clutch], sexes: tuple[Sex, ...]
) -> Population:
    """The grown population; its new records were checked with the part that they touch."""
    made = old.trusted(
        (*old.animals, *animals) if animals else old.animals, (*old.clutches, *clutches)
    )
    n, m = len(old.animals), len(old.clutches)
    # Known already, and slow to work out for a whole book.
    made.__dict__["animal_index"] = old.animal_index | {a.id: n + i for i, a in enumerate(animals)}
    made.__dict__["clutch_index"] = old.clutch_index | {c.id: m + i for i, c in enumerate(clutches)}
    made.__dict__["sexes"] = old.sexes + sexes
    return made
