"""Every kind of inheritance reaches the standings; and they never differ from a recompute."""

import pytest
from django.core.exceptions import ValidationError

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.saying.figures import percent
from tests.factories import LineFactory, LocusFactory, TraitFactory
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def carries(animal: m.Animal, line: m.Line) -> float:
    one = m.Standing.objects.filter(animal=animal, line=line).first()
    return 0.0 if one is None else 1 - one.none


def test_two_possible_sires_share_what_the_young_show(book: Book) -> None:
    # One visual among the young of a visual dam: the sire that is certainly normal is out, so
    # the other is the sire and carries. Prior 1/2 each; the possible het is then proven by logic.
    dam = book.founder("F1", "female", "visual")
    maybe, normal = book.founder("M1", "male", "possible", "1/2"), book.founder("M2", "male")
    book.clutch("C1", dam, maybe, normal, normal=3, visual=1)
    assert carries(maybe, book.line) == 1
    assert book.said(normal) == ("absent", "0 %")
    assert inference.differences() == []


def test_two_possible_sires_of_normal_young(book: Book) -> None:
    # Odds of carrying fall from 1 by (1/2 + 1/2 · (1/2)³) per hypothesis of sire: 9/16 to 1.
    dam = book.founder("F1", "female", "visual")
    maybe, normal = book.founder("M1", "male", "possible", "1/2"), book.founder("M2", "male")
    book.clutch("C1", dam, maybe, normal, normal=3)
    assert carries(maybe, book.line) == pytest.approx((9 / 16) / (9 / 16 + 1))


def test_sons_of_a_sex_linked_visual(book: Book) -> None:
    # XY, X only: a visual dam gives all her sons the gene, and shows in them; daughters carry.
    locus = LocusFactory.create(species=book.species, chromosome="one")
    gale = LineFactory.create(
        trait__species=book.species, trait__name="Gale", locus=locus, code="DUN"
    )
    dam = book.founder("F1", "female", "visual", line=gale)
    clutch = book.clutch("C1", dam, book.founder("M1", "male"))
    son, daughter = (
        book.young("K1", clutch, seen=None, sex="male"),
        book.young("K2", clutch, seen=None, sex="female"),
    )
    assert (carries(son, gale), carries(daughter, gale)) == (1, 1)
    given = inference.pairing(dam, book.founder("M2", "male"))
    assert [(look.traits, look.chance) for look in given.looks] == [
        ((), 0.5),
        ((gale.trait_id,), 0.5),
    ]


def test_open_pair_is_learnt_from_a_cross_of_two_visuals(book: Book) -> None:
    # Two visuals of two lines give only normal young: they are two genes. Common knowledge of
    # complementation tests; odds (1 − prior) / prior · 1 / 0.
    other = LineFactory.create(trait=book.trait, code="PEL")
    with writing(by=book.by, what="Left open") as entry:
        entry.keep(m.OpenPair(one=book.line, other=other, prior="1/2"))
    dam = book.founder("F1", "female", "visual")
    sire = book.founder("M1", "male", "visual", line=other)
    given = inference.pairing(dam, sire)
    assert {look.traits: look.chance for look in given.looks} == {
        (): 0.5,
        (book.trait.pk,): 0.5,
    }
    assert given.looks[0].at_least_one[8] == pytest.approx(0.5)
    (mix,) = given.mixing
    assert (mix.open, mix.chance) == (True, 1.0)
    clutch = book.clutch("C1", dam, sire, normal=2)
    one = book.young("K1", clutch)
    whole = m.Standing.objects.get(animal=one, trait=book.trait, line=None)
    assert (whole.two, whole.one, whole.none) == (0, 1, 0)
    assert inference.differences() == []


