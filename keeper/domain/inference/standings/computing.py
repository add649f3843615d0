"""From the rows of a species to its standings, component by component; nothing is written here."""

from collections.abc import Iterable
from copy import copy
from dataclasses import dataclass, field
from functools import cached_property

from keeper.domain.book.touched import Touched
from keeper.domain.inference.reading.carriers import (
    Component,
    Families,
    families,
    touched_components,
)
from keeper.domain.inference.reading.engine_book import EngineBook, Source, engine_book
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.rows import Rows, named
from keeper.domain.inference.standings.copies import Figure, Whose, figures, solve
from keeper.domain.inference.standings.customary import customary
from keeper.domain.inference.standings.disputes import Conflict, settle
from keeper.domain.inference.standings.facts import gather, word_of
from keeper.models import Species, Standing, Word


@dataclass(frozen=True, slots=True)
class Computed:
    """A standing as computed: `Standing` without its row."""

    figure: Figure
    customary: float | None
    word: Word
    clean_young: int
    conflict: Conflict | None = None


@dataclass
class Recomputed:
    """The computed standings of some components.

    Attributes:
        scope: group → animals whose standings were computed: those without one carry nothing.
        carriers: group → all its possible carriers; nobody else may have a standing.
        standings: what was computed.
        conflicts: sets of records that cannot all be true.
        sources: the rows that the computed components rest on.
        leaving: those who may have been a possible carrier and be none now.
        books: what was solved, conflicting records set aside.
        rows: what they were read from.
    """

    rows: Rows
    scope: dict[LocusGroup, set[int]] = field(default_factory=dict)
    carriers: dict[LocusGroup, set[int]] = field(default_factory=dict)
    standings: dict[Whose, Computed] = field(default_factory=dict)
    conflicts: list[Conflict] = field(default_factory=list)
    sources: set[Source] = field(default_factory=set)
    leaving: set[int] = field(default_factory=set)
    books: list[EngineBook] = field(default_factory=list)


class SpeciesBook:
    """Everything about one species that inference reads, read once."""

    def __init__(self, species: Species, rows: Rows | None = None) -> None:
        self.species = species
        self.inheritance = Inheritance.load(species)
        self.rows = Rows(species.pk) if rows is None else rows

    @cached_property
    def families(self) -> list[Families]:
        """Possible carriers of every group of loci."""
        return [families(self.inheritance, self.rows, one) for one in self.inheritance.groups]

    def components(self, touched: Touched) -> list[Component]:
        """The parts of the book that a change can move."""
        return touched_components(self.inheritance, self.rows, self.families, touched)

    def attending(self, components: Iterable[Component]) -> "SpeciesBook":
        """The same book, with the looks, papers and tallies of these parts alone."""
        animals, clutches = set[int](), set[int]()
        for component in components:
            animals = animals.union(*component.animals.values())
            clutches = clutches.union(*component.clutches.values())
        book = copy(self)
        book.rows = self.rows.attend(animals, clutches)
        return book

    def compute(self, touched: Touched) -> Recomputed:
        """Compute the standings that a change can move."""
        part = Recomputed(self.rows, leaving=self._descendants(touched))
        had = self._had(touched, part.leaving)
        for one in self.families:
            part.carriers[one.group] = set(one.root)
            if had & one.group.traits:
                # Whoever is no longer a possible carrier there has to lose its standing.
                part.scope[one.group] = set()
        components = self.components(touched)
        book = self.attending(components)
        part.rows = book.rows
        for component in components:
            for group, animals in component.animals.items():
                part.scope.setdefault(group, set()).update(animals)
            book._compute_component(part, component)
        return part

    def _descendants(self, touched: Touched) -> set[int]:
        """All whose ancestry a change may have altered."""
        found = {pk for pk, _ in touched.animals}
        if self.species.pk in touched.species:
            return found | set(self.rows.animals)
        return self.rows.with_descendants(found)

    def _had(self, touched: Touched, animals: set[int]) -> set[int]:
        """Traits of which some of the animals have a standing now."""
        stored = Standing.objects.filter(animal__species=self.species)
        if self.species.pk not in touched.species:
            stored = named(stored, "animal", animals)
        return set(stored.order_by().values_list("trait_id", flat=True).distinct())

    def _compute_component(self, part: Recomputed, component: Component) -> None:
        book = engine_book(self.inheritance, self.rows, component)
        part.sources |= {source for rests in book.sources.values() for source in rests}
        settled = settle(book, lambda one: self._figures(one))
        found, solved = settled.figures, settled.solved
        usual = customary(
            self.inheritance, self.rows, settled.book, solved, {pk for pk, _, _ in found}
        )
        facts = gather(
            self.inheritance,
            self.rows,
            set().union(*component.animals.values()),
            set().union(*component.clutches.values()),
            settled.excluded,
        )
        for whose, figure in found.items():
            word, clean = word_of(
                self.inheritance, self.rows, facts, whose, found, usual.get(whose)
            )
            part.standings[whose] = Computed(
                figure, usual.get(whose), word, clean, settled.disputed.get(whose)
            )
        part.conflicts += settled.conflicts
        part.books.append(settled.book)

    def _figures(self, book: EngineBook) -> tuple[dict[Whose, Figure], object]:
        solved = solve(book)
        return figures(self.inheritance, self.rows, book, solved), solved
