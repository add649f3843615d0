"""In what sense an animal carries a trait: the word beside the figure (honesty rule 3)."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.looks import SeenRow, Source
from keeper.domain.inference.reading.rows import AnimalRow, ClutchRow, Rows
from keeper.domain.inference.reading.showed import told_of
from keeper.domain.inference.reading.statements import StatedRow
from keeper.domain.inference.standings.copies import Figure, Whose
from keeper.models import Claim, Found, Shown, Word


@dataclass
class Facts:
    """What the rows show without any inference.

    Attributes:
        visual: (animal, trait): it was seen to show the trait or its double form.
        double: (animal, trait): its look or its source's word says two copies.
        proven: (animal, trait) → the hatchlings seen to show it that it certainly parented.
        stated: (animal, trait) → what was said of it.
        tested: (animal, trait) → what laboratories reported of each of its lines.
        scored: (animal, trait) → young that did not show it and were not kept from showing it.
        began: animal → traits of which it has nothing from its parents: a gene began with it.
        excluded: rows that tell nothing here.
        about: the traits of which it is told what young show.
    """

    visual: set[tuple[int, int]] = field(default_factory=set)
    double: set[tuple[int, int]] = field(default_factory=set)
    proven: dict[tuple[int, int], list["Young"]] = field(default_factory=lambda: defaultdict(list))
    stated: dict[tuple[int, int], list[StatedRow]] = field(
        default_factory=lambda: defaultdict(list)
    )
    tested: dict[tuple[int, int], dict[int, set[str]]] = field(
        default_factory=lambda: defaultdict(lambda: defaultdict(set))
    )
    scored: dict[tuple[int, int], list["Young"]] = field(default_factory=lambda: defaultdict(list))
    began: dict[int, set[int]] = field(default_factory=lambda: defaultdict(set))
    excluded: frozenset[Source] = frozenset()
    about: Collection[int] = ()


class Young(NamedTuple):
    """Hatchlings of one animal that looked alike.

    Attributes:
        clutch: where they hatched; None for one whose parents are stated.
        mates: who may be their other parent; one not recorded is left out.
        number: how many.
        looks: how often they were looked at, all together.
    """

    clutch: int | None
    mates: frozenset[int]
    number: int
    looks: int


class Proof(NamedTuple):
    """What a proof rests on: so many looks at so many hatchlings of so many clutches."""

    looks: int = 0
    young: int = 0
    clutches: int = 0


_NO_PROOF = Proof()


class Called(NamedTuple):
    """What is said of a figure: the word, clean hatchlings, and what a proof rests on."""

    word: Word
    clean: int
    proof: Proof


def gather(
    inheritance: Inheritance,
    rows: Rows,
    animals: Iterable[int],
    clutches: Iterable[int],
    excluded: Collection[Source] = (),
    about: Collection[int] | None = None,
) -> Facts:
    """Read the facts about some animals off the rows: theirs and those of their clutches.

    Rows that were set `excluded`, since they cannot be true with others, tell nothing. What young
    show is told of the traits `about` which it is asked; of all, if of none.
    """
    facts = Facts(
        excluded=frozenset(excluded), about=inheritance.traits.keys() if about is None else about
    )
    for pk, lines in rows.arisen.items():
        for group in inheritance.groups:
            if lines.keys() & group.lines:
                facts.began[pk] |= group.traits
    for pk in animals:
        for trait, row in _looks(facts, rows, pk):
            if row.seen and trait in inheritance.traits:
                shown = {(pk, base) for base in told_of(inheritance, [trait], ())[0]}
                facts.visual |= shown
                if inheritance.traits[trait].shown in (Shown.RECESSIVE, Shown.EVERY):
                    facts.double |= shown
        for one in rows.statements.get(pk, ()):
            if ("statement", one.pk) in facts.excluded:
                continue
            facts.stated[pk, one.trait].append(one)
        for test in rows.lab_tests.get(pk, ()):
            if ("labtest", test.pk) in facts.excluded:
                continue
            if test.line in inheritance.lines:
                trait = inheritance.lines[test.line].trait_id
                facts.tested[pk, trait][test.line].add(test.found)
        animal = rows.animals[pk]
        if animal.clutch is None:
            _own_young(facts, inheritance, rows, animal)
    for pk in clutches:
        _young(facts, inheritance, rows, rows.clutches[pk])
    return facts


def _looks(facts: Facts, rows: Rows, pk: int) -> list[tuple[int, SeenRow]]:
    """An animal's looks by trait, but those set aside."""
    looks = rows.observations.get(pk, {}).items()
    if not facts.excluded:
        return list(looks)
    counting = ((trait, row.without(facts.excluded)) for trait, row in looks)
    return [(trait, row) for trait, row in counting if row is not None]


def _young(facts: Facts, inheritance: Inheritance, rows: Rows, clutch: ClutchRow) -> None:
    """Add what a clutch's hatchlings say of its parents; of a sire only if he is the only one."""
    if ("clutch", clutch.pk) in facts.excluded:
        return
    for row in rows.tallies.get(clutch.pk, ()):
        if row.tally and ("hatchrow", row.pk) not in facts.excluded:
            seen = dict.fromkeys(row.seen, 1)
            _tell(facts, inheritance, clutch, seen, row.unseen, row.tally)
    for pk in rows.hatched.get(clutch.pk, ()):
        _one_young(facts, inheritance, rows, pk, clutch)


def _own_young(facts: Facts, inheritance: Inheritance, rows: Rows, animal: AnimalRow) -> None:
    known = animal.dam is not None or animal.sire is not None
    if known and ("animal", animal.pk) not in facts.excluded:
        _one_young(facts, inheritance, rows, animal.pk, animal)