def test_masked_look_is_no_evidence_against_a_gene(book: Book) -> None:
    mask = TraitFactory.create(species=book.species, name="Whiteout", shown="dominant")
    LineFactory.create(trait=mask, code="ORR")
    mask.hides.add(book.trait)
    dam = book.founder("F1", "female", "carries")
    sire = book.founder("M1", "male", "carries")
    clutch = book.clutch("C1", dam, sire)
    one = book.young("K1", clutch, seen=None)
    with writing(by=book.by, what="Looked") as entry:
        book.look(entry, one, seen=False)
    assert carries(one, book.line) == pytest.approx(2 / 3)
    assert inference.differences() == []


def test_double_form_seen_on_a_founder_of_whom_nothing_is_said(book: Book) -> None:
    quill = TraitFactory.create(species=book.species, name="Quill", shown="single")
    line = LineFactory.create(trait=quill, code="QU")
    double = TraitFactory.create(species=book.species, name="Quillwhite", shown="every", base=quill)
    one = book.founder("F1", "female")
    with writing(by=book.by, what="Looked") as entry:
        entry.keep(m.Observation(animal=one, trait=double, seen="yes", on="2026-05-01", by=book.by))
    standing = m.Standing.objects.get(animal=one, line=line)
    assert (standing.two, standing.word) == (1, "visual")


def test_lethal_double_is_lost_from_the_clutch(book: Book) -> None:
    # Two single copies of a lethal: of the living 2/3 show it, a quarter of the eggs is lost.
    spur = TraitFactory.create(species=book.species, name="Spur", shown="dominant")
    line = LineFactory.create(trait=spur, code="SP")
    with writing(by=book.by, what="Lethal") as entry:
        entry.keep(m.Survival(locus=line.locus, one=line, other=line, survival="0"))
    dam = book.founder("F1", "female", "carries", line=line)
    given = inference.pairing(dam, book.founder("M1", "male", "carries", line=line))
    assert given.lost == pytest.approx(0.25)
    assert {look.traits: round(look.chance, 12) for look in given.looks} == {
        (spur.pk,): round(2 / 3, 12),
        (): round(1 / 3, 12),
    }


def test_pair_of_possible_hets_averages_over_the_parents(book: Book) -> None:
    # PRODUCT.md, honesty rule 6: two 66 % hets, from 8 eggs 40 %, not 61 %.
    dam = book.founder("F1", "female", "possible", "2/3")
    given = inference.pairing(dam, book.founder("M1", "male", "possible", "2/3"))
    visual = given.looks[1]
    assert visual.chance == pytest.approx(1 / 9)
    assert visual.at_least_one[8] == pytest.approx(4 / 9 * (1 - 0.75**8))
    assert given.kinship == 0


def test_goal_of_two_recessives_needs_47_hatchlings(book: Book) -> None:
    # PRODUCT.md: 1 in 16 from 16 eggs is 64 %; 95 % takes 47.
    other = LineFactory.create(trait__species=book.species, trait__name="Marrow", code="MA")
    project = m.Project.objects.create(species=book.species, name="Double")
    for trait in (book.trait, other.trait):
        m.GoalPart.objects.create(project=project, trait=trait)
    pair = []
    for code, sex in (("F1", "female"), ("M1", "male")):
        one = book.founder(code, sex, "carries")
        with writing(by=book.by, what="Said") as entry:
            book.say(entry, one, "carries", None, other)
        pair.append(one)
    plain = book.founder("F2", "female", "possible", "1/2")
    found = inference.pair_goal(project, *pair)
    assert found.each == pytest.approx(1 / 16)
    assert found.at_least_one[16] == pytest.approx(1 - (15 / 16) ** 16)
    assert found.for_95 == 47
    assert inference.goal_chances(project, [pair[0], plain]) == {pair[0].pk: 1.0, plain.pk: 0.0}


