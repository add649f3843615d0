"""From a solved component to figures: two, one or no copies of each trait and each of its lines."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations, product
from math import nextafter

import genetics
from keeper.domain.inference.reading.engine_book import EngineBook
from keeper.domain.inference.reading.inheritance import Inheritance, codes_of
from keeper.domain.inference.reading.rows import Rows

# Whose figure: animal, trait, line (None: all lines of the trait).
Whose = tuple[int, int, int | None]


@dataclass(frozen=True, slots=True)
class Figure:
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
    """Solve a component.

    Raises:
        genetics.ImpossibleEvidence: its records cannot all be true.
    """
    return genetics.solve(book.population)


def figures(
    inheritance: Inheritance, rows: Rows, book: EngineBook, solved: "genetics.Solved"
) -> dict[Whose, Figure]:
    """The figures of everyone that the component is about; those who carry nothing are left out."""
    found: dict[Whose, Figure] = {}
    # (animal, trait) → the trait's figure at each locus where it has one.
    by_locus: dict[tuple[int, int], list[Figure]] = defaultdict(list)
    for group, animals in book.groups.items():
        for locus in sorted(group.loci):
            for pk, trait, line, one in _at_locus(inheritance, rows, solved, locus, animals):
                if line is None:
                    by_locus[pk, trait].append(one)
                else:
                    found[pk, trait, line] = one
    scattered = []
    for (pk, trait), listed in by_locus.items():
        if len(listed) == 1:
            found[pk, trait, None] = listed[0]
        else:
            scattered.append((trait, pk))
    if scattered:
        found |= _jointly(inheritance, rows, solved, scattered)
    return found


def _at_locus(
    inheritance: Inheritance, rows: Rows, solved: "genetics.Solved", locus: int, animals: set[int]
) -> Iterator[tuple[int, int, int | None, Figure]]:
    """Figures of every line there, and of every trait over its lines there (line None)."""
    import numpy as np

    name = inheritance.loci[locus].name
    _, keys, table = solved.posterior_table(name)
    index = solved.population.animal_index
    order = sorted(animals)
    part = table[[index[rows.animals[pk].code] for pk in order]]
    lines = inheritance.at_locus[locus]
    whose: list[tuple[int, int | None, frozenset[str]]] = [
        (line.trait_id, line.pk, frozenset({line.code})) for line in lines
    ]
    whose += [
        (trait, None, _codes(inheritance, trait, locus))
        for trait in sorted({line.trait_id for line in lines})
    ]
    for trait, line, codes in whose:
        copies = np.array([_copies(key, codes) for key in keys])
        two, one, none = (part[:, copies == n].sum(axis=1) for n in (2, 1, 0))
        for row in np.flatnonzero((two > 0) | (one > 0)).tolist():
            code = rows.animals[order[row]].code
            error = 0.0 if solved.exact else solved.error(code, name)
            figure = _tidy(float(two[row]), float(one[row]), float(none[row]), error)
            yield order[row], trait, line, figure


def _copies(key: str, codes: frozenset[str]) -> int:
    return sum(code in codes for code in codes_of(key))


def _tidy(two: float, one: float, none: float, error: float = 0.0) -> Figure:
    """Sums of exact zeros are zeros; a sum of the others may pass 1 by a rounding error."""
    if none <= 0 and two <= 0:
        return Figure(0.0, 1.0, 0.0, error)
    if none <= 0 and one <= 0:
        return Figure(1.0, 0.0, 0.0, error)
    return Figure(unsure(two), unsure(one), unsure(none), error)


def unsure(chance: float) -> float:
    """A chance beside which something else is possible: however near, it is never exactly 1."""
    return min(chance, _BELOW_ONE)


_BELOW_ONE = nextafter(1.0, 0.0)


def _jointly(
    inheritance: Inheritance, rows: Rows, solved: "genetics.Solved", wanted: list[tuple[int, int]]
) -> dict[Whose, Figure]:
    """Figures of traits with lines at several loci, from joint tables of each animal."""
    loci = {
        trait: sorted({a.locus_id for a in inheritance.lines_of(inheritance.traits[trait])})
        for trait, _ in wanted
    }
    queries = [
        tuple((rows.animals[pk].code, inheritance.loci[locus].name) for locus in loci[trait])
        for trait, pk in wanted
    ]
    asked = solved.asked(queries)
    return {
        (pk, trait, None): _joint_figure(
            inheritance, asked, trait, loci[trait], rows.animals[pk].code
        )
        for trait, pk in wanted
    }


def _joint_figure(
    inheritance: Inheritance, solved: "genetics.Solved", trait: int, loci: list[int], code: str
) -> Figure:
    by_count = {
        locus: {
            n: [key for key in _solved_keys(solved, inheritance, locus)
                if _copies(key, _codes(inheritance, trait, locus)) == n]
            for n in (0, 1, 2)
        }
        for locus in loci
    }  # fmt: skip
    names = {locus: inheritance.loci[locus].name for locus in loci}
    two = none = mixed = together = 0.0
    for world, share in zip(solved.worlds, solved.chance, strict=True):
        alone = replace(solved, worlds=[world], chance=[1.0])

        def chance(counts: dict[int, int], alone: "genetics.Solved" = alone) -> float:
            every = {locus: by_count[locus][n] for locus, n in counts.items()}
            return float(genetics.joint(alone, code, {names[k]: keys for k, keys in every.items()}))

        none += share * chance(dict.fromkeys(loci, 0))
        classes = [{*one} for one in world.classes]
        for counts in product((0, 1, 2), repeat=len(loci)):
            one_gene = _joined(loci, counts, classes, names)
            doubled = 2 in counts or any(one_gene)
            scattered = not all(one_gene)
            there = share * chance(dict(zip(loci, counts, strict=True)))
            two += there * doubled
            mixed += there * scattered
            together += there * (not scattered)
    figure = _tidy(two, max(0.0, 1 - two - none), none)
    return replace(figure, mixed=unsure(mixed) if together else 1.0)


def _joined(
    loci: list[int], counts: tuple[int, ...], classes: list[set[str]], names: dict[int, str]
) -> list[bool]:
    """For each two loci with copies, whether they are one locus in this reading."""
    there = [locus for locus, count in zip(loci, counts, strict=True) if count]
    return [any({names[a], names[b]} <= one for one in classes) for a, b in combinations(there, 2)]


def _codes(inheritance: Inheritance, trait: int, locus: int) -> frozenset[str]:
    return frozenset(a.code for a in inheritance.at_locus[locus] if a.trait_id == trait)


def _solved_keys(
    solved: "genetics.Solved", inheritance: Inheritance, locus: int
) -> tuple[str, ...]:
    keys: tuple[str, ...] = solved.posterior_table(inheritance.loci[locus].name)[1]
    return keys
