"""Genes on the sex chromosomes: where they sit and what the young get, counted by hand."""

from fractions import Fraction

import pytest
from django.test import Client

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.inference import Seat, Share, Unanswerable
from keeper.pages.animals.sexlinked import young_words
from tests.factories import LineFactory, LocusFactory
from tests.keeper.books import Book
from tests.keeper.collection.rows import dispute
from tests.keeper.counting import queries_of

pytestmark = pytest.mark.django_db


def sexed(
    owner: m.Account, chromosome: str, shown: str, crossover: str = "0", system: str = "XY"
) -> Book:
    """A book whose one line sits on the sex chromosomes."""
    book = Book(owner, sex_determination=system)
    book.trait.shown = shown
    book.trait.save()
    book.line.locus = LocusFactory.create(
        species=book.species, chromosome=chromosome, recombination=Fraction(crossover)
    )
    book.line.save()
    return book


def seat(animal: m.Animal) -> Seat:
    (found,) = inference.sex_linked(animal).seats
    return found


def words_of(client: Client, animal: m.Animal) -> str:
    """The part of the page, its spaces made one."""
    page = client.get(f"/animals/{animal.pk}/").content.decode()
    return " ".join(page.partition("On its sex chromosomes")[2].partition("</section>")[0].split())


def test_son_of_a_carrier_has_it_on_his_x(owner: m.Account, owner_client: Client) -> None:
    # A gamete with the X keeps its allele with chance 1 - r, one with the Y gets it with r.
    # "About one in a hundred" passed on the other chromosome: common practice, no source.
    book = sexed(owner, "both", "single", "1/100")
    clutch = book.clutch("C1", book.founder("F1", "female", "carries"), book.founder("M1", "male"))
    son = book.young("K1", clutch, seen=True, sex="male")
    found = seat(son)
    assert (found.first, found.second, found.two, found.none) == (1, 0, 0, 0)
    assert (found.daughters.carry, found.sons.carry) == pytest.approx((0.99, 0.01))
    assert (found.daughters.show, found.sons.show) == pytest.approx((0.99, 0.01))
    words = words_of(owner_client, son)
    assert "On his X, for certain." in words
    assert "Nearly all his daughters get it (99 %), and of his sons about 1 in 100." in words
    assert "Whoever gets it shows it." in words
    assert "changes over to the other chromosome in 1 % of what he passes on" in words


def test_what_hatched_tells_on_which_chromosome_it_is(owner: m.Account) -> None:
    # A founder's two arrangements are equally likely; four daughters with it have chance
    # (1 - r)^4 if it is on his X and r^4 if on his Y.
    book = sexed(owner, "both", "single", "1/10")
    sire = book.founder("M1", "male", "carries")
    assert (seat(sire).first, seat(sire).second) == (0.5, 0.5)
    assert (seat(sire).sons.carry, seat(sire).daughters.carry) == (0.5, 0.5)
    clutch = book.clutch("C1", book.founder("F1", "female"), sire)
    for number in range(4):
        book.young(f"K{number}", clutch, seen=True, sex="female")
    x, y = 0.9**4, 0.1**4
    found = seat(sire)
    assert (found.first, found.second) == pytest.approx((x / (x + y), y / (x + y)))
    assert found.daughters.carry == pytest.approx((0.9 * x + 0.1 * y) / (x + y))
    assert found.sons.carry == pytest.approx((0.1 * x + 0.9 * y) / (x + y))


def test_daughters_of_a_carrier_show_nothing_of_an_x_recessive(
    owner: m.Account, owner_client: Client
) -> None:
    book = sexed(owner, "one", "recessive")
    dam = book.founder("F1", "female", "carries")
    found = seat(dam)
    assert (found.heterogametic, found.first, found.two) == (False, 1, 0)
    assert (found.sons, found.daughters) == (Share(0.5, 0.5), Share(0.5, 0))
    words = words_of(owner_client, dam)
    assert "On one X, for certain." in words
    assert "Half of her young get it, sons and daughters alike." in words
    assert "Sons that get it show it; daughters carry it unseen." in words
    son = book.young("K1", book.clutch("C1", dam, book.founder("M1", "male")), True, "male")
    found = seat(son)
    assert (found.first, found.sons, found.daughters) == (1, Share(0, 0), Share(1, 0))
    words = words_of(owner_client, son)
    assert "On his X, where alone it can sit, for certain." in words
    assert "All his daughters get it, and of his sons none." in words


