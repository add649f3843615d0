"""The evidence of evidence that are weighed for one number: rows, and the engine's records of them.

The hatchlings of a clutch are one item: two visuals prove no more than one, so that either alone
would seem to weigh nothing. A look or a test that brings a gene into the book by a founder of
which nothing was said is one item with what it makes of that founder.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from keeper.domain.inference.questions.asking import Subproblem
from keeper.domain.inference.reading.engine_book import Source
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
    names: set[str] = field(default_factory=set)
    far: int | None = None
    hatchlings: bool = False
    parents: bool = False


def evidence_of(part: Subproblem, animal: Animal, population: Any) -> list[Evidence]:
    """The evidence in a population, item by item, the nearest first.

    Of other animals' parents nothing is said: without them the whole book would be another one.
    """
    return _Sorted(part, animal).evidence(population)


def owned(population: Any) -> Iterator[tuple[str, str, str]]:
    """Each of the engine's records with the kind and the code of whom it is about."""
    for one in population.animals:
        if one.dam is not None or one.sire is not None:
            yield f"{one.id}.parents", "animal", one.id
        for locus in one.founder:
            yield f"{one.id}.founder.{locus}", "animal", one.id
        if one.founder_joint:
            yield f"{one.id}.founder_joint", "animal", one.id
        for trait in one.shows:
            yield f"{one.id}.shows.{trait}", "animal", one.id
        for locus in one.likelihood:
            yield f"{one.id}.likelihood.{locus}", "animal", one.id
    for one in population.clutches:
        yield f"{one.id}.parents", "clutch", one.id
        for number, line in enumerate(one.tally):
            if line.count:
                yield f"{one.id}.tally[{number}]", "clutch", one.id


class _Sorted:
    def __init__(self, part: Subproblem, animal: Animal) -> None:
        self.rows, self.sources = part.of.rows, part.book.sources
        self.animal = self.rows.animals[animal.pk]
        self.near: dict[Source, int] = {}
        self._walk()

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

    def evidence(self, population: Any) -> list[Evidence]:
        known = {("animal", one.code): pk for pk, one in self.rows.animals.items()}
        known |= {("clutch", one.code): pk for pk, one in self.rows.clutches.items()}
        found: dict[tuple[Source, bool], Evidence] = {}
        for name, kind, code in owned(population):
            owner: Source = (kind, known[kind, code])
            told = self._of_parents(name, owner) if name == f"{code}.parents" else None
            if told is None and name != f"{code}.parents":
                told = self._of_evidence(name, owner, population)
            if told is None:
                continue
            item = found.setdefault((told.source, told.hatchlings), told)
            item.names.add(name)
            far = self.near.get(owner)
            if far is not None:
                item.far = far if item.far is None else min(item.far, far)
        return sorted(found.values(), key=lambda one: _FAR + 1 if one.far is None else one.far)

    def _of_parents(self, name: str, owner: Source) -> Evidence | None:
        own = {("animal", self.animal.pk), ("clutch", self.animal.clutch)}
        return Evidence(owner, parents=True) if owner in own and name in self.sources else None

    def _of_evidence(self, name: str, owner: Source, population: Any) -> Evidence | None:
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

    def _brought_in(self, code: str, population: Any) -> Iterator[Source]:
        shows = population.animals[population.animal_index[code]].shows
        for trait, look in shows.items():
            if look.seen:
                yield from self.sources.get(f"{code}.shows.{trait}", ())


def names_of(listed: Iterable[Evidence]) -> set[str]:
    """The engine's records of some evidence."""
    return {name for one in listed for name in one.names}
