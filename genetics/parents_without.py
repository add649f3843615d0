"""What the parents of an animal have by the whole book, that animal and its descendants aside.

The book is asked as if the animal had never been entered: its own look is gone, and so is all that
its young, and theirs, showed.  Its sibs stay.  Whoever is certain by the whole book is taken as
that, for a breeder prints from what he knows; but not its ancestors, of whom it would tell.  A
descendant that is certain stays too, as an animal without parents.  Loci that depend on one
another stay joint.

Of a childless animal at one locus what it shows is divided out (`genetics.division`).  Where that
does not do, and for whoever has bred or where loci hang together, the rest of the book is solved
without it (`genetics.silenced`, `genetics.remainder`); each for all such questions at once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence, Set
from dataclasses import replace
from functools import cached_property
from itertools import product
from typing import NamedTuple

import numpy as np

from genetics.descent import Descent, States, members
from genetics.division import Division
from genetics.model import Model, genotype
from genetics.population import Animal, Clutch, FounderRow, Number, Population
from genetics.relevance import at_loci, coupled_loci
from genetics.remainder import Ancestry, Certain, Fixed, Links, remainder
from genetics.silenced import Silence, Silenced
from genetics.solving import Solved, solve
from genetics.spaces import EITHER

AT_ONCE = 4000
"""Records of remainders from which on they are solved before more are put together."""
NOBODY = ""
Keys = tuple[str, ...]
Spread = Mapping[Keys, float]
"""Chances of genotype keys at the loci of a bundle, in their order."""


class Statement(NamedTuple):
    """What a founder is given to stand for a parent."""

    founder: Mapping[str, Mapping[str, Number]]
    founder_joint: tuple[FounderRow, ...]


class ParentsWithout:
    """The parents of animals of a solved population; first all are asked for, then answered.

    `ancestry` tells the ancestors of some animals where the population does not have them all.
    """

    def __init__(self, solved: Solved, ancestry: Ancestry | None = None) -> None:
        self.links = Links(solved.population)
        above = ancestry or self.links.ancestry
        self._bundles = [
            _Bundle(solved, self.links, loci, above) for loci in _bundles(solved.population)
        ]  # fmt: skip

    def ask(self, young: str, parents: Sequence[str]) -> None:
        """Ask for an animal's parents without it."""
        for bundle in self._bundles:
            bundle.ask(young, parents)

    @property
    def are_loci_apart(self) -> bool:
        """Whether no locus hangs together with another."""
        return all(len(bundle.loci) == 1 for bundle in self._bundles)

    def spreads(self, young: str, parent: str) -> list[Spread]:
        """The chances of what a parent that was asked for has without an animal, by bundle."""
        return [bundle.spread(young, parent) for bundle in self._bundles]

    def stated(self, young: str, parent: str) -> Statement:
        """What a parent that was asked for has without an animal."""
        founder: dict[str, Mapping[str, Number]] = {}
        joint: list[tuple[float, dict[str, str]]] = [(1.0, {})]
        for bundle in self._bundles:
            spread = bundle.spread(young, parent)
            if len(bundle.loci) == 1:
                founder[bundle.loci[0]] = {key: p for (key,), p in spread.items()}
                continue
            joint = [
                (p * q, rest | dict(zip(bundle.loci, keys, strict=True)))
                for (p, rest), (keys, q) in product(joint, spread.items())
            ]
        rows = tuple(FounderRow(p, keys) for p, keys in joint) if joint[0][1] else ()
        return Statement(founder, rows)


def _bundles(population: Population) -> list[tuple[str, ...]]:
    """The loci, in the order of the population, by what hangs together."""
    found: list[frozenset[str]] = []
    for locus in population.loci:
        if not any(locus.id in bundle for bundle in found):
            found.append(coupled_loci(population, locus.id))
    every = [locus.id for locus in population.loci]
    return [tuple(one for one in every if one in bundle) for bundle in found]


class _Question(NamedTuple):
    """A remainder to be solved: who is gone, or `NOBODY`, and whose genotypes are asked."""

    gone: str
    parents: tuple[str, ...]


