"""Of which gene a visual is, and how many hatchlings tell it: against counting by hand."""

from fractions import Fraction
from itertools import count

import pytest
from scipy.stats import binom

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.inference import TellingMate, Unanswerable
from tests.keeper.animals.mixed_rows import TwoGenes, standing_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def book(owner: m.Account) -> TwoGenes:
    return TwoGenes(owner)


def told_by(book: TwoGenes, animal: m.Animal) -> dict[str, TellingMate]:
    """The answer by code of the mate, its figures in the order HAR, DUN, both."""
    answer = inference.which_gene(animal, book.trait)
    assert [set(one.loci) for one in answer.readings][:2] == [
        {book.line.locus_id},
        {book.other.locus_id},
    ]
    return {m.Animal.objects.get(pk=one.mate).code: one for one in answer.mates}


def test_young_of_two_visuals_of_two_genes_are_mixed_for_certain(book: TwoGenes) -> None:
    assert {standing_of(one).mixed for one in book.mixed_pair()} == {1}


def test_readings_of_a_visual_of_two_mixed_animals(book: TwoGenes) -> None:
    # Of 16 equal chances 7 are visual: 3 have two HAR alone, 3 two DUN alone, 1 two of both.
    # Mixed are all but HAR HAR + + and DUN DUN + +, one sixteenth each: 5 of the 7.
    visual = book.visual_of_mixed()
    answer = inference.which_gene(visual, book.trait)
    assert [len(one.loci) for one in answer.readings] == [1, 1, 2]
    assert [one.chance for one in answer.readings] == pytest.approx([3 / 7, 3 / 7, 1 / 7])
    assert standing_of(visual).mixed == pytest.approx(5 / 7)


def test_visual_mate_tells_with_four_hatchlings(book: TwoGenes) -> None:
    # With HAR HAR: two copies there give visuals alone. One with two DUN has HAR on one of its
    # two in 2 of 3 cases, so half of its young show it, and in 1 of 3 none. The chance that not
    # all of n show it is 1/3 + 2/3 (1 - 1/2^n): 11/12 with three, 23/24 with four.
    visual = book.visual_of_mixed()
    mate = told_by(book, visual)["F1"]
    assert mate.copies == 2
    assert mate.shows == pytest.approx((1, 1 / 3, 1))
    assert (mate.hatchlings, mate.at_least) == (4, 4)


def test_carrier_as_mate_needs_many_more(book: TwoGenes) -> None:
    visual = book.visual_of_mixed()
    book.founder("F2", "female", "carries", line=book.other)
    mate = told_by(book, visual)["F2"]
    assert mate.copies == 1
    assert mate.shows == pytest.approx((1 / 6, 1 / 2, 1 / 2))
    # The rule counted anew with another library's binomials.
    expected = next(
        (n, least)
        for n in count(1)
        for least in range(1, n + 1)
        if binom.sf(least - 1, n, 1 / 2) >= 0.95
        and 1 / 3 + 2 / 3 * binom.cdf(least - 1, n, 1 / 4) >= 0.95
    )
    assert (mate.hatchlings, mate.at_least) == expected


def test_visual_of_unknown_line_is_told_by_one_hatchling(book: TwoGenes) -> None:
    # Two copies of one gene and none of the other: all young of a visual mate show it, or none.
    # A carrier gives half or none: 1 - 1/2^5 is 96.9 %, 1 - 1/2^4 is 93.75 %, below 95 %.
    visual = book.unnamed_visual("M5", "male")
    book.founder("F1", "female", "visual")
    book.founder("F2", "female", "carries", line=book.other)
    mates = told_by(book, visual)
    assert (mates["F1"].hatchlings, mates["F1"].at_least) == (1, 1)
    assert (mates["F2"].hatchlings, mates["F2"].at_least) == (5, 1)
    assert standing_of(visual).mixed == 0


def test_weak_penetrance_needs_more(book: TwoGenes) -> None:
    # Nine in ten show it: one hatchling is told right in 90 %, two in 99 %.
    book.trait.penetrance = Fraction(9, 10)
    book.trait.save()
    visual = book.unnamed_visual("M5", "male")
    book.founder("F1", "female", "visual")
    mate = told_by(book, visual)["F1"]
    assert mate.shows == pytest.approx((0.9, 0))
    assert (mate.hatchlings, mate.at_least) == (2, 1)


def test_mates_are_here_of_the_other_sex_and_of_one_gene(book: TwoGenes) -> None:
    visual = book.visual_of_mixed()
    sold = book.founder("F3", "female", "visual")
    sold.status = "sold"
    sold.save()
    book.founder("M9", "male", "visual")
    # K1 is a female and mixed; F9 only may carry it.
    book.founder("F9", "female", "possible", "1/2")
    assert list(told_by(book, visual)) == ["F1"]


def test_nobody_can_be_named_for_one_of_unknown_sex(book: TwoGenes) -> None:
    answer = inference.which_gene(book.visual_of_mixed("unknown"), book.trait)
    assert (len(answer.readings), answer.mates) == (3, ())


def test_what_hatches_settles_it(book: TwoGenes) -> None:
    # One normal hatchling with a HAR visual: not two copies of HAR, so two of DUN.
    visual = book.visual_of_mixed()
    book.clutch("C3", m.Animal.objects.get(code="F1"), visual, normal=1)
    answer = inference.which_gene(visual, book.trait)
    assert [(one.loci, one.chance) for one in answer.readings] == [((book.other.locus_id,), 1.0)]
    assert answer.mates == ()


def test_a_look_of_one_gene_has_one_way(book: TwoGenes) -> None:
    book.other.withdrawn_at = "2026-01-01T00:00Z"
    book.other.save()
    visual = book.founder("M1", "male", "visual")
    with pytest.raises(Unanswerable, match="There is only one way in which M1 can have Saltgrass"):
        inference.which_gene(visual, book.trait)


def test_lines_that_may_be_one_gene_are_not_told_by_any_number(book: TwoGenes) -> None:
    # Two copies of DUN: if the lines are one gene all young of a HAR visual show it, if they are
    # two none does. So "all show it" is no sign of HAR in half of the cases, however many hatch.
    with writing(by=book.by, what="Left open") as entry:
        entry.keep(m.OpenPair(one=book.line, other=book.other, prior="1/2"))
    visual = book.unnamed_visual("M5", "male")
    book.founder("F1", "female", "visual")
    answer = inference.which_gene(visual, book.trait)
    chances = {one.loci: p for one, p in zip(answer.readings, answer.mates[0].shows, strict=True)}
    assert chances[(book.line.locus_id,)] == 1
    assert 0 < chances[(book.other.locus_id,)] < 1
    assert (answer.mates[0].hatchlings, answer.mates[0].at_least) == (None, None)


def test_a_visual_that_was_withdrawn_is_not_told_by_anybody(book: TwoGenes) -> None:
    visual = book.visual_of_mixed()
    with writing(by=book.by, what="Withdrew") as entry:
        entry.withdraw(visual, reason="a slip")
    with pytest.raises(Unanswerable) as refused:
        inference.which_gene(visual, book.trait)
    assert str(refused.value) == (
        f"The record of {visual} is withdrawn: it says nothing of its genes. Restore it first."
    )