def test_possible_carrier_shares_its_doubt(owner: m.Account) -> None:
    book = sexed(owner, "one", "recessive")
    found = seat(book.founder("F1", "female", "possible", "1/2"))
    assert (found.first, found.none) == (0.5, 0.5)
    assert (found.sons.carry, found.daughters.carry) == (0.25, 0.25)


def test_in_zw_the_female_has_it_on_one_of_two(owner: m.Account, owner_client: Client) -> None:
    # Her only Z goes to her sons, her W to her daughters.
    book = sexed(owner, "both", "dominant", "1/50", "ZW")
    clutch = book.clutch("C1", book.founder("F1", "female"), book.founder("M1", "male", "carries"))
    daughter = book.young("K1", clutch, seen=True, sex="female")
    found = seat(daughter)
    assert (found.heterogametic, found.first, found.second) == (True, 1, 0)
    assert (found.sons.carry, found.daughters.carry) == pytest.approx((0.98, 0.02))
    words = words_of(owner_client, daughter)
    assert "On her Z, for certain." in words
    assert "Nearly all her sons get it (98 %), and of her daughters about 1 in 50." in words


def test_sons_that_die_of_it_do_not_count(owner: m.Account) -> None:
    # Half of a carrier's sons have it and none of these hatches; of her daughters half have it.
    book = sexed(owner, "one", "recessive")
    with writing(by=owner, what="Lethal") as entry:
        entry.keep(m.Survival(locus=book.line.locus, one=book.line, other=book.line, survival="0"))
    found = seat(book.founder("F1", "female", "carries"))
    assert (found.sons.carry, found.daughters.carry) == (0, 0.5)


def test_weak_penetrance_shows_in_fewer(owner: m.Account, owner_client: Client) -> None:
    book = sexed(owner, "one", "dominant")
    book.trait.penetrance = Fraction(1, 2)
    book.trait.save()
    sire = book.founder("M1", "male", "carries")
    assert (seat(sire).daughters, seat(sire).sons) == (Share(1, 0.5), Share(0, 0))
    assert "It shows in 0 % of the sons and 50 % of the daughters." in words_of(owner_client, sire)


def test_without_a_sex_it_says_what_is_missing(owner: m.Account, owner_client: Client) -> None:
    book = sexed(owner, "both", "single", "1/50")
    one = book.founder("A1", "unknown", "carries")
    assert "Its sex is not known yet. On which chromosome Saltgrass HAR sits" in words_of(
        owner_client, one
    )
    with pytest.raises(Unanswerable, match="The sex of A1 is not known"):
        inference.sex_linked(one)


def test_disputed_seat_is_not_said(owner: m.Account, owner_client: Client) -> None:
    sire = sexed(owner, "one", "dominant").founder("M1", "male", "carries")
    m.Standing.objects.update(dispute=dispute(sire))
    words = words_of(owner_client, sire)
    assert "Disputed: where it sits is not said until that is settled." in words
    assert "for certain" not in words


def test_page_without_such_genes_says_nothing(owner: m.Account, owner_client: Client) -> None:
    book = Book(owner)
    assert words_of(owner_client, book.founder("M1", "male", "carries")) == ""


def test_page_asks_as_often_with_three_genes_as_with_one(
    owner: m.Account, owner_client: Client
) -> None:
    book = sexed(owner, "both", "single", "1/50")
    sire = book.founder("M1", "male", "carries")
    once = queries_of(lambda: owner_client.get(f"/animals/{sire.pk}/"))
    for code in ("PEL", "DUN"):
        line = LineFactory.create(trait__species=book.species, locus=book.line.locus, code=code)
        line.trait.shown = "single"
        line.trait.save()
        if code == "PEL":
            with writing(by=owner, what="Said") as entry:
                book.say(entry, sire, "carries", None, line)
    assert len(inference.sex_linked(sire).seats) == 2
    assert queries_of(lambda: owner_client.get(f"/animals/{sire.pk}/")) == once


@pytest.mark.parametrize(
    ("sons", "daughters", "words"),
    [
        (1, 0, "all his sons get it, and of his daughters none"),
        (0.5, 0.25, "half of his sons get it, and of his daughters 25 %"),
        (0, 0, "none of his young gets it, sons and daughters alike"),
        (0.3, 0.5, "half of his daughters get it, and of his sons 30 %"),
        (0.05, 0.05, "about 1 in 20 of his young gets it, sons and daughters alike"),
    ],
)
def test_shares_in_words(sons: float, daughters: float, words: str) -> None:
    assert young_words(Share(sons, None), Share(daughters, None), "his") == words