class _Bundle:
    """Loci that hang together, and the parents asked for there."""

    def __init__(
        self, solved: Solved, links: Links, loci: tuple[str, ...], ancestry: Ancestry
    ) -> None:
        self.solved, self.loci, self.ancestry = solved, loci, ancestry
        self._whole = links
        # Whether lines are one locus is a question to a book as a whole.
        self._whole_book = any({*one.loci} & {*loci} for one in solved.population.same_locus)
        self._gone: dict[str, str] = {}
        self._known: dict[tuple[str, str], Spread] = {}
        self._open: dict[_Question, None] = {}
        self._divided: dict[str, None] = {}

    def ask(self, young: str, parents: Sequence[str]) -> None:
        wanted = []
        gone = self._gone[young] = NOBODY if self._tells_nothing(young) else young
        for parent in parents:
            if (gone, parent) in self._known:
                continue
            certain = self._fixed(parent)
            if certain is not None:
                keys = certain.keys
                self._known[gone, parent] = {tuple(keys[one] for one in self.loci): 1.0}
            elif gone == NOBODY and len(self.loci) == 1 and self.solved.exact:
                found = self.solved.posterior(parent, self.loci[0])
                self._known[gone, parent] = _whole({(key,): p for key, p in found.items()})
            else:
                wanted.append(parent)
        if not wanted:
            return
        if self._is_divided(young, wanted):
            self._divided[young] = None
        else:
            self._open[_Question(gone, tuple(wanted))] = None

    def spread(self, young: str, parent: str) -> Spread:
        """The chances of a parent's keys without an animal."""
        if self._divided:
            asked, self._divided = list(self._divided), {}
            self._divide(asked)
        if self._open:
            questions, self._open = list(self._open), {}
            self._solve(questions)
        return self._known[self._gone[young], parent]

    # --- what an animal shows, divided out --------------------------------------------------------

    @cached_property
    def _division(self) -> Division | None:
        """Division, where one space holds all that hangs together."""
        if len(self.loci) > 1 or self._whole_book or not self.solved.exact:
            return None
        k = self.solved.worlds[0].model.place(self.loci[0])
        if k not in self.solved.worlds[0].group_of[k].couples:
            return None
        return Division(self.solved, self._by_descent(k))

    def _is_divided(self, young: str, parents: Sequence[str]) -> bool:
        """Whether a division tells what an animal's parents have without it."""
        if self._division is None or self._whole.has_bred(young):
            return False
        index, people = self.solved.population.animal_index, self.solved.people
        i = index[young]
        recorded = {int(people.dam[i]), int(people.sire[i])}
        return recorded >= {index[one] for one in parents} and self._division.reaches(i)

    def _divide(self, asked: Sequence[str]) -> None:
        assert self._division is not None
        index, people = self.solved.population.animal_index, self.solved.people
        ids, at = tuple(index), [index[one] for one in asked]
        found = self._division.without(at)
        for parents, chances in zip((people.dam[at], people.sire[at]), found, strict=True):
            for young, parent, row in zip(asked, parents.tolist(), chances.tolist(), strict=True):
                if parent < people.recorded and (young, ids[parent]) not in self._known:
                    self._known[young, ids[parent]] = self._keyed(self._division.k, row)

    def _keyed(self, k: int, chances: Sequence[float]) -> Spread:
        """Chances of the states of the one locus of a space, by key."""
        space = self.solved.worlds[0].model.spaces[k]
        place = space.locus_position(self.loci[0])
        found: dict[Keys, float] = defaultdict(float)
        for key, p in zip(space.key_of[place].tolist(), chances, strict=False):
            found[(space.keys[place][key],)] += p
        return _whole(found)

    # --- the rest of the book, solved anew --------------------------------------------------------

    @cached_property
    def _links(self) -> Links:
        """The population at these loci alone."""
        population = self.solved.population
        if len(self.loci) == len(population.loci):
            return self._whole
        return Links(at_loci(population, frozenset(self.loci)))

    def _solve(self, questions: Sequence[_Question]) -> None:
        population = self._links.population
        # What holds of a trust, or of the lines, would be one for several remainders.
        most = 1 if self._whole_book or population.columns.told else AT_ONCE
        animals: list[Animal] = []
        clutches: list[Clutch] = []
        names: dict[tuple[str, str], str] = {}
        above = self.ancestry({one.gone for one in questions} - {NOBODY})
        if self._silenced is not None:
            self._silence(self._silenced, questions, above)
            return
        for number, one in enumerate(questions):
            mark = f"{number}\n"
            gone = set[str]()
            certain: Fixed = self._in_book
            if one.gone != NOBODY:
                gone = self._links.with_descendants(one.gone, self._stays)
                certain = self._held(above[one.gone])
            more, bred = remainder(self._links, one.parents, gone, certain, mark)
            animals += more
            clutches += bred
            names |= {(one.gone, parent): mark + parent for parent in one.parents}
            if len(animals) >= most or number == len(questions) - 1:
                self._read(
                    names, replace(population, animals=tuple(animals), clutches=tuple(clutches))
                )
                animals, clutches, names = [], [], {}

    @cached_property
    def _silenced(self) -> Silenced | None:
        """The solved arrays, where they can be solved without an animal."""
        if len(self.loci) > 1 or self._whole_book:
            return None
        k = self.solved.worlds[0].model.place(self.loci[0])
        return Silenced(self.solved, k) if Silenced.fits(self.solved, k) else None

    def _silence(
        self,
        silenced: Silenced,
        questions: Sequence[_Question],
        above: Mapping[str, Set[str]],
    ) -> None:
        index = self.solved.population.animal_index
        asked = []
        for one in questions:
            gone = self._links.with_descendants(one.gone, self._stays)
            asked.append(
                Silence(
                    gone={index[name] for name in gone & index.keys()},
                    above={index[name] for name in above[one.gone] if name in index},
                    asked=[index[name] for name in one.parents],
                )
            )
        for one, found in zip(questions, silenced.without(asked), strict=True):
            for parent, chances in zip(one.parents, found, strict=True):
                self._known[one.gone, parent] = self._keyed(silenced.k, chances.tolist())

    def _read(self, names: Mapping[tuple[str, str], str], rest: Population) -> None:
        """Solve remainders and note what the asked parents have there, by their names in it."""
        if len(self.loci) == 1:
            solved = solve(rest, limit=self.solved.limit)
            for asked, name in names.items():
                found = solved.posterior(name, self.loci[0])
                self._known[asked] = _whole({(key,): p for key, p in found.items()})
            return
        queries = [tuple((name, locus) for locus in self.loci) for name in names.values()]
        solved = solve(rest, limit=self.solved.limit, queries=queries)
        for asked, name in names.items():
            self._known[asked] = _whole(joint_keys(solved, name, self.loci))

    # --- what needs no solving --------------------------------------------------------------------

    def _tells_nothing(self, young: str) -> bool:
        """Whether an animal shows what it must of such parents, whichever of all they can be."""
        links = self._links
        if self._whole_book or links.has_bred(young) or links.population.viability:
            return False
        record = links.population.animals[links.population.animal_index[young]]
        model = self.solved.worlds[0].model
        i = self.solved.population.animal_index[young]
        if record.likelihood or record.statements or model.people.alone[i]:
            return False
        for trait in record.shows:
            axes = model.looks.spaces_of(trait)
            given = tuple(self._by_descent(k).given(i) for k in axes)
            if self._is_open(trait, axes, given):
                return False
        return True

    def _is_open(self, trait: str, axes: tuple[int, ...], given: tuple[States, ...]) -> bool:
        """Whether a trait is visible in some of these states and not in others."""
        if (trait, given) not in self._visible:
            looks = self.solved.worlds[0].model.looks
            visible = looks.visible(trait, axes)[np.ix_(*map(members, given))]
            self._visible[trait, given] = bool(visible.any() and not visible.all())
        return self._visible[trait, given]

    @cached_property
    def _visible(self) -> dict[tuple[str, tuple[States, ...]], bool]:
        return {}

    def _held(self, open_: Set[str]) -> Fixed:
        """What is certain of each animal in the book without one who has these ancestors."""
        return lambda name: self._fixed(name) if name in open_ else self._in_book(name)

    def _stays(self, name: str) -> bool:
        """Whether a descendant of the one who is gone stays."""
        certain = self._in_book(name)
        return certain is not None and certain.whole

    def _fixed(self, name: str) -> Certain | None:
        """The keys of an animal that is certain by itself and by its ancestors, else None."""
        if self._whole_book:
            return None
        i = self.solved.population.animal_index[name]
        if self.solved.population.animals[i].statements:
            return None  # it tells of a trust
        if i not in self._certain:
            keys = self._keys_of(i)
            self._certain[i] = None if keys is None else Certain(keys, whole=True)
        return self._certain[i]

    @cached_property
    def _certain(self) -> dict[int, Certain | None]:
        return {}

    def _keys_of(self, i: int) -> Mapping[str, str] | None:
        model = self.solved.worlds[0].model
        keys = {}
        for locus in self.loci:
            k = model.place(locus)
            space = model.spaces[k]
            states = members(self._by_descent(k).of(i))
            open_sex = space.sex_linked and model.people.sex[i] == EITHER
            if len(states) != 1 or len(space.loci) > 1 or open_sex:
                return None
            keys[locus] = space.keys[0][space.key_of[0][states[0]]]
        return keys

    def _in_book(self, name: str) -> Certain | None:
        """What the whole book makes certain of an animal."""
        if name not in self._booked:
            self._booked[name] = self._told_by_book(name)
        return self._booked[name]

    @cached_property
    def _booked(self) -> dict[str, Certain | None]:
        return {}

    def _told_by_book(self, name: str) -> Certain | None:
        i = self.solved.population.animal_index[name]
        keys = {locus: by_animal[i] for locus, by_animal in self._certain_keys.items()}
        known = {locus: key for locus, key in keys.items() if key is not None}
        if not known:
            return None
        if len(known) < len(self.loci) or self.solved.population.animals[i].statements:
            return Certain(known, whole=False)
        return Certain(known, whole=self._is_settled(i, known))

    @cached_property
    def _certain_keys(self) -> dict[str, list[str | None]]:
        """The one key that each animal can have at a locus, if there is but one."""
        if self._whole_book or not self.solved.exact:
            return {}
        found: dict[str, list[str | None]] = {}
        for locus in self.loci:
            _, keys, table = self.solved.posterior_table(locus)
            single = (table > 0).sum(axis=1) == 1
            which = table.argmax(axis=1)
            found[locus] = [
                keys[at] if one else None
                for at, one in zip(which.tolist(), single.tolist(), strict=True)
            ]
        return found

    def _is_settled(self, i: int, keys: Mapping[str, str]) -> bool:
        """Whether keys at all loci leave one state: the sex, and what lies together, are known."""
        model = self.solved.worlds[0].model
        for k in {model.place(locus) for locus in self.loci}:
            space = model.spaces[k]
            left = np.isin(space.sex, (EITHER, model.people.sex[i]))
            for place, locus in enumerate(space.loci):
                left &= space.key_of[place] == space.keys[place].index(keys[locus.id])
            if left.sum() != 1:
                return False
        return True

    @cached_property
    def _descents(self) -> dict[int, Descent]:
        return {}

    def _by_descent(self, k: int) -> Descent:
        if k not in self._descents:
            self._descents[k] = Descent(self.solved, k)
        return self._descents[k]


