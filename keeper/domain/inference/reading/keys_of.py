"""Copies of lines as the engine's contract writes them, by genotype keys; and couples."""

from collections import defaultdict
from collections.abc import Iterable
from fractions import Fraction

import genetics
from keeper.domain.inference.reading.inheritance import WILD, Inheritance

# Copies of lines at each locus that is spoken of: (locus, (line, …)) pairs; wild copies left out.
Copies = tuple[tuple[int, tuple[int, ...]], ...]
Rows = dict[Copies, Fraction]


def has_one(inheritance: Inheritance, sex: str) -> bool:
    """Whether animals of that sex may have a single copy at an X or Z locus."""
    return inheritance.heterogametic is not None and sex == inheritance.heterogametic


def _sexes(inheritance: Inheritance, sex: str, loci: Iterable[int]) -> list[str]:
    """The sexes for which keys must be written: one if they are the same in both."""
    if sex != "unknown" or all(inheritance.single_mark(locus) is None for locus in loci):
        return [sex]
    return ["female", "male"]


def _key(inheritance: Inheritance, sex: str, locus: int, lines: tuple[int, ...]) -> str | None:
    """The genotype key of some copies, or None if that sex cannot have them."""
    mark = inheritance.single_mark(locus)
    codes = [inheritance.lines[pk].code for pk in lines]
    if mark is not None and has_one(inheritance, sex):
        if len(set(codes)) > 1:
            return None
        return f"{codes[0] if codes else WILD}/{mark}"
    order = inheritance.locus(locus).alleles
    both = sorted([*codes, WILD, WILD][:2], key=order.index)
    return "/".join(both)


def keyed(inheritance: Inheritance, sex: str, locus: int, rows: Rows) -> dict[str, Fraction]:
    found: dict[str, Fraction] = defaultdict(Fraction)
    sexes = _sexes(inheritance, sex, [locus])
    for one in sexes:
        kept: dict[str, Fraction] = defaultdict(Fraction)
        for copies, p in rows.items():
            key = _key(inheritance, one, locus, dict(copies)[locus])
            if key is not None:
                kept[key] += p
        whole = sum(kept.values(), Fraction(0)) * len(sexes)
        for key, p in kept.items():
            found[key] += p / whole
    return dict(found)


def joint_rows(
    inheritance: Inheritance, sex: str, rows: Rows, loci: frozenset[int]
) -> tuple[genetics.FounderRow, ...]:
    found: dict[tuple[tuple[str, str], ...], Fraction] = defaultdict(Fraction)
    for one in _sexes(inheritance, sex, loci):
        for copies, p in rows.items():
            named = dict(copies)
            keys = [
                (inheritance.loci[pk].name, _key(inheritance, one, pk, named.get(pk, ())))
                for pk in sorted(loci)
            ]
            if all(key is not None for _, key in keys):
                found[tuple((name, str(key)) for name, key in keys)] += p
    whole = sum(found.values(), Fraction(0))
    return tuple(
        genetics.FounderRow(p=p / whole, genotypes=dict(keys)) for keys, p in found.items()
    )


def couple(
    dam: str | None, sire: str | None, share: genetics.Number, retained: genetics.Retained
) -> genetics.Couple:
    """A couple in the engine's words; a dam alone with what stays of hers."""
    stays = (retained or 0) if sire == genetics.NO_SIRE else 0
    return genetics.Couple(dam, sire, share, stays)
