"""What part of the sons and of the daughters looks so, of genes on the sex chromosomes."""

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.clutches.hatch_plan import hatch_plan
from keeper.pages.pairing.page import pairing_page
from keeper.pages.projects.pairs import pairs
from tests.factories import LineFactory, LocusFactory, TraitFactory
from tests.keeper.books import Book
from tests.keeper.looking import observe

pytestmark = pytest.mark.django_db
DAY = date(2026, 6, 1)


def tide(book: Book, shown: str = "dominant", **locus: str) -> m.Line:
    place = LocusFactory.create(species=book.species, **locus)
    trait = TraitFactory.create(species=book.species, name="Tide", shown=shown)
    return LineFactory.create(trait=trait, locus=place, code="TI")


def son_of_a_carrier(book: Book, line: m.Line) -> m.Animal:
    """A male that has it from its sire, so on its Y for certain."""
    grandsire = book.founder("M1", "male", "carries", line=line)
    clutch = book.clutch("C1", book.founder("F1", "female"), grandsire)
    son = book.young("K1", clutch, seen=None, sex="male")
    observe(animal=son, trait=line.trait, seen="yes", on=DAY, by=book.by)
    return son


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner, sex_determination="XY")


def shares(given: inference.Pairing, trait: m.Trait) -> tuple[float | None, float | None]:
    (look,) = (one for one in given.looks if one.traits == (trait.pk,))
    return look.sons, look.daughters


def test_gene_on_the_y_goes_to_sons_but_for_crossovers(book: Book, owner_client: Client) -> None:
    line = tide(book, chromosome="both", recombination="1/50")
    son, dam = son_of_a_carrier(book, line), book.founder("F2", "female")
    given = inference.pairing(dam, son)
    assert shares(given, line.trait) == pytest.approx((0.98, 0.02))
    dam = m.Animal.objects.get(pk=dam.pk)
    row = next(one for one in pairing_page(dam, son, eggs=None).looks if one.name == "Tide")
    assert (round(row.chance, 9), row.by_sex) == (0.5, "98 % of sons, 2 % of daughters")
    address = reverse("clutches-pairing", query={"dam": dam.pk, "sire": son.pk})
    assert "98 % of sons, 2 % of daughters" in owner_client.get(address).content.decode()


def test_harm_is_told_by_sex_and_rounded_up(book: Book, owner_client: Client) -> None:
    line = tide(book, chromosome="both", recombination="1/60")
    line.trait.harm, line.trait.harm_source = "It wobbles.", "Marl Hollow notes, 2024"
    with writing(by=book.by, what="Harm") as entry:
        entry.keep(line.trait)
    son, dam = son_of_a_carrier(book, line), book.founder("F2", "female")
    address = reverse("clutches-pairing", query={"dam": dam.pk, "sire": son.pk})
    # 59/60 is 98.3 %, 1/60 is 1.7 %.
    page = owner_client.get(address).content.decode()
    assert "50 % of the hatchlings (99 % of sons, 2 % of daughters) would show Tide" in page


def test_hatch_day_and_projects_tell_sons_from_daughters(book: Book, owner_client: Client) -> None:
    line = tide(book, chromosome="both", recombination="1/50")
    son, dam = son_of_a_carrier(book, line), book.founder("F2", "female")
    clutch = book.clutch("C2", dam, son)
    assert [one.figure for one in hatch_plan(clutch).looks if one.seen] == [
        "50 %: 98 % of sons, 2 % of daughters"
    ]
    page = owner_client.get(reverse("clutches-hatch", args=[clutch.pk])).content.decode()
    assert "50 %: 98 % of sons, 2 % of daughters" in page
    project = m.Project.objects.create(species=book.species, name="Tides")
    m.GoalPart.objects.create(project=project, trait=line.trait)
    for animal in (dam, son):
        m.Member.objects.create(project=project, animal=animal, since=DAY)
    (row,) = pairs(project, everything=True).rows
    assert (row.each, row.by_sex) == ("50 %", "98 % of sons, 2 % of daughters")
    project.sex = "male"
    found = inference.pair_goal(project, dam, son)
    assert (round(found.each, 9), found.sons) == (0.49, None)


def test_gene_of_an_ordinary_chromosome_is_the_same_of_both(book: Book) -> None:
    dam = book.founder("F1", "female", "carries")
    sire = book.founder("M1", "male", "carries")
    assert all(
        (one.sons, one.daughters) == (None, None) for one in inference.pairing(dam, sire).looks
    )


def test_recessive_on_the_z_shows_on_all_daughters_of_a_visual_sire(owner: m.Account) -> None:
    book = Book(owner, sex_determination="ZW")
    line = tide(book, "recessive", chromosome="one")
    sire = book.founder("M1", "male", "visual", line=line)
    dam = book.founder("F1", "female")
    assert shares(inference.pairing(dam, sire), line.trait) == (0.0, 1.0)


def test_candidate_sires_count_by_the_sons_they_give(book: Book) -> None:
    # Sons of the first: half die that got his Y, so he gives 1 son to 2 daughters.
    line = tide(book, chromosome="both", recombination="0")
    son, other = son_of_a_carrier(book, line), book.founder("M2", "male")
    with writing(by=book.by, what="Losses") as entry:
        entry.keep(m.Survival(locus=line.locus, one=line, other=None, survival="1/2"))
    clutch = book.clutch("C2", book.founder("F2", "female"), son, other)
    given = inference.clutch_looks(clutch)
    assert given.sons == pytest.approx((1 / 3 + 1 / 2) / 2)
    assert shares(given, line.trait) == pytest.approx(((1 / 3) / (1 / 3 + 1 / 2), 0.0))


def test_autosomal_gene_beside_one_on_the_x_takes_its_share_of_each(book: Book) -> None:
    line = tide(book, "recessive", chromosome="one")
    dam = book.founder("F1", "female", "carries")
    with writing(by=book.by, what="Said") as entry:
        book.say(entry, dam, "visual", None, line)
    given = inference.pairing(dam, book.founder("M1", "male", "visual"))
    looks = {one.traits: (one.sons, one.daughters) for one in given.looks}
    saltgrass, own = book.trait.pk, line.trait_id
    assert looks[saltgrass, own] == pytest.approx((0.5, 0.0))
    assert looks[saltgrass,] == pytest.approx((0.0, 0.5))


def test_young_of_a_dam_alone_are_of_one_sex_and_nothing_is_told_apart(owner: m.Account) -> None:
    book = Book(owner, sex_determination="XY")
    line = tide(book, "recessive", chromosome="one")
    dam = book.founder("F1", "female", "carries", line=line)
    given = inference.pairing(dam, dam)
    assert given.sons == 0
    looks = {one.traits: one.chance for one in given.looks}
    assert looks == pytest.approx({(): 0.5, (line.trait_id,): 0.5})
    assert {(one.sons, one.daughters) for one in given.looks} == {(None, None)}
