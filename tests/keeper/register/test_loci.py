"""Survival of genotypes, links between loci, and chromosomes."""

from fractions import Fraction

import pytest
from django.core.exceptions import ValidationError

from keeper.domain.book.writing import Refused
from keeper.domain.register.loci import keep_interval, keep_locus, keep_survival
from keeper.domain.register.withdrawing import withdraw
from keeper.models import Account, Interval, Line, Locus, OpenPair, Species, Survival
from tests.factories import LineFactory, LocusFactory, SpeciesFactory

TENTH = "1/10"


@pytest.fixture
def line() -> Line:
    return LineFactory.create(code="SP", trait__name="Reed", locus__name="reed")


def link(left: Locus, right: Locus, by: Account, female: str = TENTH) -> None:
    keep_interval(interval=Interval(left=left, right=right, female=female, male=TENTH), by=by)


def loci(species: Species, *names: str) -> list[Locus]:
    return [LocusFactory.create(species=species, name=name) for name in names]


def test_a_lethal_genotype_is_recorded(owner: Account, line: Line) -> None:
    survival = Survival(locus=line.locus, one=line, other=line, survival="0")
    entry = keep_survival(survival=survival, by=owner)
    assert Survival.objects.get().survival == 0
    assert (entry.what, entry.subject_id) == (
        "Recorded the survival of Reed SP / Reed SP",
        line.locus_id,
    )


def test_a_genotype_is_recorded_once_in_either_order(owner: Account, line: Line) -> None:
    other = LineFactory.create(code="SQ", trait=line.trait, locus=line.locus)
    keep_survival(
        survival=Survival(locus=line.locus, one=other, other=line, survival=TENTH), by=owner
    )
    with pytest.raises(ValidationError) as caught:
        keep_survival(
            survival=Survival(locus=line.locus, one=line, other=other, survival=TENTH), by=owner
        )
    assert caught.value.messages == [
        "The survival of Reed SP / Reed SQ is recorded already: change that one."
    ]


def test_one_copy_beside_the_wild_type_is_a_genotype_too(owner: Account, line: Line) -> None:
    keep_survival(survival=Survival(locus=line.locus, one=line, survival=TENTH), by=owner)
    assert str(Survival.objects.get()) == "Reed SP / normal"


def test_survival_of_a_line_in_doubt_is_refused(owner: Account, line: Line) -> None:
    other = LineFactory.create(code="SQ", trait=line.trait, locus__species=line.trait.species)
    OpenPair.objects.create(one=line, other=other)
    with pytest.raises(Refused) as caught:
        keep_survival(survival=Survival(locus=line.locus, one=line, survival=TENTH), by=owner)
    assert str(caught.value) == (
        "Reed SP and Reed SQ are an open pair. Decide it before you record survival."
    )


def test_neighbours_are_linked_and_changed(owner: Account) -> None:
    left, right = loci(SpeciesFactory.create(), "reed", "sedge")
    link(left, right, owner)
    interval = Interval.objects.get()
    interval.male = Fraction(1, 5)
    entry = keep_interval(interval=interval, by=owner)
    assert Interval.objects.get().male == Fraction(1, 5)
    assert entry.what == "Changed how far reed and sedge are apart"


def test_a_locus_has_one_neighbour_on_a_side_and_a_row_two_ends(owner: Account) -> None:
    a, b, c = loci(SpeciesFactory.create(), "a", "b", "c")
    link(a, b, owner)
    with pytest.raises(Refused) as caught:
        link(a, c, owner)
    assert str(caught.value) == "a has this neighbour already: a – b. Change that link instead."
    link(b, c, owner)
    with pytest.raises(Refused) as caught:
        link(c, a, owner)
    assert str(caught.value) == (
        "These loci are in one row already: a chromosome has two ends. Take a link away first."
    )


def test_a_link_that_was_taken_away_can_be_made_again(owner: Account) -> None:
    a, b, c = loci(SpeciesFactory.create(), "a", "b", "c")
    link(a, b, owner)
    withdraw(record=Interval.objects.get(), by=owner, reason="a slip")
    link(a, c, owner, female="1/4")
    interval = Interval.objects.live().get()
    assert (interval.right, interval.female) == (c, Fraction(1, 4))


def test_loci_of_sex_chromosomes_are_not_linked(owner: Account) -> None:
    a, b = loci(SpeciesFactory.create(), "a", "b")
    b.chromosome = "one"
    keep_locus(locus=b, by=owner)
    with pytest.raises(ValidationError) as caught:
        link(a, b, owner)
    assert caught.value.messages == [
        "Only loci on ordinary chromosomes can be linked here. Choose two of these."
    ]


def test_a_linked_locus_stays_on_its_chromosome(owner: Account) -> None:
    a, b = loci(SpeciesFactory.create(), "a", "b")
    link(a, b, owner)
    a.chromosome = "one"
    with pytest.raises(Refused) as caught:
        keep_locus(locus=a, by=owner)
    assert str(caught.value) == "a is linked (a – b). Take that link away first."


def test_a_locus_in_doubt_stays_on_its_chromosome(owner: Account, line: Line) -> None:
    other = LineFactory.create(code="SQ", trait=line.trait, locus__species=line.trait.species)
    OpenPair.objects.create(one=line, other=other)
    line.locus.chromosome = "one"
    with pytest.raises(Refused) as caught:
        keep_locus(locus=line.locus, by=owner)
    assert str(caught.value) == (
        "Reed SP and Reed SQ are an open pair. Decide it before you put it on a sex chromosome."
    )
