"""What the parents of an animal have by the whole book, that animal and its descendants aside.

The book is asked as if the animal had never been entered: its own look is gone, and so is all that
its young, and theirs, showed.  Its sibs stay.  Whoever is certain by the whole book is taken as
that, for a breeder prints from what he knows; but not its ancestors, of whom it would tell.  A
descendant that is certain stays too, as an animal without parents.  Loci that depend on one
another stay joint.

Of a childless animal at one locus this takes a division: with b(d, s) the belief in its parents'
genotypes and m(d, s) = Σ_x P(x | d, s) λ(x) the chance of what it shows, they have d and s without
it with chance ∝ b(d, s) / m(d, s).  Where its look excludes what nothing else does that is 0 / 0;
there, and for whoever has bred or where loci hang together, the rest of the book is solved
without it (`genetics.remainder`), all such questions at once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence, Set
from dataclasses import replace
from functools import cached_property
from itertools import product
from typing import NamedTuple

import numpy as np

from genetics.arrays import Bools2, Floats1, Positions1
from genetics.descent import Descent
from genetics.model import Model, genotype
from genetics.network import Folded
from genetics.population import Animal, Clutch, FounderRow, Number, Population
from genetics.relevance import at_loci, coupled_loci
from genetics.remainder import Ancestry, Certain, Fixed, Links, remainder
from genetics.silenced import Silenced
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

    def ask(self, young: str, parents: Sequence[str]) -> None:
        wanted = []
        gone = self._gone[young] = NOBODY if self._tells_nothing(young) else young
        for parent in parents:
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
        divided = self._forward.without(young) if self._forward is not None else None
        if divided is None or not divided.keys() >= set(wanted):
            self._open[_Question(gone, tuple(wanted))] = None
            return
        for parent in wanted:
            self._known[gone, parent] = divided[parent]

    def spread(self, young: str, parent: str) -> Spread:
        """The chances of a parent's keys without an animal."""
        if self._open:
            questions, self._open = list(self._open), {}
            self._solve(questions)
        return self._known[self._gone[young], parent]

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
            for one in questions:
                self._silence(self._silenced, one, above[one.gone])
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

    def _silence(self, silenced: Silenced, asked: _Question, above: Set[str]) -> None:
        index = self.solved.population.animal_index
        gone = self._links.with_descendants(asked.gone, self._stays) & index.keys()
        found = silenced.without(
            {index[one] for one in gone},
            {index[one] for one in above if one in index},
            [index[one] for one in asked.parents],
        )
        space = silenced.model.spaces[silenced.k]
        for parent, chances in zip(asked.parents, found, strict=True):
            spread: dict[Keys, float] = defaultdict(float)
            for state, p in enumerate(chances.tolist()):
                spread[(space.keys[0][space.key_of[0][state]],)] += p
            self._known[asked.gone, parent] = _whole(spread)

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
            states = [self._by_descent(k).given(i) for k in axes]
            visible = model.looks.visible(trait, axes)[np.ix_(*states)]
            if visible.any() and not visible.all():
                return False
        return True

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
            states = np.flatnonzero(self._by_descent(k).of(i))
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

    @cached_property
    def _forward(self) -> _Division | None:
        """Division, where one space holds all that hangs together."""
        if len(self.loci) > 1 or self._whole_book or not self.solved.exact:
            return None
        k = self.solved.worlds[0].model.place(self.loci[0])
        if k not in self.solved.worlds[0].group_of[k].couples:
            return None
        return _Division(self.solved, self._whole, self._by_descent(k), self.loci[0])


class _Division:
    """The parents of childless animals at one locus, by dividing out what these show."""

    def __init__(self, solved: Solved, links: Links, descent: Descent, locus: str) -> None:
        self.solved, self.links, self.descent, self.locus = solved, links, descent, locus
        self.model = solved.worlds[0].model
        self.k = descent.k
        self.folded: Folded
        self.folded, self.belief = solved.worlds[0].group_of[self.k].couples[self.k]
        self.trio = {child: t for t, child in enumerate(self.folded.children.tolist())}
        self.sibs: dict[int, list[int]] = defaultdict(list)
        for child, couple in zip(
            self.folded.children.tolist(), self.folded.couple.tolist(), strict=True
        ):
            self.sibs[couple].append(child)

    def without(self, young: str) -> dict[str, Spread] | None:
        """The recorded parents of an animal without it; None if that needs more than a division."""
        population, people = self.solved.population, self.model.people
        i = population.animal_index[young]
        t = self.trio.get(i)
        if t is None or self.links.has_bred(young) or not self._is_implied(i, t):
            return None
        c = int(self.folded.couple[t])
        dam, sire = int(people.dam[i]), int(people.sire[i])
        rows, columns = self.model.states(self.k, dam), self.model.states(self.k, sire)
        table = self.model.spaces[self.k].table[np.ix_(rows, columns)]
        belief = self.belief[self.folded.at[c] : self.folded.at[c + 1]].reshape(table.shape[:2])
        shown = table @ self.model.weights[self.k][i]
        left = np.divide(belief, shown, out=np.zeros(belief.shape), where=shown > 0)
        ids = list(population.animal_index)
        return {
            ids[parent]: self._keyed(states, left.sum(axis=axis))
            for parent, states, axis in ((dam, rows, 1), (sire, columns, 0))
            if parent < people.recorded
        }

    def _is_implied(self, i: int, t: int) -> bool:
        """Whether all that an animal's look excludes of its parents is excluded without it."""
        mine = self._possible(i)
        if mine.all():
            return True
        couple = int(self.folded.couple[t])
        others = np.ones(mine.shape, dtype=bool)
        for sib in self.sibs[couple]:
            if sib != i:
                others &= self._possible(sib)
            if not (others & ~mine).any():
                return True
        return False

    def _possible(self, child: int) -> Bools2:
        """Which genotypes of its parents, as these descend, leave room for what a child shows."""
        people = self.model.people
        dam = self.descent.of(int(people.dam[child]))
        sire = self.descent.of(int(people.sire[child]))
        table = self.model.spaces[self.k].table[np.ix_(dam, sire)]
        return np.asarray((table[:, :, self.model.own[self.k][child] > 0] > 0).any(axis=2))

    def _keyed(self, states: Positions1, p: Floats1) -> Spread:
        space = self.model.spaces[self.k]
        found: dict[Keys, float] = defaultdict(float)
        place = space.locus_position(self.locus)
        for state, chance in zip(states.tolist(), p.tolist(), strict=True):
            found[(space.keys[place][space.key_of[place][int(state)]],)] += chance
        return _whole(found)


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
