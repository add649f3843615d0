"""In what sense an animal carries a trait: the word beside the figure (honesty rule 3)."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.looks import SeenRow, Source
from keeper.domain.inference.reading.rows import AnimalRow, ClutchRow, Rows, StatedRow
from keeper.domain.inference.standings.copies import Figure, Whose
from keeper.models import Claim, Found, Shown, Word


@dataclass
class Facts:
    """What the rows show without any inference.

    Attributes:
        visual: (animal, trait): it was seen to show the trait or its double form.
        double: (animal, trait): its look or its source's word says two copies.
        proven: (animal, trait): it certainly parented a hatchling that was seen to show it.
        stated: (animal, trait) → what its source said.
        tested: (animal, trait) → lines that a laboratory found in it.
        scored: (animal, trait) → (mate or None, young that did not show it).
        began: animal → traits of which it has nothing from its parents: a gene began with it.
        excluded: rows that tell nothing here.
    """

    visual: set[tuple[int, int]] = field(default_factory=set)
    double: set[tuple[int, int]] = field(default_factory=set)
    proven: set[tuple[int, int]] = field(default_factory=set)
    stated: dict[tuple[int, int], StatedRow] = field(default_factory=dict)
    tested: dict[tuple[int, int], set[int]] = field(default_factory=lambda: defaultdict(set))
    scored: dict[tuple[int, int], list[tuple[int | None, int]]] = field(
        default_factory=lambda: defaultdict(list)
    )
    began: dict[int, set[int]] = field(default_factory=lambda: defaultdict(set))
    excluded: frozenset[Source] = frozenset()


def gather(
    inheritance: Inheritance,
    rows: Rows,
    animals: Iterable[int],
    clutches: Iterable[int],
    excluded: Collection[Source] = (),
) -> Facts:
    """Read the facts about some animals off the rows: theirs and those of their clutches.

    Rows that were set `excluded`, since they cannot be true with others, tell nothing.
    """
    facts = Facts(excluded=frozenset(excluded))
    for pk, lines in rows.arisen.items():
        for group in inheritance.groups:
            if lines.keys() & group.lines:
                facts.began[pk] |= group.traits
    bases: dict[int, set[int]] = {
        trait.pk: {trait.pk} | ({trait.base_id} if trait.base_id else set())
        for trait in inheritance.traits.values()
    }
    for pk in animals:
        for trait, row in _looks(facts, rows, pk):
            if row.seen and trait in bases:
                facts.visual |= {(pk, base) for base in bases[trait]}
                if inheritance.traits[trait].shown in (Shown.RECESSIVE, Shown.EVERY):
                    facts.double |= {(pk, base) for base in bases[trait]}
        for one in rows.statements.get(pk, ()):
            if ("statement", one.pk) in facts.excluded:
                continue
            facts.stated[pk, one.trait] = one
        for test in rows.lab_tests.get(pk, ()):
            if ("labtest", test.pk) in facts.excluded:
                continue
            if test.found != Found.NONE and test.line in inheritance.lines:
                trait = inheritance.lines[test.line].trait_id
                facts.tested[pk, trait].add(test.line)
        animal = rows.animals[pk]
        if animal.clutch is None:
            _own_young(facts, rows, animal, bases)
    for pk in clutches:
        _young(facts, rows, rows.clutches[pk], bases)
    return facts


def _looks(facts: Facts, rows: Rows, pk: int) -> list[tuple[int, SeenRow]]:
    """An animal's looks by trait, but those set aside."""
    looks = rows.observations.get(pk, {}).items()
    counting = ((trait, row.without(facts.excluded)) for trait, row in looks)
    return [(trait, row) for trait, row in counting if row is not None]


def _young(facts: Facts, rows: Rows, clutch: ClutchRow, bases: dict[int, set[int]]) -> None:
    """Add what a clutch's hatchlings say of its parents; of a sire only if he is the only one."""
    if ("clutch", clutch.pk) in facts.excluded:
        return
    sires = [sire for sire, _ in clutch.sires]
    sire = sires[0] if len(sires) == 1 else None
    for row in rows.tallies.get(clutch.pk, ()):
        seen = {base for trait in row.seen for base in bases.get(trait, ())}
        if row.tally and ("hatchrow", row.pk) not in facts.excluded:
            _tell(facts, (clutch.dam, sire), seen, row.unseen - seen, row.tally)
    for pk in rows.hatched.get(clutch.pk, ()):
        _one_young(facts, rows, pk, (clutch.dam, sire), bases)


def _own_young(facts: Facts, rows: Rows, animal: AnimalRow, bases: dict[int, set[int]]) -> None:
    known = animal.dam is not None or animal.sire is not None
    if known and ("animal", animal.pk) not in facts.excluded:
        _one_young(facts, rows, animal.pk, (animal.dam, animal.sire), bases)


