"""Maps of linked loci: their chains, also over loci between that are left out."""

from collections.abc import Collection, Iterable, Iterator
from fractions import Fraction

from keeper.models import Interval


def chains(
    intervals: Iterable[Interval], loci: Collection[int]
) -> Iterator[tuple[list[int], list[Interval]]]:
    """Yield the chains of linked loci that begin among some, with the intervals between them."""
    right = {one.left_id: one for one in intervals if one.left_id in loci}
    starts = set(right) - {one.right_id for one in right.values()}
    for pk in sorted(starts):
        chain, between = [pk], []
        while chain[-1] in right:
            between.append(right[chain[-1]])
            chain.append(between[-1].right_id)
        yield chain, between


def over_the_missing(intervals: Iterable[Interval], there: Collection[int]) -> list[Interval]:
    """Return the intervals between neighbours among some loci, in place of those to other loci.

    Two that meet at a locus that is left out recombine where exactly one of them does, since there
    is no interference: r + s - 2rs (Haldane 1919, quoted from memory).
    """
    right = {one.left_id: one for one in intervals}
    found = []
    for first in right.values():
        if first.left_id not in there:
            continue
        female, male, end = first.female, first.male, first.right_id
        passed = {first.left_id}
        while end not in there and end in right and end not in passed:
            passed.add(end)
            more = right[end]
            female, male, end = (
                _either(female, more.female),
                _either(male, more.male),
                more.right_id,
            )
        if end in there:
            whole = Interval(left_id=first.left_id, right_id=end, female=female, male=male)
            found.append(first if end == first.right_id else whole)
    return found


def _either(one: Fraction, other: Fraction) -> Fraction:
    return one + other - 2 * one * other
