"""What is said of a founder, as the probabilities that the engine's contract asks for.

A statement names copies of lines. Of the lines of a trait that it leaves open each is as likely as
the keeper's shares say. A founder of which nothing was said, and on which a trait was seen or a
line found by a laboratory, is weighed as an animal of a population in which these alleles have a
frequency of 1 in 100 together: for a recessive trait that was seen the figure cancels out; for a
dominant one it says that a single copy is far likelier. Common practice, no source.

A doubted word is true with the chance that its source is trusted; else the animal is as any of
which nothing was said. That is the background of the lines it speaks of, and where the register
gives none, the same 1 in 100 together: a doubted word is never certain absence.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations_with_replacement, product
from types import MappingProxyType
from typing import Literal

import genetics
from keeper import models as m
from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.keys_of import Copies, Rows, has_one, joint_rows, keyed
from keeper.domain.inference.reading.papers import founder_rows, lines_of, once
from keeper.domain.inference.reading.statements import StatedRow

# The frequency at which a trait seen on a founder is taken to be about, all its lines together.
ABOUT = Fraction(1, 100)

# Loci spoken of, what is said there, and the rows that say it.
_Part = tuple[frozenset[int], Rows, tuple[tuple[str, int], ...]]


# Which part of a founder's record: what is stated at one locus, or jointly.
Stated = tuple[Literal["founder", "founder_joint"], str]


@dataclass(frozen=True)
class Said:
    """A founder's part of the engine's record, and which rows each part rests on.

    `statements` are the words that hang on a trust, `spoken` the row of each.
    """

    founder: Mapping[str, Mapping[str, Fraction]]
    founder_joint: tuple[genetics.FounderRow, ...]
    rests_on: Mapping[Stated, tuple[tuple[str, int], ...]]
    statements: tuple[genetics.Statement, ...] = ()
    spoken: tuple[int, ...] = ()


def said(
    inheritance: Inheritance,
    *,
    sex: str,
    loci: frozenset[int],
    statements: Iterable[StatedRow],
    seen: Iterable[int],
    tested: Iterable[int] = (),
    began: Mapping[int, int] = MappingProxyType({}),
    trusts: Mapping[int, str] = MappingProxyType({}),
) -> Said:
    """Put together what is said, seen and found of a founder at these loci.

    `seen` lists traits seen on it and `tested` lines found in it of which nothing was said;
    `began` the lines that began with it, with the rows that say so. `trusts` has the trust on
    which a word hangs, by its id. One that speaks of a locus of which something else is said, seen
    or found there is weighed with that, by itself.
    """
    single = has_one(inheritance, sex)
    words = [(one, _stated(inheritance, one, males_single=single)) for one in once(statements)]
    parts: list[_Part] = [(_places(rows), rows, (("statement", one.pk),)) for one, rows in words]
    parts += _evident(inheritance, parts, seen, tested, began)
    hanging = {id(rows): one for one, rows in words if one.pk in trusts}
    record = _Record(inheritance, sex)
    for places, rows, pks in _gathered(parts):
        if not places <= loci or not places:
            continue
        if (word := hanging.get(id(rows))) is not None:
            record.hang(word, trusts[word.pk], places)
        else:
            record.lay(places, rows, pks)
    return record.said()


def _evident(
    inheritance: Inheritance,
    spoken: Iterable[_Part],
    seen: Iterable[int],
    tested: Iterable[int],
    began: Mapping[int, int],
) -> list[_Part]:
    """What is seen and found of a founder, beside what is spoken of, and what began with it."""
    parts: list[_Part] = []
    known = {inheritance.lines[line].locus_id for line in began}
    for trait in seen:
        bearing = inheritance.lines_showing(inheritance.traits[trait])
        for locus in sorted(inheritance.loci_of(inheritance.traits[trait]) - known):
            parts.append((frozenset({locus}), _about(inheritance, bearing, locus), ()))
    for line in tested:
        locus = inheritance.lines[line].locus_id
        if all(locus not in one[0] for one in (*spoken, *parts)) and locus not in known:
            parts.append((frozenset({locus}), _about(inheritance, {line}, locus), ()))
    for line, row in began.items():
        locus = inheritance.lines[line].locus_id
        least_one = _given_one(_about(inheritance, {line}, locus))
        parts.append((frozenset({locus}), least_one, (("arising", row),)))
    return parts


class _Record:
    """A founder's part of the engine's record, as it grows."""

    def __init__(self, inheritance: Inheritance, sex: str) -> None:
        self.inheritance, self.sex = inheritance, sex
        self.founder: dict[str, Mapping[str, Fraction]] = {}
        self.joint: Rows = {(): Fraction(1)}
        self.joint_loci: set[int] = set()
        self.rests_on: dict[Stated, tuple[tuple[str, int], ...]] = {}
        self.hanging: list[genetics.Statement] = []
        self.spoken: list[int] = []

    def lay(self, places: frozenset[int], rows: Rows, pks: tuple[tuple[str, int], ...]) -> None:
        """Take in what holds of it at some loci."""
        if len(places) == 1:
            (locus,) = places
            name = self.inheritance.loci[locus].name
            self.founder[name] = keyed(self.inheritance, self.sex, locus, rows)
            self.rests_on["founder", name] = pks
        else:
            self.joint = _product(self.joint, rows)
            self.joint_loci |= places
            self.rests_on["founder_joint", ""] = self.rests_on.get(("founder_joint", ""), ()) + pks

    def hang(self, word: StatedRow, trust: str, places: frozenset[int]) -> None:
        """Take in a word that holds with others or not at all, and what is so where it does not."""
        single = has_one(self.inheritance, self.sex)
        holds, common, of_single = _told(self.inheritance, word, males_single=single)
        for locus in places:
            unsaid = _unsaid(self.inheritance, {locus}, common, of_single)
            self.lay(frozenset({locus}), unsaid, (("statement", word.pk),))
        if len(places) == 1:
            (locus,) = places
            by_key = keyed(self.inheritance, self.sex, locus, holds)
            said_of = genetics.Statement(trust, {self.inheritance.loci[locus].name: by_key})
        else:
            rows = joint_rows(self.inheritance, self.sex, holds, places)
            said_of = genetics.Statement(trust, founder_joint=rows)
        self.hanging.append(said_of)
        self.spoken.append(word.pk)

    def said(self) -> Said:
        """All of it."""
        loci = frozenset(self.joint_loci)
        listed = joint_rows(self.inheritance, self.sex, self.joint, loci) if loci else ()
        hanging, spoken = tuple(self.hanging), tuple(self.spoken)
        return Said(self.founder, listed, self.rests_on, hanging, spoken)


def _places(rows: Rows) -> frozenset[int]:
    return frozenset(locus for copies in rows for locus, _ in copies)


def _gathered(parts: list[_Part]) -> Iterator[_Part]:
    """Multiply the parts that speak of a common locus."""
    waiting = list(parts)
    while waiting:
        places, rows, pks = waiting.pop(0)
        while True:
            near = next((one for one in waiting if one[0] & places), None)
            if near is None:
                break
            waiting.remove(near)
            places, rows, pks = places | near[0], _product(rows, near[1]), pks + near[2]
        yield places, rows, pks


def _product(first: Rows, second: Rows) -> Rows:
    """Both true at once: at most two copies at a locus; what cannot be is left out."""
    found: dict[Copies, Fraction] = defaultdict(Fraction)
    for (one, p), (other, q) in product(first.items(), second.items()):
        together: dict[int, tuple[int, ...]] = defaultdict(tuple)
        for locus, lines in (*one, *other):
            together[locus] = tuple(sorted(together[locus] + lines))
        if all(len(lines) <= 2 for lines in together.values()):
            found[tuple(sorted(together.items()))] += p * q
    whole = sum(found.values(), Fraction(0))
    if not whole:
        # More copies than fit: both statements cannot be true. The first is kept; the page of
        # the animal refuses such a pair, so this is only met in a book changed by hand.
        return first
    return {copies: p / whole for copies, p in found.items() if p}


def _stated(inheritance: Inheritance, one: StatedRow, *, males_single: bool) -> Rows:
    """What a word makes likely, as far as it is taken."""
    rows, common, single = _told(inheritance, one, males_single=males_single)
    if one.reliability == 1:
        return rows
    mixed: dict[Copies, Fraction] = defaultdict(Fraction)
    for copies, p in rows.items():
        mixed[copies] += p * one.reliability
    for copies, p in _unsaid(inheritance, _places(rows), common, single).items():
        mixed[copies] += p * (1 - one.reliability)
    return {copies: p for copies, p in mixed.items() if p}


def _told(
    inheritance: Inheritance, one: StatedRow, *, males_single: bool
) -> tuple[Rows, dict[int, Fraction], set[int]]:
    """What is so if a word is true, how common its lines are if not, and loci of a single copy."""
    trait = inheritance.traits[one.trait]
    lines = [line for line in inheritance.lines_of(trait) if one.line in (None, line.pk)]
    lines += [inheritance.lines[pk] for pk in lines_of(inheritance, one)]
    single = {
        line.locus_id
        for line in lines
        if males_single and inheritance.single_mark(line.locus_id) is not None
    }
    if one.claim == m.Claim.PAPERS:
        told = [inheritance.lines[pk] for pk in lines_of(inheritance, one)]
        return founder_rows(inheritance, one), unsaid_frequencies(told), single
    if one.claim == m.Claim.VISUAL and trait.shown == m.Shown.RULES:
        rows = _showing(inheritance, trait)
    else:
        rows = _claimed(one, trait, lines, single)
    bearing = sorted(inheritance.lines_showing(trait))
    spoken_of = [inheritance.lines[pk] for pk in bearing if one.line in (None, pk)]
    return rows, unsaid_frequencies(spoken_of), single


def unsaid_frequencies(lines: Collection[m.Line]) -> dict[int, Fraction]:
    """How common each of some lines is in an animal of which nothing was said."""
    return {one.pk: Fraction(one.background) or ABOUT / len(lines) for one in lines}


def _unsaid(
    inheritance: Inheritance,
    places: Iterable[int],
    common: Mapping[int, Fraction],
    single: Collection[int],
) -> Rows:
    """What an animal has at some loci of which nothing was said; one copy at a `single` locus."""
    every: Rows = {(): Fraction(1)}
    for locus in sorted(places):
        drawn: dict[tuple[int, ...], Fraction] = {
            (pk,): p for pk, p in common.items() if inheritance.lines[pk].locus_id == locus
        }
        drawn[()] = 1 - sum(drawn.values(), Fraction(0))
        other = {(): Fraction(1)} if locus in single else drawn
        found: dict[Copies, Fraction] = defaultdict(Fraction)
        for (a, p), (b, q) in product(drawn.items(), other.items()):
            found[((locus, tuple(sorted(a + b))),)] += p * q
        every = _product(every, dict(found))
    return every


def _claimed(one: StatedRow, trait: m.Trait, lines: list[m.Line], single: set[int]) -> Rows:
    share = _shares(lines)
    places = sorted({line.locus_id for line in lines})

    def at(locus: int, copies: tuple[int, ...]) -> Copies:
        return tuple((place, tuple(sorted(copies)) if place == locus else ()) for place in places)

    carries: dict[Copies, Fraction] = {at(a.locus_id, (a.pk,)): share[a.pk] for a in lines}
    nothing = {at(-1, ()): Fraction(1)}
    two: dict[Copies, Fraction] = defaultdict(Fraction)
    for locus in places:
        here = [line for line in lines if line.locus_id == locus]
        there = sum((share[line.pk] for line in here), Fraction(0))
        for a, b in product(here, repeat=2):
            pair: tuple[int, ...] = (a.pk,) if locus in single else (a.pk, b.pk)
            if there:
                # The gene by its lines' shares; then each copy by the shares within it.
                two[at(locus, pair)] += share[a.pk] * share[b.pk] / there
    if one.claim == m.Claim.CLEAR:
        return nothing
    if one.claim == m.Claim.CARRIES:
        return carries
    if one.claim == m.Claim.POSSIBLE:
        chance = one.chance if one.chance is not None else Fraction(1)
        found = {copies: p * chance for copies, p in carries.items()}
        return {k: p for k, p in (found | {at(-1, ()): 1 - chance}).items() if p}
    if one.claim == m.Claim.VISUAL and trait.shown == m.Shown.SINGLE:
        return carries
    if one.claim == m.Claim.VISUAL and trait.shown == m.Shown.DOMINANT:
        rare = ABOUT / (2 - ABOUT)
        mixed = {copies: p * (1 - rare) for copies, p in carries.items()}
        for copies, p in two.items():
            mixed[copies] = mixed.get(copies, Fraction(0)) + p * rare
        return mixed
    return dict(two)


def _shares(lines: list[m.Line]) -> dict[int, Fraction]:
    """Part of each line in the whole of some lines; equal where the keeper left none to any."""
    parts: dict[int, Fraction] = {line.pk: Fraction(line.share) for line in lines}
    whole = sum(parts.values(), Fraction(0))
    if not whole:
        return dict.fromkeys(parts, Fraction(1, len(parts)))
    return {pk: part / whole for pk, part in parts.items()}


def _showing(inheritance: Inheritance, trait: m.Trait) -> Rows:
    """What an animal has that shows a trait by one of its combinations."""
    bearing = inheritance.lines_showing(trait)
    every: Rows = {(): Fraction(1)}
    for locus in sorted(inheritance.loci_of(trait)):
        every = _product(every, _about(inheritance, bearing, locus))
    shown = {copies: p for copies, p in every.items() if inheritance.shows(trait.pk, dict(copies))}
    whole = sum(shown.values(), Fraction(0))
    return {copies: p / whole for copies, p in shown.items()} if whole else every


def _given_one(rows: Rows) -> Rows:
    """The same where it is known that there is a copy at all."""
    there = {copies: p for copies, p in rows.items() if any(lines for _, lines in copies)}
    whole = sum(there.values(), Fraction(0))
    return {copies: p / whole for copies, p in there.items()}


def _about(inheritance: Inheritance, bearing: Collection[int], locus: int) -> Rows:
    """Two alleles drawn at random where these lines together have the frequency `ABOUT`."""
    here = [line.pk for line in inheritance.at_locus[locus] if line.pk in bearing]
    if not here:
        return {((locus, ()),): Fraction(1)}
    chance = {pk: ABOUT / len(here) for pk in here}
    found: dict[Copies, Fraction] = {((locus, ()),): (1 - ABOUT) ** 2}
    for pk in here:
        found[((locus, (pk,)),)] = 2 * chance[pk] * (1 - ABOUT)
    for a, b in combinations_with_replacement(sorted(here), 2):
        found[((locus, (a, b)),)] = chance[a] * chance[b] * (1 if a == b else 2)
    return found
