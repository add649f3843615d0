"""A map of three loci of which one is left out: its only line is gone."""

from fractions import Fraction

import pytest

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.domain.inference.reading.inheritance import Inheritance
from tests.factories import LineFactory


@pytest.fixture
def lines(owner: m.Account) -> list[m.Line]:
    """One at each of three linked loci, in map order."""
    first = LineFactory.create(locus__name="a")
    species = first.trait.species
    others = [
        LineFactory.create(locus__name=name, locus__species=species, trait__species=species)
        for name in "bc"
    ]
    loci = [one.locus for one in (first, *others)]
    with writing(by=owner, what="Linked them") as entry:
        entry.keep(m.Interval(left=loci[0], right=loci[1], female="1/10", male="1/5"))
        entry.keep(m.Interval(left=loci[1], right=loci[2], female="1/5", male="1/2"))
    return [first, *others]


def gone(line: m.Line, by: m.Account) -> None:
    """Take a line out as an undo does, which asks only what names the line itself."""
    with writing(by=by, what="Undone") as entry:
        entry.withdraw(line, reason="It was another")


def test_two_loci_stay_linked_over_one_without_a_line(
    owner: m.Account, lines: list[m.Line]
) -> None:
    species = lines[0].trait.species
    (before,) = Inheritance.load(species).groups
    assert len(before.loci) == 3
    gone(lines[1], owner)
    found = Inheritance.load(species)
    # Without interference exactly one of two comes apart: 0.1 + 0.2 - 2 × 0.02, and a half stays.
    (between,) = found.intervals
    assert (between.female, between.male) == (Fraction(26, 100), Fraction(1, 2))
    (group,) = found.groups
    assert group.loci == {lines[0].locus_id, lines[2].locus_id}
    (chain,) = found.engine_parts(group.loci, set(group.traits))["linkage"]
    assert chain.loci == ("a", "c")


def test_a_locus_at_the_end_takes_its_interval_along(owner: m.Account, lines: list[m.Line]) -> None:
    species = lines[0].trait.species
    gone(lines[2], owner)
    found = Inheritance.load(species)
    assert [(one.left_id, one.right_id) for one in found.intervals] == [
        (lines[0].locus_id, lines[1].locus_id)
    ]
