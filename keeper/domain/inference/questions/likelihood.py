"""How likely the book is after a change: what explanations of a dispute are compared by.

Of a change only the families count that it touches, joins or cuts, and those of the dispute. What
they hold is weighed as the book then stands, against the same animals as they stood before. So
whatever a change drags in, as another sire's whole family, is in both and falls out; and two
changes compare as they would over all that either of them touches.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from math import inf, log1p

import genetics
from keeper.domain.book.touched import Touched
from keeper.domain.inference.questions.asking import Unanswerable
from keeper.domain.inference.reading.carriers import Component
from keeper.domain.inference.reading.engine_book import EngineBook, engine_book
from keeper.domain.inference.reading.inheritance import LocusGroup
from keeper.domain.inference.reading.looks import Source
from keeper.domain.inference.standings.computing import SpeciesBook
from keeper.domain.inference.standings.copies import solve
from keeper.models import Species


@dataclass(frozen=True)
class Weight:
    """The looks and results of some families, given who their parents are.

    Attributes:
        log: natural logarithm of their probability, against that before the change; minus
            infinity if they cannot all be true.
        clash: then the rows of a smallest set that cannot, if it was asked for.
        traits: and the traits that are decided in the families of those.
    """

    log: float
    clash: frozenset[Source] = frozenset()
    traits: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Changed:
    """What a change touches: the families after it, as they then stand, and those before."""

    after: tuple[EngineBook, ...]
    before: tuple[Component, ...]


class Scale:
    """The book as it stands, against which changes of it are weighed.

    What cannot be true before counts as nothing there, whatever is weighed: such families belong
    to the dispute, so they are in question at every change.
    """

    def __init__(self, species: Species, about: Touched, excluded: Collection[Source] = ()) -> None:
        """Read the book.

        `about` says where the dispute is: whom it touches, and of which traits. The rows of
        `excluded` are set aside, before and after.
        """
        self.about = about
        self._excluded = frozenset(excluded)
        self._before = SpeciesBook(species)
        self._known: dict[_Named, list[tuple[genetics.Population, float]]] = defaultdict(list)
        self._books_before: dict[_Members, EngineBook] = {}
        # Read now: while a change is tried on, the book is another.
        for group in self._before.inheritance.groups:
            self._before.families(group)

    def possible(self) -> bool:
        """Whether what is in question can all be true as it stands."""
        found = self._stood(self._before.components(self.about))
        return all(self._log(one) > -inf for one in found)

    def changed(self, touched: Touched) -> Changed:
        """Read the book as it stands while a change is tried on that touches so much."""
        now = SpeciesBook(self._before.species)
        reach = Touched(animals=set(self.about.animals), species=set(self.about.species))
        reach.add(touched)
        while True:
            after, before = now.components(reach), self._before.components(reach)
            grown = reach.animals | _members(now, after) | _members(self._before, before)
            if grown == reach.animals or now.species.pk in reach.species:
                break
            reach.animals = grown
        same = self._same(now, after, before, touched)
        after = [one for one in after if _named(one) not in same]
        before = [one for one in before if _named(one) not in same]
        return Changed(tuple(self._books(now, after)), tuple(before))

    def _same(
        self, now: SpeciesBook, after: list[Component], before: list[Component], touched: Touched
    ) -> set["_Members"]:
        """The families of which a change touches nobody, nor the dispute: they fall out.

        Of a clutch whose parents carry nothing that the book knows of these are touched too.
        """
        if touched.species:
            return set()
        there = touched.animals | self.about.animals
        as_they_stand = {_named(one) for one in after}
        found = set[_Members]()
        for one in before:
            members = _members(self._before, [one]) | _members(now, [one])
            anybody = {pk for pk, _ in members}
            if _named(one) in as_they_stand and not any(
                pk in anybody if trait is None else (pk, trait) in members for pk, trait in there
            ):
                found.add(_named(one))
        return found

    def weigh(self, changed: Changed, *, search: bool = False) -> Weight:
        """Weigh what a change touches, once it was taken back.

        Raises:
            Unanswerable: the families are beyond exact inference.
        """
        gone, kept = self._stood(changed.before), []
        for book in changed.after:
            same = next((one for one in gone if one.population == book.population), None)
            if same is not None and self._falls_out(book):
                gone = [one for one in gone if one is not same]
            else:
                kept.append(book)
        impossible = [book for book in kept if self._log(book) == -inf]
        if impossible:
            return _refuted(impossible if search else ())
        stood = [log for log in map(self._log, gone) if log > -inf]
        return Weight(sum(map(self._log, kept)) - sum(stood))

    def _books(self, of: SpeciesBook, components: Collection[Component]) -> list[EngineBook]:
        of = of.attending(components)
        return [
            _without(engine_book(of.inheritance, of.rows, one), self._excluded)
            for one in components
        ]

    def _stood(self, components: Collection[Component]) -> list[EngineBook]:
        """Families as they stood before, each written once."""
        unknown = [one for one in components if _named(one) not in self._books_before]
        books = self._books(self._before, unknown)
        self._books_before |= {_named(one): book for one, book in zip(unknown, books, strict=True)}
        return [self._books_before[_named(one)] for one in components]

    def _falls_out(self, book: EngineBook) -> bool:
        """Whether a family that is the same before and after need not be weighed."""
        try:
            return self._log(book) > -inf
        except Unanswerable:
            return True

    def _log(self, book: EngineBook) -> float:
        """The logarithm of a family's probability, found once for all that are equal."""
        population = book.population
        alike = self._known[(*population.animal_index,), len(population.traits)]
        for known, log in alike:
            if known == population:
                return log
        alike.append((population, _log(book)))
        return alike[-1][1]


