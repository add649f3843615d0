"""What signed papers of other books tell of an animal, in the words of the engine.

Of an animal that came with its papers they are what it is taken to be, as a source's word is, in
the figures that the papers give rise to. Of an animal that bred elsewhere they are evidence: how
likely all that was seen there is, for every number of copies that it may have. Where a source is
not wholly trusted that evidence is worth nothing with the rest of the chance.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from fractions import Fraction

import genetics
from keeper import models as m
from keeper.domain.inference.reading.asked_traits import PAPERS
from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.keys_of import Copies, Rows
from keeper.domain.inference.reading.statements import StatedRow

_MOST = 2


def once(statements: Iterable[StatedRow]) -> list[StatedRow]:
    """Statements without those that repeat a paper: it tells of coupled traits with one voice."""
    kept: list[StatedRow] = []
    told = set()
    for one in statements:
        if one.claim in m.SIGNED_CLAIMS:
            if (one.signed, one.told) in told:
                continue
            told.add((one.signed, one.told))
        kept.append(one)
    return kept


def founder_rows(inheritance: Inheritance, one: StatedRow) -> Rows:
    """What an animal that came with papers is taken to be: copies of lines, with their chances."""
    return {copies: chance for copies, chance in _told(inheritance, one).items() if chance}


def _told(inheritance: Inheritance, one: StatedRow) -> Rows:
    """Weight by copies of lines at each locus that is told of; more than two fit nowhere."""
    loci = sorted({inheritance.lines[pk].locus_id for pk in lines_of(inheritance, one)})
    found: dict[Copies, Fraction] = defaultdict(Fraction)
    for weight, has in one.told:
        copies = tuple((locus, _at(inheritance, locus, has)) for locus in loci)
        if all(len(lines) <= _MOST for _, lines in copies):
            found[copies] += weight
    return found


def lines_of(inheritance: Inheritance, one: StatedRow) -> list[int]:
    """The lines of which a paper tells, as far as they count."""
    told = {line for _, has in one.told for line, _ in has}
    return [pk for pk in sorted(told) if pk in inheritance.lines]


def _at(inheritance: Inheritance, locus: int, has: Iterable[tuple[int, int]]) -> tuple[int, ...]:
    copies = [
        line
        for line, count in has
        if line in inheritance.lines and inheritance.lines[line].locus_id == locus
        for _ in range(count)
    ]
    return tuple(sorted(copies))


def bred_elsewhere(
    inheritance: Inheritance, one: StatedRow
) -> Iterator[tuple[genetics.Trait, genetics.Sighting]]:
    """What it bred elsewhere says of an animal, as looks at what it may be.

    For each possibility that speaks less for what was seen there than the likeliest one, a look
    that it was not seen to be that, which errs just so often.
    """
    doubt = 1 - one.reliability
    told = _told(inheritance, one).items()
    every = {copies: one.reliability * weight + doubt for copies, weight in told}
    top = max(every.values(), default=Fraction(0))
    for number, (copies, weight) in enumerate(sorted(every.items())):
        if weight < top:
            keys = {
                inheritance.loci[locus].name: _keys(inheritance, one, locus, lines)
                for locus, lines in copies
            }
            if all(keys.values()):
                trait = genetics.Trait(id=f"{PAPERS}{one.pk} {number}", shown_by=(keys,))
                yield trait, genetics.Sighting(seen=False, false_negative=weight / top)


def _keys(
    inheritance: Inheritance, one: StatedRow, locus: int, lines: tuple[int, ...]
) -> tuple[str, ...]:
    """The keys with just these copies of the lines that are told of."""
    told = set(lines_of(inheritance, one))
    return tuple(
        key
        for key, has in inheritance.keys(locus)
        if tuple(sorted(pk for pk in has if pk in told)) == lines
    )
