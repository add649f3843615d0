"""From the rows of a species to its standings, component by component; nothing is written here."""

from collections.abc import Iterable, Iterator
from copy import copy
from dataclasses import dataclass, field
from functools import cached_property

import genetics
from keeper.domain.book.touched import Touched
from keeper.domain.inference.reading.carriers import (
    Component,
    Families,
    bearing,
    families,
    touched_components,
)
from keeper.domain.inference.reading.engine_book import EngineBook, engine_book
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.looks import Source
from keeper.domain.inference.reading.rows import Rows, named
from keeper.domain.inference.reading.shown_looks import ShownLook, asked_looks, shown_looks
from keeper.domain.inference.standings.copies import (
    Figure,
    Whose,
    counted,
    figures,
    figures_of,
    ids,
    is_apart,
    solve,
)
from keeper.domain.inference.standings.customary import (
    customary,
    customary_of,
    laboratories,
)
from keeper.domain.inference.standings.disputes import Conflict, Settled, settle
from keeper.domain.inference.standings.facts import Called, called, gather
from keeper.domain.inference.standings.pieces import SeenPieces, pieces
from keeper.domain.inference.standings.stored import Store
from keeper.models import Species, Standing


@dataclass(frozen=True, slots=True)
class Computed:
    """A standing as computed: `Standing` without its row."""

    figure: Figure
    customary: float | None
    called: Called
    conflict: Conflict | None = None
    apart: bool = False


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
        before: the stored standings that were read, where new records were worked out nearby.
        looks: the looks of the species that combinations show, if any.
        seen: for each of their pieces the chance of the animals that may show it.
        looked: group → animals whose pieces were worked out; None: all of the scope.
    """

    rows: Rows
    scope: dict[LocusGroup, set[int]] = field(default_factory=dict)
    carriers: dict[LocusGroup, set[int]] = field(default_factory=dict)
    standings: dict[Whose, Computed] = field(default_factory=dict)
    conflicts: list[Conflict] = field(default_factory=list)
    sources: set[Source] = field(default_factory=set)
    leaving: set[int] = field(default_factory=set)
    books: list[EngineBook] = field(default_factory=list)
    before: Store | None = None
    looks: tuple[ShownLook, ...] = ()
    seen: SeenPieces = field(default_factory=dict)
    looked: dict[LocusGroup, set[int]] | None = None

    def replaced(self, group: LocusGroup) -> set[int]:
        """The animals whose stored standings at a group are replaced: of it, or leaving it."""
        return self.scope[group] | (self.leaving - self.carriers[group])


@dataclass(frozen=True)
class Posed:
    """A component in the words of `genetics`: to be solved here, or elsewhere."""

    component: Component
    book: EngineBook
    subproblem: "genetics.Subproblem"

    @property
    def size(self) -> int:
        """About how much work it is: the records to look at."""
        return len(self.book.population.animals) + len(self.book.population.clutches)


class SpeciesBook:
    """Everything about one species that inference reads, read once."""

    def __init__(self, species: Species, rows: Rows | None = None) -> None:
        self.species = species
        self.inheritance = Inheritance.load(species)
        self.rows = Rows(species.pk) if rows is None else rows
        self._families: dict[LocusGroup, Families] = {}

    @cached_property
    def looks(self) -> tuple[ShownLook, ...]:
        """The looks that combinations show; none in most species."""
        return shown_looks(self.inheritance)

    def families(self, group: LocusGroup) -> Families:
        """Possible carriers of a group of loci, found once."""
        if group not in self._families:
            self._families[group] = families(self.inheritance, self.rows, group)
        return self._families[group]

    def components(self, touched: Touched) -> list[Component]:
        """The parts of the book that a change can move."""
        return touched_components(self.inheritance, self.rows, self.families, touched)

    def attending(
        self, components: Iterable[Component], *, narrowly: bool = False
    ) -> "SpeciesBook":
        """The same book, with the looks, papers and tallies of these parts alone.

        `narrowly`: of the looks also with what was seen of the traits there alone.
        """
        animals, clutches, traits = set[int](), set[int](), set[int]()
        for component in components:
            traits = traits.union(*(group.traits for group in component.animals))
            animals = animals.union(*component.animals.values())
            clutches = clutches.union(*component.clutches.values())
        book = copy(self)
        book.rows = self.rows.attend(animals, clutches)
        if narrowly:
            book.rows.traits = frozenset(traits)
        return book

    def compute(self, touched: Touched) -> Recomputed:
        """Compute the standings that a change can move."""
        components = self.components(touched)
        book = self.attending(components)
        posed = (book._posed(component) for component in components)
        return book.put_together(
            touched, ((one, genetics.answered(one.subproblem)) for one in posed)
        )

    def all_posed(self) -> Iterator[Posed]:
        """Every component of the book to be solved, the largest first."""
        found = self.components(Touched(species={self.species.pk}))
        return map(self._posed, sorted(found, key=lambda one: -one.size))

    def put_together(
        self, touched: Touched, answered: Iterable[tuple[Posed, "genetics.Answer | None"]]
    ) -> Recomputed:
        """Make standings of the engine's answers for the components that a change can move."""
        part = Recomputed(self.rows, leaving=self._descendants(touched), looks=self.looks)
        had = self._had(touched, part.leaving)
        for group in bearing(self.inheritance, touched):
            part.carriers[group] = set(self.families(group).root)
            if had & group.traits:
                # Whoever is no longer a possible carrier there has to lose its standing.
                part.scope[group] = set()
        for posed, answer in answered:
            for group, animals in posed.component.animals.items():
                part.scope.setdefault(group, set()).update(animals)
                part.carriers.setdefault(group, set(self.families(group).root))
            self._take(part, posed, answer)
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

    def _posed(self, component: Component) -> Posed:
        book = engine_book(self.inheritance, self.rows, component)
        subproblem = genetics.Subproblem(
            book.population,
            counted(self.inheritance, self.rows, book.groups),
            laboratories(book.population),
            looks=asked_looks(self.inheritance, self.rows, self.looks, book.groups),
        )
        return Posed(component, book, subproblem)

    def _take(self, part: Recomputed, posed: Posed, answer: "genetics.Answer | None") -> None:
        component = posed.component
        part.sources |= {source for rests in posed.book.sources.values() for source in rests}
        settled, usual = self._settled(posed, answer)
        apart = (
            is_apart(settled.book, settled.solved)
            if settled.solved is not None
            else answer is not None and answer.apart
        )
        found = settled.figures
        facts = gather(
            self.inheritance,
            self.rows,
            set().union(*component.animals.values()),
            set().union(*component.clutches.values()),
            settled.excluded,
            about={trait for group in component.animals for trait in group.traits},
        )
        for whose, figure in found.items():
            said = called(self.inheritance, self.rows, facts, whose, found, usual.get(whose))
            part.standings[whose] = Computed(
                figure, usual.get(whose), said, settled.disputed.get(whose), apart
            )
        part.conflicts += settled.conflicts
        part.books.append(settled.book)
        shown = answer.looks if answer is not None else self._shown(posed, settled)
        disputed = {(pk, trait) for pk, trait, _ in settled.disputed}
        pks = ids(self.rows, posed.book.groups)
        asked = posed.subproblem.looks
        part.seen |= pieces(self.inheritance, self.rows, pks, self.looks, asked, shown, disputed)

    def _shown(self, posed: Posed, settled: Settled) -> "tuple[genetics.LookChance, ...]":
        assert settled.solved is not None
        return genetics.look_chances(settled.solved, posed.subproblem.looks)

    def _settled(
        self, posed: Posed, answer: "genetics.Answer | None"
    ) -> tuple[Settled, dict[Whose, float]]:
        """Figures and customary figures; what cannot all be true is settled first, here."""
        book = posed.book
        if answer is not None:
            pks = ids(self.rows, book.groups)
            found = figures_of(answer.copies, pks)
            return Settled(found, None, book, [], {}), customary_of(answer.alone, pks)
        settled = settle(book, self._figures)
        wanted = {pk for pk, _, _ in settled.figures}
        assert settled.solved is not None
        return settled, customary(self.inheritance, self.rows, settled.book, settled.solved, wanted)

    def _figures(self, book: EngineBook) -> tuple[dict[Whose, Figure], "genetics.Solved"]:
        solved = solve(book)
        return figures(self.inheritance, self.rows, book, solved), solved