def _one_young(
    facts: Facts, inheritance: Inheritance, rows: Rows, pk: int, parents: ClutchRow | AnimalRow
) -> None:
    own = facts.began.get(pk, set())
    seen: dict[int, int] = {}
    unseen = set[int]()
    for trait, row in _looks(facts, rows, pk):
        if trait in own:
            continue
        if row.seen:
            seen[trait] = sum(one.seen for one in row.all())
        elif trait in facts.about:
            unseen.add(trait)
    _tell(facts, inheritance, parents, seen, unseen, 1)


def _tell(
    facts: Facts,
    inheritance: Inheritance,
    parents: ClutchRow | AnimalRow,
    seen: Mapping[int, int],
    unseen: Collection[int],
    count: int,
) -> None:
    """Add what so many hatchlings show: traits seen, with how many looks saw each, and not seen."""
    if isinstance(parents, ClutchRow):
        clutch, sires = parents.pk, [sire or None for sire, _ in parents.sires]
    else:
        clutch, sires = None, [parents.sire]
    certain = sires[0] if len(sires) == 1 else None
    shown, not_shown = told_of(inheritance, seen.keys(), unseen)
    shown, not_shown = shown.intersection(facts.about), not_shown.intersection(facts.about)
    if not (shown or not_shown):
        return
    for parent, others in ((parents.dam, sires), (certain, [parents.dam])):
        if parent is None:
            continue
        mates = frozenset(one for one in others if one is not None)
        for trait in shown:
            looks = max(seen.get(one, 0) for one in inheritance.with_forms(trait))
            facts.proven[parent, trait].append(Young(clutch, mates, count, count * looks))
        for trait in not_shown:
            facts.scored[parent, trait].append(Young(clutch, mates, count, count))


def called(
    inheritance: Inheritance,
    rows: Rows,
    facts: Facts,
    whose: Whose,
    found: dict[Whose, Figure],
    customary: float | None,
) -> Called:
    """Return the word, how many hatchlings tell against it, and what a proof rests on."""
    clean = clean_young(inheritance, facts, whose, found)
    word = _word(inheritance, rows, facts, whose, found, customary, clean)
    return Called(word, clean, proof_of(facts, whose) if word == Word.PROVEN else _NO_PROOF)


def _word(
    inheritance: Inheritance,
    rows: Rows,
    facts: Facts,
    whose: Whose,
    found: dict[Whose, Figure],
    customary: float | None,
    clean: int,
) -> Word:
    """Return the word of a figure."""
    pk, trait, line = whose
    figure = found[whose]
    reports = facts.tested.get((pk, trait), {})
    reported = [told for of, told in reports.items() if line in (None, of)]
    found_there = any(_bears_out(told, figure) for told in reported)
    if figure.none > 0:
        if any(_disagree(told) for told in reported):
            return Word.LABORATORIES
        if found_there:
            return Word.TESTED
        first = facts.stated[pk, trait][:1] if rows.animals[pk].is_founder else []
        lower = customary is None or figure.carries < customary - 1e-12
        if clean and lower and (pk, trait) not in facts.visual:
            return Word.CLEAN
        if any(said.line in (None, line) or line is None for said in first):
            return Word.STATED
        return Word.POSSIBLE
    if (pk, trait) in facts.visual:
        return Word.VISUAL
    recessive = inheritance.traits[trait].shown == Shown.RECESSIVE
    if (pk, trait) in facts.proven and recessive and not _may_be_others(inheritance, found, whose):
        return Word.PROVEN
    parents = () if trait in facts.began.get(pk, ()) else _certain_parents(rows, pk)
    if any(_has_two(facts, found, parent, trait) for parent in parents):
        return Word.PARENTAGE
    if found_there:
        return Word.TESTED
    if any(_said_for_certain(inheritance, said) for said in facts.stated.get((pk, trait), ())):
        return Word.STATED
    return Word.DEDUCED


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
    sires = [sire or None for sire, _ in clutch.sires]
    return [one for one in (clutch.dam, *(sires if len(sires) == 1 else ())) if one is not None]


def _said_for_certain(inheritance: Inheritance, said: StatedRow) -> bool:
    if said.signed is not None:
        lines = {one.pk for one in inheritance.lines_of(inheritance.traits[said.trait])}
        without = [weight for weight, has in said.told if not lines & {pk for pk, n in has if n}]
        return said.reliability == 1 and not any(without)
    return (
        said.reliability == 1
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
    scored = facts.scored.get((pk, trait))
    if not scored:
        return 0
    alone = inheritance.traits[trait].shown in (Shown.DOMINANT, Shown.SINGLE)
    return sum(
        young.number
        for young in scored
        if alone or any(_may_carry(found.get((mate, trait, None))) for mate in young.mates)
    )


def proof_of(facts: Facts, whose: Whose) -> Proof:
    """What a proof rests on: the hatchlings of its own that showed the trait."""
    shown = facts.proven.get(whose[:2], [])
    return Proof(
        looks=sum(one.looks for one in shown),
        young=sum(one.number for one in shown),
        clutches=len({one.clutch for one in shown}),
    )


def _disagree(told: Collection[str]) -> bool:
    """Whether laboratories reported of one line what cannot all be right."""
    return (Found.NONE in told and len(told) > 1) or {Found.ONE, Found.TWO} <= set(told)


def _bears_out(told: Collection[str], figure: Figure) -> bool:
    """Whether a laboratory found what the figure says: none is credited with another finding."""
    if Found.CARRIES in told:
        return True
    return (Found.TWO in told and figure.two > 0 and figure.two >= figure.one) or (
        Found.ONE in told and figure.one > 0 and figure.one >= figure.two
    )


def _may_carry(figure: Figure | None) -> bool:
    return figure is not None and figure.none < 1
