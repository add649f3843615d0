"""Looks that combinations show: double forms, traits by combinations, named looks.

Whether an animal shows one is decided at several loci together. Loci that bear on one another are
one group, and a look whose parts lie in several groups is worked out in pieces, one a group. These
are independent of one another, save where a component holds several of the groups: there the look
is worked out over all of them too.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import prod

import genetics
from keeper import models as m
from keeper.domain.inference.reading import register
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.rows import Rows

# What a look is: (trait, None) or (None, named look).
LookKey = tuple[int | None, int | None]


@dataclass(frozen=True)
class LookOf:
    """A trait that must be seen; shown by copies of these lines, if any are named."""

    trait: int
    lines: frozenset[int] = frozenset()


@dataclass(frozen=True)
class ShownLook:
    """A look and its parts, all of which must be seen, by the group of loci that decides them."""

    key: LookKey
    parts: Mapping[LocusGroup, tuple[LookOf, ...]]


@dataclass(frozen=True)
class PieceName:
    """A part of a look that is worked out at once: the look, and its groups by their least loci."""

    key: LookKey
    groups: frozenset[int]


def group_name(group: LocusGroup) -> int:
    """What a group of loci is called in the name of a piece."""
    return min(group.loci)


def shown_looks(inheritance: Inheritance) -> tuple[ShownLook, ...]:
    """The looks of a species that combinations show; a look that nothing can show is left out."""
    found: dict[LookKey, list[LookOf]] = {
        (one.pk, None): [LookOf(one.pk)]
        for one in inheritance.shown_traits
        if one.shown in (m.Shown.EVERY, m.Shown.RULES)
    }
    found |= {(None, pk): parts for pk, parts in _named(inheritance).items()}
    of_trait = {pk: group for group in inheritance.groups for pk in group.traits}
    looks = []
    for key, parts in found.items():
        if all(part.trait in of_trait for part in parts):
            by_group: dict[LocusGroup, list[LookOf]] = defaultdict(list)
            for part in parts:
                by_group[of_trait[part.trait]].append(part)
            looks.append(ShownLook(key, {group: tuple(some) for group, some in by_group.items()}))
    return tuple(looks)


def _named(inheritance: Inheritance) -> dict[int, list[LookOf]]:
    """Named look → its parts. A line that no longer counts narrows nothing."""
    rows = list(register.LOOK_PARTS.rows([inheritance.species.pk]))
    lines: dict[int, set[int]] = defaultdict(set)
    for part, line in register.LOOK_LINES.rows(pk for pk, *_ in rows):
        if line in inheritance.lines:
            lines[part].add(line)
    found: dict[int, list[LookOf]] = defaultdict(list)
    for pk, look, trait in rows:
        found[look].append(LookOf(trait, frozenset(lines[pk])))
    return dict(found)


def asked_looks(
    inheritance: Inheritance,
    rows: Rows,
    looks: Iterable[ShownLook],
    animals: Mapping[LocusGroup, Collection[int]],
) -> tuple["genetics.LookAsked", ...]:
    """What the engine is asked of a component's animals; labels are those of a
    `PieceName` as a plain pair, for workers know nothing of the book.

    Each group by itself, and for animals that matter at several of a look's groups these together.
    """
    found = []
    for look in looks:
        by_groups: dict[tuple[LocusGroup, ...], list[int]] = defaultdict(list)
        here = [group for group in look.parts if group in animals]
        for pk in sorted(set().union(*(animals[group] for group in here))):
            own = tuple(group for group in here if pk in animals[group])
            for groups in {(group,) for group in own} | {own}:
                by_groups[groups].append(pk)
        for groups, pks in by_groups.items():
            parts = [part for group in groups for part in look.parts[group]]
            found.append(
                genetics.LookAsked(
                    (look.key, frozenset(map(group_name, groups))),
                    tuple(rows.animals[pk].code for pk in pks),
                    tuple(shown_part(inheritance, part) for part in parts),
                )
            )
    return tuple(found)


def shown_part(inheritance: Inheritance, part: LookOf) -> "genetics.ShownPart":
    """A part of a look in the engine's words."""
    trait = inheritance.traits[part.trait]
    if not part.lines:
        return genetics.ShownPart(trait.name)
    needed = 2 if trait.shown in (m.Shown.RECESSIVE, m.Shown.EVERY) else 1
    wanted: dict[int, set[int]] = defaultdict(set)
    for line in part.lines:
        wanted[inheritance.lines[line].locus_id].add(line)
    alternatives = tuple(enough_copies(inheritance, wanted, needed))
    by = genetics.Trait(id=f"\nof lines of {trait.name}", shown_by=alternatives)
    return genetics.ShownPart(trait.name, by)


def enough_copies(
    inheritance: Inheritance, wanted: Mapping[int, Collection[int]], needed: int
) -> Iterator[dict[str, tuple[str, ...]]]:
    """The genotypes with enough copies of some lines at one of their loci (locus → lines).

    A single copy of a sex chromosome is all there is.
    """
    for locus, among in wanted.items():
        yield {
            inheritance.loci[locus].name: tuple(
                key
                for key, copies in inheritance.keys(locus)
                if sum(line in among for line in copies) >= min(needed, len(copies))
            )
        }


def seen_of_expressed(inheritance: Inheritance, rows: Rows, animal: int, traits: set[int]) -> float:
    """The chance that an animal with the genes for some traits shows them, by what was seen.

    Each of them shows on so many of those with the genes for it, and a look tells which this is.
    """
    chance = Fraction(1)
    for trait in traits:
        shows = Fraction(inheritance.traits[trait].penetrance)
        if shows < 1:
            row = rows.observations.get(animal, {}).get(trait)
            looks = [one.seen for one in row.all()] if row else []
            chance *= _shows_by_looks(inheritance.traits[trait], looks)
    return float(chance)


def deciding_traits(inheritance: Inheritance, look: ShownLook) -> frozenset[int]:
    """The traits of whose lines the copies decide whether a look is seen, or hidden."""
    wanted = {part.trait for parts in look.parts.values() for part in parts}
    deciding = wanted | {
        one.pk
        for one in inheritance.shown_traits
        if one.hides_all or inheritance.hides.get(one.pk, frozenset()) & wanted
    }
    loci = {locus for pk in deciding for locus in inheritance.loci_of(inheritance.traits[pk])}
    return frozenset(line.trait_id for line in inheritance.lines.values() if line.locus_id in loci)


def _shows_by_looks(trait: m.Trait, looks: Collection[bool]) -> Fraction:
    """The chance that an animal with the genes for a trait shows it, after some looks at it.

    By Bayes over whether it shows it; looks that contradict each other tell nothing.
    """
    shows, passed, taken = map(Fraction, (trait.penetrance, trait.overlooked, trait.mistaken))
    showing = prod((1 - passed if seen else passed for seen in looks), start=shows)
    plain = prod((taken if seen else 1 - taken for seen in looks), start=1 - shows)
    return showing / (showing + plain) if showing + plain else shows
