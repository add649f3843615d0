"""Where lines sit: one gene, two genes, nobody sure; and every step back."""

from fractions import Fraction

import pytest
from django.core.exceptions import ValidationError

from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused
from keeper.domain.register.placing import (
    Place,
    add_line,
    change_line,
    decide_pair,
    place_line,
    weigh_pair,
)
from keeper.models import (
    Account,
    Condition,
    Interval,
    Line,
    Locus,
    OpenPair,
    Showing,
    Statement,
    Survival,
)
from tests.factories import AnimalFactory, LineFactory, LocusFactory

HALF = Fraction(1, 2)


@pytest.fixture
def har() -> Line:
    return LineFactory.create(code="HAR", name="Harvesk", trait__name="Saltgrass")


def beside(line: Line, code: str, *, same: bool = False) -> Line:
    """Return another line of the same trait."""
    if same:
        return LineFactory.create(code=code, trait=line.trait, locus=line.locus)
    return LineFactory.create(code=code, trait=line.trait, locus__species=line.trait.species)


def in_doubt(owner: Account, one: Line, code: str, prior: Fraction = HALF) -> OpenPair:
    line = Line(trait=one.trait, code=code, name=code.title())
    add_line(line=line, place=Place(open_with={one: prior}), by=owner)
    pair: OpenPair = OpenPair.objects.live().get(other=line)
    return pair


def test_a_compatible_line_shares_the_locus(owner: Account, har: Line) -> None:
    line = Line(trait=har.trait, code="PEL", name="Pelnaw")
    entry = add_line(line=line, place=Place(locus=har.locus), by=owner)
    assert Line.objects.get(code="PEL").locus == har.locus
    assert (entry.what, entry.subject_id) == ("Added the line Saltgrass PEL", line.pk)


def test_an_incompatible_line_gets_a_locus_of_its_own(owner: Account, har: Line) -> None:
    add_line(line=Line(trait=har.trait, code="DUN", name="Dunsk"), place=Place(), by=owner)
    assert Line.objects.get(code="DUN").locus.name == "Saltgrass DUN"
    assert OpenPair.objects.count() == 0


def test_the_name_of_an_own_locus_gives_way_to_one_in_use(owner: Account, har: Line) -> None:
    LocusFactory.create(species=har.trait.species, name="saltgrass dun")
    add_line(line=Line(trait=har.trait, code="DUN", name="Dunsk"), place=Place(), by=owner)
    assert Line.objects.get(code="DUN").locus.name == "Saltgrass DUN (2)"


def test_a_line_in_doubt_gets_a_pair_with_its_prior(owner: Account, har: Line) -> None:
    pair = in_doubt(owner, har, "QUE", Fraction(3, 10))
    assert (pair.one, pair.prior, pair.other.locus == har.locus) == (har, Fraction(3, 10), False)


def test_deciding_for_one_gene_moves_the_line_and_undo_opens_it_again(
    owner: Account, har: Line
) -> None:
    pair = in_doubt(owner, har, "QUE")
    own = pair.other.locus
    entry = decide_pair(pair=pair, one_gene=True, by=owner, reason="three visuals")
    moved = Line.objects.get(code="QUE")
    assert moved.locus == har.locus
    assert OpenPair.objects.live().count() == 0
    assert Locus.objects.get(pk=own.pk).is_withdrawn
    assert entry.what == "Decided: Saltgrass HAR and Saltgrass QUE are one gene"
    undo(entry=entry, by=owner)
    assert Line.objects.get(code="QUE").locus == own
    assert not Locus.objects.get(pk=own.pk).is_withdrawn
    assert OpenPair.objects.live().get() == pair


def test_deciding_for_two_genes_only_closes_the_pair(owner: Account, har: Line) -> None:
    pair = in_doubt(owner, har, "QUE")
    decide_pair(pair=pair, one_gene=False, by=owner)
    assert OpenPair.objects.live().count() == 0
    assert Line.objects.get(code="QUE").locus != har.locus


def test_a_decision_is_opened_again_with_a_new_locus_and_pair(owner: Account, har: Line) -> None:
    pel = beside(har, "PEL", same=True)
    entry = place_line(line=pel, place=Place(open_with={har: HALF}), by=owner, reason="a doubt")
    pair = OpenPair.objects.live().get()
    assert (pair.one, pair.other, pel.locus == har.locus) == (har, pel, False)
    undo(entry=entry, by=owner)
    assert Line.objects.get(code="PEL").locus == har.locus
    assert OpenPair.objects.live().count() == 0


def test_two_genes_are_opened_where_they_sit(owner: Account, har: Line) -> None:
    dun = beside(har, "DUN")
    before = dun.locus
    place_line(line=dun, place=Place(open_with={har: HALF}), by=owner)
    assert (dun.locus, OpenPair.objects.live().count()) == (before, 1)


def test_pairs_left_out_are_decided_and_others_weighed_anew(owner: Account, har: Line) -> None:
    dun = beside(har, "DUN")
    line = Line(trait=har.trait, code="QUE", name="Quern")
    add_line(line=line, place=Place(open_with={har: HALF, dun: HALF}), by=owner)
    place_line(line=line, place=Place(open_with={har: Fraction(1, 5)}), by=owner)
    assert [(one.one, one.prior) for one in OpenPair.objects.live()] == [(har, Fraction(1, 5))]


def test_one_gene_is_refused_while_a_third_line_is_in_doubt(owner: Account, har: Line) -> None:
    dun = beside(har, "DUN")
    line = Line(trait=har.trait, code="QUE", name="Quern")
    add_line(line=line, place=Place(open_with={har: HALF, dun: HALF}), by=owner)
    pair = OpenPair.objects.get(one=har)
    with pytest.raises(Refused) as caught:
        decide_pair(pair=pair, one_gene=True, by=owner)
    assert str(caught.value) == (
        "Saltgrass DUN and Saltgrass QUE are an open pair. Decide that first; until then give "
        "this one a high chance instead of certainty."
    )
    assert OpenPair.objects.live().count() == 2