def test_grounds_weigh_each_record_and_show_the_working(book: Book) -> None:
    dam = book.founder("F1", "female", "carries")
    clutch = book.clutch("C1", dam, book.founder("M1", "male", "carries"))
    one = book.young("K1", clutch)
    found = inference.grounds(one, book.trait)
    assert {type(each.record).__name__ for each in found.grounds} >= {"Clutch", "Observation"}
    assert all(each.now == pytest.approx(2 / 3) for each in found.grounds)
    assert "2/3" in found.working[-1].plain
    seen = next(g for g in found.grounds if isinstance(g.record, m.Observation))
    assert seen.without == pytest.approx(3 / 4)


def test_case_file_of_a_family_names_the_keepers_own_codes(book: Book) -> None:
    clutch = book.clutch(
        "C1", book.founder("F1", "female", "carries"), book.founder("M1", "male"), normal=2
    )
    case = inference.case_file(book.young("K1", clutch))
    assert sorted(one["id"] for one in case["animals"]) == ["F1", "K1", "M1"]
    assert case["traits"][0]["id"] == "Saltgrass"


def test_kinship_of_sibs_and_of_strangers(book: Book) -> None:
    # Full sibs of unrelated founders: 1/4. Wright 1922.
    dam, sire = book.founder("F1", "female"), book.founder("M1", "male")
    clutch = book.clutch("C1", dam, sire)
    one, other = (book.young(code, clutch, seen=None) for code in ("K1", "K2"))
    assert inference.kinships([(one, other), (dam, sire), (dam, one)]) == [0.25, 0.0, 0.25]


def test_nobody_becomes_an_ancestor_of_its_own(book: Book) -> None:
    clutch = book.clutch("C1", book.founder("F1", "female"), book.founder("M1", "male"))
    young = book.young("K1", clutch, seen=None, sex="female")
    clutch.dam = young
    with (
        pytest.raises(ValidationError, match="K1 descends from this clutch"),
        writing(by=book.by, what="Another dam") as entry,
    ):
        entry.keep(clutch)
    second = book.clutch("C2", young, book.founder("M2", "male"))
    grandson = book.young("K2", second, seen=None, sex="male")
    with (
        pytest.raises(ValidationError, match="K2 descends from this clutch"),
        writing(by=book.by, what="Another sire") as entry,
    ):
        entry.keep(m.CandidateSire(clutch=m.Clutch.objects.get(code="C1"), sire=grandson))
    mother = m.Animal.objects.get(code="F1")
    mother.clutch = second
    with (
        pytest.raises(ValidationError, match="F1 would be an ancestor of its own"),
        writing(by=book.by, what="Another clutch") as entry,
    ):
        entry.keep(mother)


def test_candidate_sires_are_weighed_by_what_hatched(book: Book) -> None:
    # Visual dam; a certain carrier would give a normal young half the time, a normal male always:
    # after three normal young 1/8 to 1.
    dam = book.founder("F1", "female", "visual")
    het, normal = book.founder("M1", "male", "carries"), book.founder("M2", "male")
    clutch = book.clutch("C1", dam, het, normal, normal=3)
    assert inference.sire_chances(clutch) == {
        het.pk: pytest.approx(1 / 9),
        normal.pk: pytest.approx(8 / 9),
    }
    assert inference.sire_chances(book.clutch("C2", dam, normal, normal=3)) == {}


def test_loss_counts_what_sibs_are_together(book: Book) -> None:
    # Sibs of a possible carrier at 1/2: both carry with 1/2 · 1/4, not with 1/4 · 1/4; a quarter
    # of such a pair's eggs dies.
    spur = TraitFactory.create(species=book.species, name="Spur", shown="dominant", penetrance="0")
    line = LineFactory.create(trait=spur, code="SP")
    with writing(by=book.by, what="Lethal") as entry:
        entry.keep(m.Survival(locus=line.locus, one=line, other=line, survival="0"))
    dam = book.founder("F1", "female", "possible", "1/2", line)
    clutch = book.clutch("C1", dam, book.founder("M1", "male"))
    sibs = [book.young(f"K{sex[0]}", clutch, seen=None, sex=sex) for sex in ("female", "male")]
    assert inference.pairing(*sibs).lost == pytest.approx(1 / 8 * 1 / 4)


