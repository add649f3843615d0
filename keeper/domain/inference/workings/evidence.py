"""The evidence that is weighed for one number: rows, and the engine's records of them.

The hatchlings of a clutch are one item: two visuals prove no more than one, so that either alone
would seem to weigh nothing. A look or a test that brings a gene into the book by a founder of
which nothing was said is one item with what it makes of that founder.
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field

import genetics
from keeper.domain.inference.questions.asking import Subproblem
from keeper.domain.inference.reading.looks import Source
from keeper.domain.inference.workings.bought import bought_with
from keeper.models import Animal

# How far a record may be: the young, parents, mates and sibs of an animal, and their parents.
_FAR = 2


@dataclass
class Evidence:
    """Records that are weighed together.

    Attributes:
        source: the row that stands for them; a clutch for its hatchlings, or for its parents.
        names: the engine's records.
        far: steps of kin to the animal, or None if it is further off.
        hatchlings: whether it is what hatched in a clutch.
        parents: whether it is of whom the animal is.
    """

    source: Source
    names: set[genetics.RecordName] = field(default_factory=set)
    far: int | None = None
    hatchlings: bool = False
    parents: bool = False


def evidence_of(
    part: Subproblem, animal: Animal, population: genetics.Population
) -> list[Evidence]:
    """The evidence in a population, item by item, the nearest first.

    Of other animals' parents nothing is said: without them the whole book would be another one.
    """
    return _Sorted(part, animal).evidence(population)


class _Sorted:
    def __init__(self, part: Subproblem, animal: Animal) -> None:
        self.rows, self.sources = part.of.rows, part.book.sources
        self.clutch_ids = part.book.clutch_ids
        self.animal = self.rows.animals[animal.pk]
        self.near: dict[Source, int] = {}
        self._walk()
        self._along(bought_with(part.book.population, self.animal.code))

    def _walk(self) -> None:
        """How far each animal and each clutch is."""
        waiting, seen = {self.animal.pk}, {self.animal.pk}
        for far in range(_FAR + 1):
            beside: set[int] = set()
            for pk in waiting:
                one = self.rows.animals[pk]
                self.near["animal", pk] = far
                own = () if one.clutch is None else (one.clutch,)
                for clutch in (*self.rows.bred.get(pk, ()), *own):
                    self.near.setdefault(("clutch", clutch), far)
                    beside |= self.rows.clutches[clutch].parents
                    beside |= set(self.rows.hatched.get(clutch, ()))
                beside |= self.rows.parents(one) | set(self.rows.children.get(pk, ()))
            waiting = beside - seen
            seen |= beside

    def _along(self, bought: Collection[str]) -> None:
        """Who was bought with it is as near as a young of it, and what that one bred further."""
        for pk, one in self.rows.animals.items() if bought else ():
            if one.code in bought:
                self.near.setdefault(("animal", pk), 1)
                for clutch in self.rows.bred.get(pk, ()):
                    self.near.setdefault(("clutch", clutch), _FAR)

    def evidence(self, population: genetics.Population) -> list[Evidence]:
        known: dict[tuple[genetics.OwnerKind, str], int] = {
            ("animal", one.code): pk for pk, one in self.rows.animals.items()
        }
        known |= {("clutch", name): pk for pk, name in self.clutch_ids.items()}
        found: dict[tuple[Source, bool], Evidence] = {}
        for name in genetics.records(population):
            owner: Source = (name.kind, known[name.kind, name.owner])
            if name.part == "parents":
                told = self._of_parents(name, owner)
            else:
                told = self._of_evidence(name, owner, population)
            if told is None:
                continue
            item = found.setdefault((told.source, told.hatchlings), told)
            item.names.add(name)
            far = self.near.get(owner)
            if far is not None:
                item.far = far if item.far is None else min(item.far, far)
        return sorted(found.values(), key=lambda one: _FAR + 1 if one.far is None else one.far)

    def _of_parents(self, name: genetics.RecordName, owner: Source) -> Evidence | None:
        own = {("animal", self.animal.pk), ("clutch", self.animal.clutch)}
        return Evidence(owner, parents=True) if owner in own and name in self.sources else None

    def _of_evidence(
        self, name: genetics.RecordName, owner: Source, population: genetics.Population
    ) -> Evidence | None:
        kind, pk = owner
        if kind == "clutch":
            return Evidence(owner, hatchlings=True)
        source = next(iter(self.sources.get(name, ())), None)
        if source is None:
            return None
        if source == owner:
            # What was seen or found brought the gene in: it is one with that look or test.
            source = next(self._brought_in(self.rows.animals[pk].code, population), source)
        clutch = self.rows.animals[pk].clutch
        if source[0] == "observation" and clutch is not None and pk != self.animal.pk:
            return Evidence(("clutch", clutch), hatchlings=True)
        return Evidence(source)

    def _brought_in(self, code: str, population: genetics.Population) -> Iterator[Source]:
        shows = population.animals[population.animal_index[code]].shows
        for trait, look in shows.items():
            if look.seen:
                name = genetics.RecordName("animal", code, "shows", trait)
                yield from self.sources.get(name, ())


def names_of(listed: Iterable[Evidence]) -> set[genetics.RecordName]:
    """The engine's records of some evidence."""
    return {name for one in listed for name in one.names}