def _one_young(
    facts: Facts,
    rows: Rows,
    pk: int,
    parents: tuple[int | None, int | None],
    bases: dict[int, set[int]],
) -> None:
    own = facts.began.get(pk, set())
    looked = {t: row for t, row in _looks(facts, rows, pk) if t not in own}
    seen = {base for trait, row in looked.items() if row.seen for base in bases.get(trait, ())}
    unseen = {trait for trait, row in looked.items() if not row.seen} - seen
    _tell(facts, parents, seen, unseen, 1)


def _tell(
    facts: Facts,
    parents: tuple[int | None, int | None],
    seen: set[int] | frozenset[int],
    unseen: set[int] | frozenset[int],
    count: int,
) -> None:
    for parent, mate in (parents, parents[::-1]):
        if parent is None:
            continue
        facts.proven |= {(parent, trait) for trait in seen}
        for trait in unseen:
            facts.scored[parent, trait].append((mate, count))


def word_of(
    inheritance: Inheritance,
    rows: Rows,
    facts: Facts,
    whose: Whose,
    found: dict[Whose, Figure],
    customary: float | None,
) -> tuple[Word, int]:
    """Return the word, and how many hatchlings could have shown the trait and did not."""
    pk, trait, line = whose
    figure = found[whose]
    clean = clean_young(inheritance, facts, whose, found)
    lines = facts.tested.get((pk, trait), set())
    found_there = bool(lines if line is None else lines & {line})
    if figure.none > 0:
        if found_there:
            return Word.TESTED, clean
        said = facts.stated.get((pk, trait))
        lower = customary is None or figure.carries < customary - 1e-12
        if clean and lower and (pk, trait) not in facts.visual:
            return Word.CLEAN, clean
        if said is not None and (said.line in (None, line) or line is None):
            return Word.STATED, clean
        return Word.POSSIBLE, clean
    if (pk, trait) in facts.visual:
        return Word.VISUAL, clean
    recessive = inheritance.traits[trait].shown == Shown.RECESSIVE
    if (pk, trait) in facts.proven and recessive and not _may_be_others(inheritance, found, whose):
        return Word.PROVEN, clean
    parents = () if trait in facts.began.get(pk, ()) else _certain_parents(rows, pk)
    if any(_has_two(facts, found, parent, trait) for parent in parents):
        return Word.PARENTAGE, clean
    if found_there:
        return Word.TESTED, clean
    if _said_for_certain(facts.stated.get((pk, trait))):
        return Word.STATED, clean
    return Word.DEDUCED, clean


def _may_be_others(inheritance: Inheritance, found: dict[Whose, Figure], whose: Whose) -> bool:
    """Whether what its young showed may have been another line of the trait."""
    pk, trait, line = whose
    if line is None:
        return False
    others = inheritance.lines_of(inheritance.traits[trait])
    return any((pk, trait, other.pk) in found for other in others if other.pk != line)


def _has_two(facts: Facts, found: dict[Whose, Figure], parent: int, trait: int) -> bool:
    """Whether a parent is a visual with two copies: all its young have one."""
    figure = found.get((parent, trait, None))
    return (parent, trait) in facts.double or (
        figure is not None and figure.one == 0 and figure.none == 0
    )


def _certain_parents(rows: Rows, pk: int) -> list[int]:
    animal = rows.animals[pk]
    if animal.clutch is None:
        return [one for one in (animal.dam, animal.sire) if one is not None]
    clutch = rows.clutches[animal.clutch]
    sires = [sire for sire, _ in clutch.sires]
    return [one for one in (clutch.dam, *(sires if len(sires) == 1 else ())) if one is not None]


def _said_for_certain(said: StatedRow | None) -> bool:
    return (
        said is not None
        and said.reliability == 1
        and said.claim in (Claim.VISUAL, Claim.DOUBLE, Claim.CARRIES, Claim.POSSIBLE)
        and (said.claim != Claim.POSSIBLE or said.chance == Fraction(1))
    )


def clean_young(
    inheritance: Inheritance, facts: Facts, whose: Whose, found: dict[Whose, Figure]
) -> int:
    """Young scored without the trait whose other parent could have helped to show it.

    For a dominant or incomplete dominant trait any mate will do; for a recessive one the mate
    must itself have a chance of carrying it.
    """
    pk, trait, _ = whose
    alone = inheritance.traits[trait].shown in (Shown.DOMINANT, Shown.SINGLE)
    return sum(
        count
        for mate, count in facts.scored.get((pk, trait), ())
        if alone or (mate is not None and _may_carry(found.get((mate, trait, None))))
    )


def _may_carry(figure: Figure | None) -> bool:
    return figure is not None and figure.none < 1
