"""How likely a part of the book is as it stands: what explanations of a dispute are compared by."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from math import inf, log1p

import genetics
from keeper.domain.book.touched import Touched
from keeper.domain.inference.questions.asking import Unanswerable
from keeper.domain.inference.reading.carriers import together
from keeper.domain.inference.reading.engine_book import EngineBook, engine_book
from keeper.domain.inference.reading.looks import Source
from keeper.domain.inference.standings.computing import SpeciesBook
from keeper.domain.inference.standings.copies import solve
from keeper.models import Species


@dataclass(frozen=True)
class Weight:
    """The looks and results of some families, given who their parents are.

    Attributes:
        log: natural logarithm of their probability, against that of nobody carrying anything;
            minus infinity if they cannot all be true.
        clash: then the rows of a smallest set that cannot, if it was asked for.
    """

    log: float
    clash: frozenset[Source] = frozenset()


def weigh(
    species: Species,
    animals: Collection[int],
    traits: Collection[int],
    *,
    excluded: Collection[Source] = (),
    search: bool = False,
) -> Weight:
    """Weigh the families of some animals at the loci of some traits, some rows set aside.

    Families of different size compare: whoever is outside them carries nothing, and of those the
    looks are what they must be.

    Raises:
        Unanswerable: these families are beyond exact inference.
    """
    of = SpeciesBook(species)
    total, clash = 0.0, frozenset[Source]()
    components = of.components(Touched(animals={(pk, trait) for pk in animals for trait in traits}))
    of = of.attending(components)
    for component in together(of.rows, components):
        found = _weighed(
            engine_book(of.inheritance, of.rows, component), frozenset(excluded), search
        )
        total += found.log
        clash |= found.clash
    return Weight(total, clash)


def _weighed(book: EngineBook, excluded: frozenset[Source], search: bool) -> Weight:
    population = _without(book, excluded)
    try:
        solved = solve(replace(book, population=population))
    except genetics.ImpossibleEvidence:
        names = genetics.smallest_conflict(population) if search else ()
        rests = (source for name in names for source in book.sources.get(name, ()))
        return Weight(-inf, frozenset(rests))
    except genetics.BeyondExact as beyond:
        raise Unanswerable(_ENTANGLED) from beyond
    if not solved.exact:
        raise Unanswerable(_ENTANGLED)
    bare = genetics.solve(_unlooked(population)).log_evidence
    return Weight(solved.log_evidence - bare - _nobody_carries(population))


_ENTANGLED = "These families are too entangled to weigh explanations exactly."


def _without(book: EngineBook, excluded: frozenset[Source]) -> genetics.Population:
    names = {name for name, rests in book.sources.items() if excluded & set(rests)}
    if not names:
        return book.population
    return genetics.kept_only(book.population, set(genetics.records(book.population)) - names)


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
    total = 0.0
    looks = [(one.shows, 1) for one in population.animals]
    looks += [(line.shows, line.count) for one in population.clutches for line in one.tally]
    for shows, count in looks:
        for sighting in shows.values():
            if not sighting.seen and 0 < sighting.false_positive < 1:
                total += count * log1p(-float(sighting.false_positive))
    return total
