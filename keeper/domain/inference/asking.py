"""What is asked of a part of the book beside its standings: a cell around some animals, solved."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import genetics
from keeper.domain.inference.carriers import Cell
from keeper.domain.inference.computing import SpeciesBook
from keeper.domain.inference.copies import solve
from keeper.domain.inference.disputes import settle
from keeper.domain.inference.engine_book import EngineBook, engine_book, row_of
from keeper.domain.touched import Touched
from keeper.models import Animal, Species

# No code of an animal has a line break in it, so these are nobody's own.
YOUNG = "\nyoung"
STRANGER = "\na male not recorded"


class Unanswerable(Exception):
    """A question that the book does not answer; the message says why."""


@dataclass
class Asked:
    """A cell around some animals.

    Attributes:
        of: the species' book.
        book: the cell in the engine's words, the newest of conflicting records set aside.
        conflict: what was set aside, in words.
    """

    of: SpeciesBook
    book: EngineBook
    conflict: tuple[str, ...] = ()

    def code(self, animal: Animal) -> str:
        """How the engine calls an animal."""
        return self.of.rows.animals[animal.pk].code

    def solve(self, queries: Sequence[tuple[tuple[str, str], ...]] = ()) -> Any:
        """Solve the cell with joint tables for the queries."""
        try:
            return genetics.solve(self.book.population, queries=tuple(queries))
        except genetics.BeyondExact as beyond:
            raise Unanswerable(
                "This is more than can be worked out exactly while it is open whether some lines "
                "are one gene: decide a pair of lines, then ask again."
            ) from beyond

    def with_records(self, *, animals: Iterable[Any] = (), traits: Iterable[Any] = ()) -> "Asked":
        """The same with more animals and more that can be seen."""
        population = replace(
            self.book.population,
            animals=(*self.book.population.animals, *animals),
            traits=(*self.book.population.traits, *traits),
        )
        return replace(self, book=replace(self.book, population=population))


def around(species: Species, animals: Iterable[Animal]) -> Asked:
    """Gather the part of the book that bears on some animals, for all loci at once.

    Where its records cannot all be true the newest of each conflict is set aside.
    """
    of = SpeciesBook(species)
    pks = {animal.pk for animal in animals}
    whole = Cell(defaultdict(set), defaultdict(set))
    for cell in of.cells(Touched(animals={(pk, None) for pk in pks})):
        for group, members in cell.animals.items():
            whole.animals[group] |= members
        for group, clutches in cell.clutches.items():
            whole.clutches[group] |= clutches
    if not whole.animals and of.inheritance.groups:
        whole.animals[of.inheritance.groups[0]] = set()
    # The cells fixed the attention on their own members; a pair from outside has no evidence.
    book = engine_book(of.inheritance, of.rows, whole, also=pks)
    try:
        settled = settle(book, lambda one: ({}, solve(one)))
    except genetics.ImpossibleEvidence as fault:
        raise Unanswerable(
            "What is recorded of the lines themselves leaves nothing possible: see the register."
        ) from fault
    sources = [source for conflict in settled.conflicts for source in conflict.sources]
    words = tuple(dict.fromkeys(str(row_of(source)) for source in sources))
    return Asked(of, settled.book, words)
