"""An allelic complex: several lines of one gene, and a name for what their combinations show.

A combination is the places of its lines in the list: (0,) is one copy of the first line beside a
normal one, (0, 0) two copies, (0, 1) one copy of each of the first two. One that has no name of
its own shows what one copy of each of its lines shows.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import combinations_with_replacement

from django.core.exceptions import ValidationError

from keeper.domain.book.writing import Writing, about, writing
from keeper.models import (
    Account,
    Condition,
    DaybookEntry,
    Dose,
    Line,
    Locus,
    Showing,
    Shown,
    Species,
    Trait,
)

Combination = tuple[int, ...]

# How many lines a complex begins with, and how many at most: they are named on one page.
FEWEST, MOST = 2, 6


def all_combinations(lines: Iterable[int]) -> list[Combination]:
    """Return the combinations of lines: single copies, then two copies, each with the others."""
    listed = sorted(lines)
    singles: list[Combination] = [(one,) for one in listed]
    pairs = list(combinations_with_replacement(listed, 2))
    return singles + sorted(pairs, key=lambda pair: pair[0] != pair[1])


@dataclass(eq=False)
class Look:
    """A trait that some combinations show.

    Attributes:
        name: as it was first written.
        seen_on: the combinations.
        lines: those that are its own.
        shown, base: how it is kept; `base` is the look of which it is the double form.
        hides: looks that would be shown on its combinations too, as those are kept.
    """

    name: str
    seen_on: set[Combination] = field(default_factory=set)
    lines: list[int] = field(default_factory=list)
    shown: Shown = Shown.RULES
    base: "Look | None" = None
    hides: list["Look"] = field(default_factory=list)


def looks_of(lines: Iterable[int], names: Mapping[Combination, str]) -> list[Look]:
    """Return the traits that names for combinations come to, those with lines of their own first.

    Raises:
        ValidationError: a line is in no combination that has a name.
    """
    lines = sorted(lines)
    looks: dict[str, Look] = {}
    named: dict[Combination, Look] = {}
    for one in all_combinations(lines):
        if name := " ".join(names.get(one, "").split()):
            named[one] = looks.setdefault(name.casefold(), Look(name))
            named[one].seen_on.add(one)
    for one in all_combinations(lines):
        if one not in named:
            for line in one:
                if (single := named.get((line,))) is not None:
                    single.seen_on.add(one)
    for line in lines:
        _owner(line, named).lines.append(line)
    owning = [look for look in looks.values() if look.lines]
    for look in owning:
        _find_kind(look, lines, named)
    for look in looks.values():
        if not look.lines:
            _find_base(look, owning)
    return owning + [look for look in looks.values() if not look.lines]


def unnamed_lines(lines: Iterable[int], names: Mapping[Combination, str]) -> list[int]:
    """Return the lines that are in no combination that has a name."""
    named = {line for one, name in names.items() if name.strip() for line in one}
    return [line for line in lines if line not in named]


def _owner(line: int, named: Mapping[Combination, Look]) -> Look:
    """The look of a line's own: of one copy if it has a name, else of two, else of a mixture."""
    for one in ((line,), (line, line), *(pair for pair in named if line in pair)):
        if one in named:
            return named[one]
    raise ValidationError(
        f"Line {line + 1} is in no combination that has a name. Name one, or take it out."
    )


def _shows(shown: Shown, own: Iterable[int], lines: Iterable[int]) -> set[Combination]:
    """The combinations that a look of some kind with these lines of its own is shown by."""
    of_own = set(own)
    found = set()
    for one in all_combinations(lines):
        copies = sum(line in of_own for line in one)
        accepted = {Shown.RECESSIVE: {2}, Shown.SINGLE: {1}, Shown.DOMINANT: {1, 2}}[shown]
        if copies in accepted:
            found.add(one)
    return found


def _find_kind(look: Look, lines: Iterable[int], named: Mapping[Combination, Look]) -> None:
    """Keep it as an ordinary kind where it is one, save for looks that can hide it."""
    for shown in (Shown.SINGLE, Shown.DOMINANT, Shown.RECESSIVE):
        covered = _shows(shown, look.lines, lines)
        beyond = covered - look.seen_on
        hiding = [named.get(one) for one in sorted(beyond)]
        if look.seen_on <= covered and all(_may_hide(other, look) for other in hiding):
            look.shown = shown
            for other in hiding:
                if other is not None and look not in other.hides:
                    other.hides.append(look)
            return


def _may_hide(one: Look | None, other: Look) -> bool:
    """Whether one can hide another: never where both are seen, and not both ways."""
    return one is not None and not one.seen_on & other.seen_on and one not in other.hides


def _find_base(look: Look, owning: Iterable[Look]) -> None:
    """Keep it as the double form of a look with one copy, where it is that."""
    for base in owning:
        if base.shown == Shown.SINGLE and look.seen_on == _shows(
            Shown.RECESSIVE, base.lines, base.lines
        ):
            look.shown, look.base = Shown.EVERY, base
            return


def add_complex(
    *,
    species: Species,
    name: str,
    lines: Sequence[Line],
    names: Mapping[Combination, str],
    by: Account,
    since: date | None = None,
) -> DaybookEntry:
    """Add several lines of one gene with the traits that their combinations show.

    The traits are looked for `since` a day, or were always.

    Raises:
        ValidationError: fewer than two lines, or a row is not in order.
    """
    if not FEWEST <= len(lines) <= MOST:
        raise ValidationError(
            f"A complex has {FEWEST} to {MOST} lines here. Add a line or take one out."
        )
    looks = looks_of(range(len(lines)), names)
    said = ", ".join(look.name for look in looks)
    with writing(by=by, what=f"Added the complex {name}: {said}") as book:
        locus = book.keep(Locus(species=species, name=name))
        about(book.entry, locus)
        traits: dict[str, Trait] = {}
        for look in looks:
            base = traits[look.base.name] if look.base else None
            trait = Trait(species=species, name=look.name, shown=look.shown, base=base)
            trait.looked_for_since = since
            traits[look.name] = book.keep(trait)
            for number in look.lines:
                lines[number].trait, lines[number].locus = trait, locus
                book.keep(lines[number])
        for look in looks:
            if look.shown == Shown.RULES:
                _keep_showings(book, traits[look.name], look, lines)
            if look.hides:
                book.keep(traits[look.name], hides=[traits[one.name] for one in look.hides])
    return book.entry


def _keep_showings(book: Writing, trait: Trait, look: Look, lines: Sequence[Line]) -> None:
    for one in sorted(look.seen_on):
        showing = book.keep(Showing(trait=trait))
        for dose, numbers in _parts(one, len(lines)):
            named = [lines[number] for number in numbers]
            book.keep(Condition(showing=showing, dose=dose), lines=named)


def _parts(one: Combination, count: int) -> list[tuple[Dose, list[int]]]:
    """A combination as parts: how many copies of which lines."""
    if len(one) == 1:
        others = [number for number in range(count) if number != one[0]]
        return [(Dose.SINGLE, [one[0]]), (Dose.ABSENT, others)]
    if one[0] == one[1]:
        return [(Dose.EVERY, [one[0]])]
    return [(Dose.SINGLE, [number]) for number in one]