def joint_keys(solved: Solved, animal: str, loci: Sequence[str]) -> dict[Keys, float]:
    """Chances of an animal's genotype keys at several loci together.

    The population must have been solved with the query ((animal, locus), ...).
    """
    i = solved.population.animal_index[animal]
    found: dict[Keys, float] = defaultdict(float)
    for world, share in zip(solved.worlds, solved.chance, strict=True):
        model = world.model
        groups: dict[int, list[int]] = defaultdict(list)
        for k in sorted({model.place(locus) for locus in loci}):
            groups[id(world.group_of[k])].append(k)
        partial: list[tuple[float, dict[int, int]]] = [(share, {})]
        for spaces in groups.values():
            table = world.group_of[spaces[0]].joint[tuple(genotype(k, i) for k in spaces)]
            cells = [
                (float(table[tuple(cell)]), dict(zip(spaces, cell.tolist(), strict=True)))
                for cell in np.argwhere(table > 0)
            ]
            partial = [(p * q, a | b) for (p, a), (q, b) in product(partial, cells)]
        for p, state in partial:
            found[tuple(_key(world.model, state, locus) for locus in loci)] += p
    return dict(found)


def _key(model: Model, state: Mapping[int, int], locus: str) -> str:
    k = model.place(locus)
    space = model.spaces[k]
    place = space.locus_position(locus)
    key: str = space.keys[place][space.key_of[place][state[k]]]
    return key


def _whole(found: Mapping[Keys, float]) -> Spread:
    """What is possible, summing to one."""
    whole = sum(found.values())
    return {keys: p / whole for keys, p in found.items() if p > 0}