def test_no_number_of_hatchlings_makes_a_chance_certain(book: Book) -> None:
    # 1 − (3/4)ⁿ is 1 in floating point from n = 128 on; honesty rule 1 says 100 % to certainty.
    dam, sire = book.founder("F1", "female", "carries"), book.founder("M1", "male", "carries")
    given = inference.pairing(dam, sire, eggs=(1000,))
    assert {percent(look.at_least_one[1000]) for look in given.looks} == {"99 %"}
    sure = inference.pairing(book.founder("F2", "female", "visual"), book.founder("M2", "male"))
    assert percent(sure.looks[0].at_least_one[1]) == "100 %"


def test_look_of_incomplete_penetrance_is_seen_on_so_many(book: Book) -> None:
    with writing(by=book.by, what="Weak") as entry:
        book.trait.penetrance = "7/10"
        entry.keep(book.trait)
    dam, sire = book.founder("F1", "female", "double"), book.founder("M1", "male", "double")
    # Every hatchling has two copies; seven in ten show it. By the definition of penetrance.
    assert {one.traits: one.chance for one in inference.pairing(dam, sire).looks} == {
        (book.trait.pk,): pytest.approx(0.7),
        (): pytest.approx(0.3),
    }


def test_visual_young_of_two_lines_prove_neither_line(book: Book) -> None:
    other = LineFactory.create(trait=book.trait, code="PEL")
    dam = book.founder("F1", "female", "visual")
    sire = book.founder("M1", "male", "visual", line=other)
    clutch = book.clutch("C1", dam, sire, normal=3)
    both = book.young("K1", clutch, sex="female")
    mate = book.founder("M2", "male", "carries")
    book.clutch("C2", both, mate, visual=1, normal=1)
    words = {
        one.line.code if one.line else None: one.word
        for one in m.Standing.objects.filter(animal=both).select_related("line")
    }
    assert words[None] == m.Word.PROVEN
    assert words["HAR"] == words["PEL"] == m.Word.PARENTAGE


def test_stated_visual_of_a_combination_has_what_shows_it(book: Book) -> None:
    trait = TraitFactory.create(species=book.species, name="Marrowglass", shown="rules")
    line = LineFactory.create(trait=trait, code="DUN")
    with writing(by=book.by, what="Combination") as entry:
        showing = entry.keep(m.Showing(trait=trait))
        entry.keep(m.Condition(showing=showing, dose="single"), lines=[line])
    founder = book.founder("F1", "female", "visual", line=line)
    standing = m.Standing.objects.get(animal=founder, line=line)
    # Exactly one copy shows it, so two is not what its source can mean.
    assert (standing.two, standing.one, standing.none) == (0, 1, 0)


def test_customary_figure_of_a_certain_sib_stays_when_another_hatches(book: Book) -> None:
    trait = TraitFactory.create(species=book.species, name="Gale", shown="dominant")
    line = LineFactory.create(trait=trait, code="DUN")
    dam, sire = book.founder("F1", "female", "visual", line=line), book.founder("M1", "male")
    clutch = book.clutch("C1", dam, sire)
    sib = book.young("K1", clutch, seen=None)
    with writing(by=book.by, what="Looked") as entry:
        entry.keep(m.Observation(animal=sib, trait=trait, seen="yes", on="2026-06-01", by=book.by))
    book.young("K2", clutch, seen=None)
    # A visual of a normal sire has one copy for certain, whichever its dam has; so the other
    # hatchling's save sees it from the border, with a dam that is still open.
    standing = m.Standing.objects.get(animal=sib, trait=trait, line=None)
    assert (standing.one, standing.customary) == (1.0, 1.0)
    assert inference.differences() == []