# What was seen, by trait.
_Shows = Mapping[str, genetics.Sighting]

# Who belongs to a family, by its groups of loci: animals and clutches.
_Members = frozenset[tuple[LocusGroup, frozenset[int], frozenset[int]]]

# The animals of a population, and how many traits are decided there.
_Named = tuple[tuple[str, ...], int]


def _named(one: Component) -> _Members:
    return frozenset(
        (group, frozenset(animals), frozenset(one.clutches.get(group, ())))
        for group, animals in one.animals.items()
    )


def _members(of: SpeciesBook, components: Collection[Component]) -> set[tuple[int, int | None]]:
    """Everyone in some families and the parents of their clutches, with each trait of theirs."""
    found = set[tuple[int, int | None]]()
    for component in components:
        for group, animals in component.animals.items():
            clutches = component.clutches.get(group, ())
            parents = {pk for clutch in clutches for pk in of.rows.clutches[clutch].parents}
            found |= {(pk, trait) for pk in animals | parents for trait in group.traits}
    return found


def _log(book: EngineBook) -> float:
    """Of a family's evidence, against that of nobody carrying anything.

    Families of different size compare: whoever is outside them carries nothing, and of those the
    looks are what they must be.
    """
    try:
        solved = solve(book)
    except genetics.ImpossibleEvidence:
        return -inf
    except genetics.BeyondExact as beyond:
        raise Unanswerable(_ENTANGLED) from beyond
    if not solved.exact:
        raise Unanswerable(_ENTANGLED)
    bare = genetics.solve(_unlooked(book.population)).log_evidence
    return solved.log_evidence - bare - _nobody_carries(book.population)


_ENTANGLED = "These families are too entangled to weigh explanations exactly."


def _refuted(books: Collection[EngineBook]) -> Weight:
    """Of families that cannot be: a smallest set of each that clashes, and what it is about."""
    clash, traits = set[Source](), set[int]()
    for book in books:
        names = genetics.smallest_conflict(book.population)
        clash |= {source for name in names for source in book.sources.get(name, ())}
        traits |= {trait for group in book.groups for trait in group.traits}
    return Weight(-inf, frozenset(clash), frozenset(traits))


def _without(book: EngineBook, excluded: Collection[Source]) -> EngineBook:
    names = {name for name, rests in book.sources.items() if not set(rests).isdisjoint(excluded)}
    if not names:
        return book
    kept = set(genetics.records(book.population)) - names
    return replace(book, population=genetics.kept_only(book.population, kept))


def _unlooked(population: genetics.Population) -> genetics.Population:
    """The same animals of which nothing was seen: what sexes and survival alone make likely."""
    return replace(
        population,
        animals=tuple(one._replace(shows={}, likelihood={}) for one in population.animals),
        clutches=tuple(
            one._replace(tally=tuple(replace(line, shows={}) for line in one.tally))
            for one in population.clutches
        ),
    )


def _nobody_carries(population: genetics.Population) -> float:
    """Logarithm of the probability of all looks that show nothing, were nobody a carrier."""
    return sum(_of_nobody(shows, count) for shows, count in _looks(population))


def _looks(population: genetics.Population) -> Iterator[tuple[_Shows, int]]:
    for animal in population.animals:
        yield animal.shows, 1
    for clutch in population.clutches:
        for line in clutch.tally:
            yield line.shows, line.count


def _of_nobody(shows: _Shows, count: int) -> float:
    told = [one for one in shows.values() if not one.seen and 0 < one.false_positive < 1]
    return sum(count * log1p(-float(one.false_positive)) for one in told)
