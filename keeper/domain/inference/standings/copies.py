"""From a solved component to figures: two, one or no copies of each trait and each of its lines."""

from collections.abc import Collection, Iterable, Mapping
from math import nextafter
from typing import NamedTuple, cast

import genetics
from keeper import models as m
from keeper.domain.inference.reading.engine_book import EngineBook
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.rows import Rows

# What copies are counted of, as `counted` labels it: a trait, and one of its lines or all.
TraitLine = tuple[int, int | None]

# Whose figure: animal, trait, line (None: all lines of the trait).
Whose = tuple[int, int, int | None]


class Figure(NamedTuple):
    """Probabilities of two, one and no copies, and the half width of their 95 % interval.

    `mixed` is the chance of copies at two different loci of the look.
    """

    two: float
    one: float
    none: float
    error: float = 0.0
    mixed: float = 0.0

    @property
    def carries(self) -> float:
        """The probability of at least one copy."""
        return self.two + self.one if self.none else 1.0


def solve(book: EngineBook) -> "genetics.Solved":
    """Solve a component; words that tie too much of it together are taken apart (`is_apart`).

    Raises:
        genetics.ImpossibleEvidence: its records cannot all be true.
    """
    return genetics.solve_or_apart(book.population)


def is_apart(book: EngineBook, solved: "genetics.Solved") -> bool:
    """Whether words on animals of one purchase were weighed each by itself."""
    return solved.population.trust.keys() != book.population.trust.keys()


def counted(
    inheritance: Inheritance, rows: Rows, groups: Mapping[LocusGroup, Collection[int]]
) -> tuple["genetics.Counted", ...]:
    """What the engine is to count for standings: every line, and every trait over its lines.

    Labels are trait and line, as in `Whose`.
    """
    of_lines: list[genetics.Counted] = []
    of_traits: list[genetics.Counted] = []
    for group, animals in groups.items():
        codes = tuple(rows.animals[pk].code for pk in sorted(animals))
        lines: list[genetics.Count] = []
        traits: list[genetics.Count] = []
        for locus in sorted(group.loci):
            name, here = inheritance.loci[locus].name, inheritance.at_locus[locus]
            lines += [
                genetics.Count((one.trait_id, one.pk), name, frozenset({one.code})) for one in here
            ]
            traits += [
                genetics.Count((trait, None), name, _codes(here, trait))
                for trait in sorted({one.trait_id for one in here})
            ]
        of_lines.append(genetics.Counted(codes, tuple(lines)))
        of_traits.append(genetics.Counted(codes, tuple(traits)))
    return (*of_lines, *of_traits)


def _codes(lines: Iterable[m.Line], trait: int) -> frozenset[str]:
    return frozenset(one.code for one in lines if one.trait_id == trait)


def figures(
    inheritance: Inheritance, rows: Rows, book: EngineBook, solved: "genetics.Solved"
) -> dict[Whose, Figure]:
    """The figures of everyone that the component is about; those who carry nothing are left out."""
    copies = genetics.count_copies(solved, counted(inheritance, rows, book.groups))
    return figures_of(copies, ids(rows, book.groups))


def ids(rows: Rows, groups: Mapping[LocusGroup, Collection[int]]) -> dict[str, int]:
    """Animals' ids by their codes."""
    return {rows.animals[pk].code: pk for animals in groups.values() for pk in animals}


def figures_of(copies: "genetics.Copies", ids: Mapping[str, int]) -> dict[Whose, Figure]:
    """What the engine counted, by ids of rows."""
    found: dict[Whose, Figure] = {}
    for animal, label, two, one, none, error, mixed in copies.rows():
        trait, line = cast("TraitLine", label)
        found[ids[animal], trait, line] = Figure(two, one, none, error, mixed)
    return found


def unsure(chance: float) -> float:
    """A chance beside which something else is possible: however near, it is never exactly 1."""
    return min(chance, _BELOW_ONE)


_BELOW_ONE = nextafter(1.0, 0.0)