def test_a_line_cannot_join_a_locus_in_doubt(owner: Account, har: Line) -> None:
    in_doubt(owner, har, "QUE")
    with pytest.raises(Refused):
        add_line(
            line=Line(trait=har.trait, code="PEL", name="Pelnaw"),
            place=Place(locus=har.locus),
            by=owner,
        )
    assert not Line.objects.filter(code="PEL").exists()


def test_a_code_of_the_trait_is_taken_once(owner: Account, har: Line) -> None:
    with pytest.raises(ValidationError) as caught:
        add_line(line=Line(trait=har.trait, code="HAR", name="Harrow"), place=Place(), by=owner)
    assert caught.value.message_dict == {
        "code": ["Saltgrass has a line HAR already. Choose another code."]
    }
    dun = beside(har, "DUN")
    dun.code = "HAR"
    with pytest.raises(ValidationError) as caught:
        change_line(line=dun, by=owner)
    assert caught.value.message_dict == {
        "code": ["Saltgrass has a line HAR already. Choose another code."]
    }


def test_alleles_of_one_locus_are_not_commoner_than_all_copies(owner: Account, har: Line) -> None:
    pel = beside(har, "PEL", same=True)
    for line, share in ((har, "3/4"), (pel, "1/4")):
        line.background = share
        change_line(line=line, by=owner)
    pel.background = "1/3"
    with pytest.raises(ValidationError) as caught:
        change_line(line=pel, by=owner)
    assert caught.value.message_dict == {
        "background": [f"With the other lines at {har.locus} that is more than 100 %. Lower it."]
    }


def test_a_line_that_bears_on_survival_stays(owner: Account, har: Line) -> None:
    pel = beside(har, "PEL", same=True)
    Survival.objects.create(locus=pel.locus, one=pel, other=pel, survival="0")
    with pytest.raises(Refused) as caught:
        place_line(line=pel, place=Place(), by=owner)
    assert str(caught.value) == (
        f"Survival is recorded for Saltgrass PEL at {har.locus}. Withdraw that first."
    )


def test_a_line_that_a_combination_takes_for_one_gene_stays(owner: Account, har: Line) -> None:
    pel = beside(har, "PEL", same=True)
    condition = Condition.objects.create(
        showing=Showing.objects.create(trait=har.trait), dose="every"
    )
    condition.lines.set([har, pel])
    with pytest.raises(Refused) as caught:
        place_line(line=pel, place=Place(), by=owner)
    assert str(caught.value) == (
        "A combination of Saltgrass takes Saltgrass PEL for one gene. Change it first."
    )


def test_a_linked_line_is_not_left_open(owner: Account, har: Line) -> None:
    dun = beside(har, "DUN")
    other = LocusFactory.create(species=har.trait.species, name="reed")
    Interval.objects.create(left=har.locus, right=other, female="1/2", male="1/2")
    with pytest.raises(Refused) as caught:
        place_line(line=dun, place=Place(open_with={har: HALF}), by=owner)
    assert str(caught.value) == (
        f"Saltgrass HAR is linked ({har.locus} – reed); decide such a pair."
    )
    with pytest.raises(Refused) as caught:
        place_line(line=har, place=Place(locus=dun.locus), by=owner)
    assert (
        str(caught.value)
        == f"{har.locus} is linked ({har.locus} – reed). Take that link away first."
    )


def test_a_sex_linked_pair_is_not_left_open(owner: Account, har: Line) -> None:
    with pytest.raises(ValidationError) as caught:
        add_line(
            line=Line(trait=har.trait, code="DUN", name="Dunsk"),
            place=Place(chromosome="one", open_with={har: HALF}),
            by=owner,
        )
    assert caught.value.messages == ["Saltgrass DUN is on a sex chromosome; decide such a pair."]


def test_an_own_locus_changes_its_chromosome_with_the_line(owner: Account, har: Line) -> None:
    place = Place(chromosome="both", recombination=Fraction(1, 50))
    place_line(line=har, place=place, by=owner)
    locus = Locus.objects.get()
    assert (locus.chromosome, locus.recombination) == ("both", Fraction(1, 50))


def test_what_a_decision_moves_is_told_in_its_entry(owner: Account, har: Line) -> None:
    """Two visuals of lines that are two genes give normal young; of one gene, visuals."""
    dun = beside(har, "DUN")
    dam = AnimalFactory.create(species=har.trait.species, sex="female")
    sire = AnimalFactory.create(species=har.trait.species, sex="male")
    for animal, line in ((dam, har), (sire, dun)):
        Statement.objects.create(animal=animal, trait=har.trait, line=line, claim="double")
    young = AnimalFactory.create(species=har.trait.species, dam=dam, sire=sire)
    entry = place_line(line=dun, place=Place(locus=har.locus), by=owner)
    change = entry.changes.get(animal=young, line=None)
    assert (change.two, change.none) == (1, 0)
    entry = place_line(line=dun, place=Place(), by=owner)
    change = entry.changes.get(animal=young, line=None)
    assert (change.two, change.two_before, change.none) == (0, 1, 0)


def test_a_pair_is_weighed_anew(owner: Account, har: Line) -> None:
    pair = in_doubt(owner, har, "QUE")
    pair.prior = Fraction(9, 10)
    entry = weigh_pair(pair=pair, by=owner)
    assert OpenPair.objects.get().prior == Fraction(9, 10)
    assert entry.what == "Weighed anew whether Saltgrass HAR and Saltgrass QUE are one gene"
